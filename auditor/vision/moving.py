"""
Whether a part of a frame was drawn out in one direction while the rest stood still.

Strict on purpose: railings and grass are directional too. It finds a subject that fills a good part of the frame and
moved clearly; of smaller or slower ones nothing is said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.vision.edge_points import EdgePoints

__all__ = ["Spread", "has_moving_subject", "orientation_fit", "spread_by_region"]

_REGION_TILES = 4
_BINS = 8
_POINTS_IN_A_REGION, _POINTS_IN_A_BIN, _BINS_NEEDED = 120, 8, 5
_SOFT_ACROSS, _CRISP_ALONG, _LEAST_ANISOTROPY = 0.18, 0.27, 0.30
_ALIKE_DEG = 20.0
_CRISP_REST, _MOST_OF_THE_FRAME = 0.30, 0.5
_REGIONS_AT_FULL_SIZE, _REGIONS_AT_HALF_SIZE = 3, 4


@dataclass(frozen=True)
class Spread:
    """How the edges of one region of a frame are spread: its row and column, slopes, anisotropy and direction."""

    row: int
    column: int
    worst: float
    best: float
    anisotropy: float
    direction_deg: float


def spread_by_region(points: EdgePoints) -> list[Spread]:
    """
    Set the crispness of edges beside their orientation, region by region of 4 × 4 tiles.

    Parameters
    ----------
    points : EdgePoints
        Of a whole picture.

    Returns
    -------
    list of Spread
        Regions with edges of enough orientations.

    Examples
    --------
    >>> from auditor.vision.edge_points import edge_points
    >>> spread_by_region(edge_points(np.zeros((512, 512), np.uint8)))
    []
    """
    columns = -(-points.grid[1] // _REGION_TILES)
    region = points.tiles // points.grid[1] // _REGION_TILES * columns + points.tiles % points.grid[1] // _REGION_TILES
    if region.size == 0:
        return []
    order = np.argsort(region, kind="stable")
    names, starts = np.unique(region[order], return_index=True)
    found = []
    for name, members in zip(names, np.split(order, starts[1:]), strict=True):
        if members.size >= _POINTS_IN_A_REGION:
            fit = orientation_fit(points.slopes[members], points.angles_rad[members])
            if fit is not None:
                found.append(Spread(int(name) // columns, int(name) % columns, *fit))
    return found


def orientation_fit(
    slopes: NDArray[np.float32], angles_rad: NDArray[np.float32]
) -> tuple[float, float, float, float] | None:
    """
    Set the crispness of edges beside their orientation.

    Returns
    -------
    tuple of float, or None
        Crispness of the worst and of the best orientation, anisotropy and direction; None with edges of too few.

    Examples
    --------
    >>> alike = np.full(800, 0.3, np.float32)
    >>> orientation_fit(alike, np.linspace(0, 3.14, 800, dtype=np.float32))[2] < 1e-6
    True
    """
    bins = np.minimum((angles_rad * (_BINS / np.pi)).astype(np.intp), _BINS - 1)
    counts = np.bincount(bins, minlength=_BINS)
    kept = np.flatnonzero(counts >= _POINTS_IN_A_BIN)
    if kept.size < _BINS_NEEDED:
        return None
    crisp = np.array([np.percentile(slopes[bins == one], 85) for one in kept])
    centre = (kept + 0.5) * (np.pi / _BINS)
    weight = np.sqrt(np.minimum(counts[kept], 200))
    design = np.column_stack([np.ones(kept.size), np.cos(2 * centre), np.sin(2 * centre)]) * weight[:, None]
    fit = np.linalg.lstsq(design, -np.log(np.maximum(crisp, 0.02)) * weight, rcond=None)[0]
    direction = float(np.rad2deg(0.5 * np.arctan2(fit[2], fit[1])) % 180)
    return float(crisp.min()), float(crisp.max()), float(np.hypot(fit[1], fit[2])), direction


def has_moving_subject(points: EdgePoints, crispest: float, *, full_size: bool) -> bool:
    """
    Tell whether neighbouring regions are drawn out alike while the frame is crisp elsewhere.

    Parameters
    ----------
    points : EdgePoints
        Of a whole picture, or of blocks of it (then nothing is said).
    crispest : float
        Slope of the frame's crispest part. [1/px]
    full_size : bool
        Whether the points are of the full picture; at half size more regions must agree.
    """
    if not crispest > _CRISP_REST or points.grid[0] < _REGION_TILES:
        return False
    regions = spread_by_region(points)
    drawn = [
        one
        for one in regions
        if one.worst <= _SOFT_ACROSS and one.best >= _CRISP_ALONG and one.anisotropy >= _LEAST_ANISOTROPY
    ]
    if len(drawn) > _MOST_OF_THE_FRAME * len(regions):  # then it was the camera
        return False
    needed = _REGIONS_AT_FULL_SIZE if full_size else _REGIONS_AT_HALF_SIZE
    return any(sum(_goes_with(one, other) for other in drawn) >= needed for one in drawn)


def _goes_with(one: Spread, other: Spread) -> bool:
    apart = abs((one.direction_deg - other.direction_deg + 90) % 180 - 90)
    return abs(one.row - other.row) <= 1 and abs(one.column - other.column) <= 1 and apart < _ALIKE_DEG
