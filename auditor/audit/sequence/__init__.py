"""The sequence model: which pairing made each frame, and how its setting came about."""
