"""
How crisp the edges of a picture are: the slope of an edge against the local range of grey.

Slopes are private to this program: they are compared within one scene only (`auditor.audit.scenes`) or enter a rule
that was fitted on many scenes (`auditor.vision.kind`). What is shown to a photographer is a width in px.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.vision.edge_points import TILE_PX, EdgePoints, Grey, edge_points, halved

__all__ = [
    "EDGE_POINTS_IN_A_TILE",
    "TILES_NEEDED",
    "EdgeSlopes",
    "Orientations",
    "edge_slopes",
    "edge_slopes_over_scales",
    "summary",
]

EDGE_POINTS_IN_A_TILE = 25
"""A tile with fewer points on edges is not judged."""
TILES_NEEDED = 3
"""With fewer judged tiles nothing is said about the picture."""

_BINS = 8
_POINTS_IN_A_BIN = 12
_BINS_NEEDED = 5


@dataclass(frozen=True)
class Orientations:
    """
    How crispness depends on the orientation of edges; NaN when too few orientations hold edges.

    Attributes
    ----------
    worst : float
        Lowest over orientations of the 90th percentile of slopes. [1/px]
    anisotropy : float
        Amplitude of −log slope over cos 2θ and sin 2θ: 0 when edges of all orientations are alike. [-]
    direction_deg : float
        Direction along which the picture is most spread, counter-clockwise from the horizontal, 0–180. [deg]
    """

    worst: float
    anisotropy: float
    direction_deg: float


@dataclass(frozen=True)
class EdgeSlopes:
    """
    Edge slopes of one picture at one scale.

    Attributes
    ----------
    crispest : float
        95th percentile over tiles of the 80th percentile of slopes; NaN when too few tiles can be judged. [1/px]
    everywhere, at_crispest : Orientations
        Of all points, and of those in tiles about as crisp as the crispest.
    tiles : array of float, shape (rows, columns)
        80th percentile of slopes in each tile, NaN where it has too few edges. [1/px]
    noise : float
        Mean gradient that is noise, median over the picture. [grey levels/px]
    """

    crispest: float
    everywhere: Orientations
    at_crispest: Orientations
    tiles: NDArray[np.float64]
    noise: float

    @property
    def judged_tiles(self) -> int:
        """Number of tiles with enough edges."""
        return int(np.isfinite(self.tiles).sum())


def edge_slopes(grey: Grey) -> EdgeSlopes:
    """
    Measure the slopes of a picture's edges.

    Parameters
    ----------
    grey : array of uint8 or float32, shape (height, width)
        Grey levels, 0–255.

    Returns
    -------
    EdgeSlopes
        At the scale of the array given.

    Notes
    -----
    The slope of an edge is its steepest gradient over the range of grey around it, so that contrast cancels. Edge
    width as a measure of blur without a reference: [1]_; here the width is taken across the gradient rather than
    along rows, per tile, and the crispest tiles speak for the picture (as in shallow depth of field), after [2]_.

    References
    ----------
    .. [1] P. Marziliano, F. Dufaux, S. Winkler, T. Ebrahimi, A no-reference perceptual blur metric, ICIP 2002, III-57.
    .. [2] N. D. Narvekar, L. J. Karam, A no-reference image blur metric based on the cumulative probability of blur
       detection, IEEE Trans. Image Process. 20(9):2678 (2011).

    Examples
    --------
    >>> import cv2
    >>> step = np.zeros((192, 256), np.uint8)
    >>> step[40:150, 30:100] = step[60:170, 130:220] = 200
    >>> soft = cv2.GaussianBlur(step, (0, 0), 3)
    >>> edge_slopes(step).crispest > 2 * edge_slopes(soft).crispest
    True
    """
    return summary(edge_points(grey))


def edge_slopes_over_scales(grey: Grey, levels: int = 3) -> Iterator[EdgeSlopes]:
    """
    Measure the slopes of a picture and of its halvings, finest first.

    Parameters
    ----------
    grey : array of uint8 or float32, shape (height, width)
    levels : int
        How many; fewer come when the picture gets smaller than three tiles.

    Yields
    ------
    EdgeSlopes

    Examples
    --------
    >>> len(list(edge_slopes_over_scales(np.zeros((400, 400), np.uint8))))
    2
    """
    for level in range(levels):
        if min(grey.shape) < TILES_NEEDED * TILE_PX:
            return
        yield edge_slopes(grey)
        if level < levels - 1:
            grey = halved(grey)


def summary(points: EdgePoints) -> EdgeSlopes:
    """
    Summarise the points on edges of a picture, or of blocks of it (`auditor.vision.edge_points.pooled`).

    Examples
    --------
    >>> summary(edge_points(np.zeros((100, 100), np.uint8))).judged_tiles
    0
    """
    tiles = _tile_slopes(points)
    judged = tiles[np.isfinite(tiles)]
    crispest = float(np.percentile(judged, 95)) if judged.size >= TILES_NEEDED else float("nan")
    crisp = (tiles >= _SHARE_OF_CRISPEST * crispest)[points.tiles]
    return EdgeSlopes(
        crispest=crispest,
        everywhere=_by_orientation(points.slopes, points.angles_rad),
        at_crispest=_by_orientation(points.slopes[crisp], points.angles_rad[crisp]),
        tiles=tiles.reshape(points.grid),
        noise=points.noise,
    )


_SHARE_OF_CRISPEST = 0.8


def _tile_slopes(points: EdgePoints) -> NDArray[np.float64]:
    """Return the 80th percentile of slopes in each tile, NaN where there are too few points."""
    count = points.grid[0] * points.grid[1]
    order = np.argsort(points.tiles * 2.0 + points.slopes)  # slopes are below 1: tiles stay apart, slopes rise within
    counts = np.bincount(points.tiles, minlength=count)
    starts = np.cumsum(counts) - counts
    tiles = np.full(count, np.nan)
    enough = counts >= EDGE_POINTS_IN_A_TILE
    tiles[enough] = points.slopes[order][(starts + 0.8 * (counts - 1)).astype(np.intp)[enough]]
    return tiles


def _by_orientation(slopes: NDArray[np.float32], angles: NDArray[np.float32]) -> Orientations:
    """Set the crispness of edges beside their orientation."""
    bins = np.minimum((angles * (_BINS / np.pi)).astype(np.intp), _BINS - 1)
    counts = np.bincount(bins, minlength=_BINS)
    kept = np.flatnonzero(counts >= _POINTS_IN_A_BIN)
    if kept.size < _BINS_NEEDED:
        return Orientations(float("nan"), float("nan"), float("nan"))
    crisp = np.array([np.percentile(slopes[bins == one], 90) for one in kept])
    centre = (kept + 0.5) * (np.pi / _BINS)
    design = np.column_stack([np.ones(kept.size), np.cos(2 * centre), np.sin(2 * centre)])
    weight = np.sqrt(np.minimum(counts[kept], 500))[:, None]
    fit = np.linalg.lstsq(design * weight, -np.log(np.maximum(crisp, 0.01)) * weight[:, 0], rcond=None)[0]
    direction = float(np.rad2deg(0.5 * np.arctan2(fit[2], fit[1])) % 180)
    return Orientations(float(crisp.min()), float(np.hypot(fit[1], fit[2])), direction)
