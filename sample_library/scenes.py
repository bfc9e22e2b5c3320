"""The scenes by name, each painted once and then photographed with different lenses."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PIL import Image

from sample_library import brushes, land, near, people, waterfront
from sample_library.brushes import Sheet

__all__ = ["PAINTERS", "paint"]

PAINTERS: dict[str, Callable[[Sheet], None]] = {
    "boats": waterfront.boats,
    "ferry": waterfront.ferry,
    "hills": land.hills,
    "lanterns": waterfront.lanterns,
    "market": near.market,
    "portrait": people.portrait,
    "quay": waterfront.quay,
    "rope": near.rope,
    "street": land.street,
    "thistle": near.thistle,
    "tower": land.tower,
}


def paint(painter: str, light: str, size: tuple[int, int], rng: np.random.Generator) -> Image.Image:
    """
    Return a scene in RGB.

    Examples
    --------
    >>> paint("rope", "day", (64, 48), np.random.default_rng(1)).size
    (64, 48)
    """
    sheet = brushes.new_sheet(size, light, rng)
    PAINTERS[painter](sheet)
    return brushes.develop(sheet)
