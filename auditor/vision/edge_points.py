"""Points on the edges of a picture: where they are, which way each runs, how steep it is against the grey around it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from auditor.vision.noise import BLOCK_PX, blocks_of, noise_of_blocks

__all__ = ["REACH_PX", "SMOOTHING_PX", "TILE_PX", "EdgePoints", "Grey", "edge_points", "halved", "pooled"]

Grey = NDArray[np.uint8] | NDArray[np.float32]

TILE_PX = 64
"""Side of a tile. [px]"""

SMOOTHING_PX = 0.7
REACH_PX = 4  # the local range is taken in a window of 2·4 + 1 px
_LEAST_RANGE = 24.0
_RANGE_OVER_NOISE = 20.0
_SHARE_OF_STEEPEST = 0.6  # a point beside a much steeper edge has that edge's range, not its own


@dataclass(frozen=True)
class EdgePoints:
    """
    Points on the edges of one picture at one scale.

    Attributes
    ----------
    slopes : array of float32, shape (n,)
        Gradient above the noise, over the range of grey within 4 px. [1/px]
    angles_rad : array of float32, shape (n,)
        Direction of the gradient, counter-clockwise, 0–π. [rad]
    tiles : array of int, shape (n,)
        The tile that each lies in, counted along rows.
    grid : tuple of int
        Rows and columns of tiles.
    noise : float
        Mean gradient that is noise, median over the picture. [grey levels/px]
    """

    slopes: NDArray[np.float32]
    angles_rad: NDArray[np.float32]
    tiles: NDArray[np.intp]
    grid: tuple[int, int]
    noise: float


def halved(grey: Grey) -> NDArray[np.float32]:
    """
    Reduce a picture to half its size, kept in fractions of a grey level.

    Examples
    --------
    >>> halved(np.full((6, 9), 7, np.uint8)).shape
    (3, 4)
    """
    rows, columns = (max(1, side // 2) for side in grey.shape)
    whole = grey[: 2 * rows, : 2 * columns].astype(np.float32, copy=False)  # an odd side would cost ninefold
    return np.asarray(cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA), np.float32)


def edge_points(grey: Grey) -> EdgePoints:
    """
    Find the points on a picture's edges and how steep each is.

    Parameters
    ----------
    grey : array of uint8 or float32, shape (height, width)

    Returns
    -------
    EdgePoints
        Where the gradient is the largest of its neighbours, is not overshadowed by a steeper edge nearby, and rises
        well above the noise of its brightness.

    Examples
    --------
    >>> edge_points(np.zeros((100, 100), np.uint8)).slopes.size
    0
    """
    strips = [_ridge(grey, top) for top in range(0, grey.shape[0], _STRIP_PX)]
    steep, apart, across, down, places = (
        np.concatenate(parts) for parts in zip(*(one[0] for one in strips), strict=True)
    )
    noise = noise_of_blocks(np.vstack([one[1] for one in strips]), np.vstack([one[2] for one in strips]))
    rows, columns = np.divmod(places, grey.shape[1])
    level = noise[np.minimum(rows // BLOCK_PX, noise.shape[0] - 1), np.minimum(columns // BLOCK_PX, noise.shape[1] - 1)]
    kept = apart > _RANGE_OVER_NOISE * level
    grid = (-(-grey.shape[0] // TILE_PX), -(-grey.shape[1] // TILE_PX))
    return EdgePoints(
        slopes=np.maximum(steep[kept] - level[kept], 0) / apart[kept],
        angles_rad=np.arctan2(-down[kept], across[kept]) % np.float32(np.pi),
        tiles=rows[kept] // TILE_PX * grid[1] + columns[kept] // TILE_PX,
        grid=grid,
        noise=float(np.median(noise)),
    )


_NEXT, _AROUND = np.ones((3, 3), np.uint8), np.ones((7, 7), np.uint8)
_WINDOW = np.ones((2 * REACH_PX + 1, 2 * REACH_PX + 1), np.uint8)
_STRIP_PX, _MARGIN_PX = 128, 16  # what a strip needs stays in the processor's cache; margins hold the filters' reach

Columns = tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32], NDArray[np.float32], NDArray[np.intp]]


def _ridge(grey: Grey, top: int) -> tuple[Columns, NDArray[np.float32], NDArray[np.float32]]:
    """Return a strip's points on edges (gradient, range, gradient's parts, place), and its blocks' level and change."""
    bottom = min(top + _STRIP_PX, grey.shape[0])
    first = max(0, top - _MARGIN_PX)
    inside = slice(top - first, bottom - first)
    strip = grey[first : bottom + _MARGIN_PX].astype(np.float32, copy=False)
    smooth = np.asarray(cv2.GaussianBlur(strip, (0, 0), SMOOTHING_PX), np.float32)
    across = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=1, scale=0.5)
    down = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=1, scale=0.5)
    gradient = np.asarray(cv2.magnitude(across, down), np.float32)
    levels = cv2.convertScaleAbs(smooth)
    spread = cv2.subtract(cv2.dilate(levels, _WINDOW), cv2.erode(levels, _WINDOW))
    peak = np.asarray(gradient >= cv2.dilate(gradient, _NEXT)) & np.asarray(spread > _LEAST_RANGE)
    width = grey.shape[1]
    places = np.flatnonzero(peak[inside]) + inside.start * width
    steep = gradient.ravel()[places]
    kept = steep >= _SHARE_OF_STEEPEST * cv2.dilate(gradient, _AROUND).ravel()[places]
    places, steep = places[kept], steep[kept]
    points = (steep, spread.ravel()[places].astype(np.float32), across.ravel()[places], down.ravel()[places])
    return (*points, places + first * width), *blocks_of(smooth[inside], gradient[inside])


def pooled(blocks: Sequence[EdgePoints]) -> EdgePoints:
    """
    Put the points of several blocks of one picture together; their tiles stand one below the other.

    Examples
    --------
    >>> flat = edge_points(np.zeros((64, 128), np.uint8))
    >>> pooled([flat, flat]).grid
    (1, 4)
    """
    sizes = [block.grid[0] * block.grid[1] for block in blocks]
    starts = np.cumsum([0, *sizes])
    return EdgePoints(
        slopes=np.concatenate([block.slopes for block in blocks]),
        angles_rad=np.concatenate([block.angles_rad for block in blocks]),
        tiles=np.concatenate([block.tiles + start for block, start in zip(blocks, starts[:-1], strict=True)]),
        grid=(1, int(starts[-1])),
        noise=float(np.median([block.noise for block in blocks])),
    )
