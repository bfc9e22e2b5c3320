"""
What is measured on one frame, at half size first and around its sharpest places at full size.

Both looks give the same quantities, so that one rule can read either or both (`auditor.vision.kind`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.vision.edge_points import TILE_PX, EdgePoints, Grey, edge_points, halved, pooled
from auditor.vision.sharpness import EdgeSlopes, summary
from auditor.vision.spectrum import log_spectrum
from auditor.vision.straight_motion import Motion, motion_length_px, straight_motion

__all__ = ["Look", "blocks_to_look_at", "look"]

_LEVELS = 2
_BLOCK_TILES = 4
_MOST_BLOCKS = 16
_WHOLE_PX = 6_000_000


@dataclass(frozen=True)
class Look:
    """
    What one look at a frame found.

    Attributes
    ----------
    edges : tuple of EdgeSlopes
        At the scale of the pixels given, then halved.
    points : EdgePoints
        Points on edges at the finest scale.
    motion : Motion or None
        None when the picture has no detail or is too small for a spectrum.
    length_px, length_stands_out : float
        Length of straight motion along ``motion``'s direction, in full pixels, and how far it stands out; NaN without.
    scale : float
        Pixels of the full picture in one of those that were looked at. [-]
    """

    edges: tuple[EdgeSlopes, ...]
    points: EdgePoints
    motion: Motion | None
    length_px: float
    length_stands_out: float
    scale: float


def look(blocks: Sequence[Grey], scale: float = 1.0) -> Look:
    """
    Look at a picture, or at blocks of it.

    Parameters
    ----------
    blocks : sequence of array of uint8, shape (height, width)
        At one scale; sides of at least 128 px where there are several.
    scale : float
        Pixels of the full picture in one of these. [-]

    Returns
    -------
    Look

    Examples
    --------
    >>> nothing = look([np.zeros((300, 400), np.uint8)])
    >>> nothing.edges[0].judged_tiles, nothing.motion is None
    (0, True)
    """
    points = _points(blocks)
    edges, smaller = [summary(points)], list(blocks)
    for _ in range(1, _LEVELS):
        smaller = [halved(block) for block in smaller]
        edges.append(summary(_points(smaller)))
    spectrum = log_spectrum(blocks)
    if spectrum is None:
        return Look(tuple(edges), points, None, float("nan"), float("nan"), scale)
    motion = straight_motion(spectrum)
    length, stands_out = motion_length_px(spectrum, motion.direction_deg)
    return Look(tuple(edges), points, motion, length * scale, stands_out, scale)


def _points(blocks: Sequence[Grey]) -> EdgePoints:
    return pooled([edge_points(block) for block in blocks]) if len(blocks) > 1 else edge_points(blocks[0])


def blocks_to_look_at(full: NDArray[np.uint8], first: Look) -> list[NDArray[np.uint8]]:
    """
    Choose the parts of the full picture that a second look is worth: those with the most and the crispest edges.

    Parameters
    ----------
    full : array of uint8, shape (height, width)
    first : Look
        At half size.

    Returns
    -------
    list of array
        The whole picture when it is small; else blocks of 512 px.

    Examples
    --------
    >>> small = np.zeros((600, 800), np.uint8)
    >>> len(blocks_to_look_at(small, look([small[::2, ::2]], 2.0)))
    1
    """
    if full.size <= _WHOLE_PX:
        return [full]
    tiles = first.edges[0].tiles
    side = _BLOCK_TILES * TILE_PX * 2
    rows, columns = full.shape[0] // side, full.shape[1] // side
    crisp = np.nan_to_num(tiles[: rows * _BLOCK_TILES, : columns * _BLOCK_TILES])
    worth = (crisp.reshape(rows, _BLOCK_TILES, columns, _BLOCK_TILES) ** 2).sum(axis=(1, 3))
    best = np.argsort(-worth.ravel(), kind="stable")[:_MOST_BLOCKS]
    corners = [(int(one) // columns * side, int(one) % columns * side) for one in sorted(best)]
    return [np.ascontiguousarray(full[top : top + side, left : left + side]) for top, left in corners]
