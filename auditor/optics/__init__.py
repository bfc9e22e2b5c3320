"""Numbers in, numbers out: geometry, depth of field, diffraction, exposure, mounts."""
