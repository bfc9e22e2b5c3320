"""
The clues to motion in those parts of a frame that changed.

Each window of 8 × 8 tiles that is mostly changed is read for what straight motion leaves: stripes in its spectrum,
edges that are soft across one direction and crisp along it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from auditor.vision.change import Change, Mask
from auditor.vision.edge_points import TILE_PX, EdgePoints, edge_points
from auditor.vision.moving import orientation_fit
from auditor.vision.spectrum import log_spectrum
from auditor.vision.straight_motion import motion_length_px, straight_motion

__all__ = ["ALIKE_DEG", "CLUES", "Window", "apart_deg", "frame_stands_still", "windows"]

CLUES = (
    "spectrum_anisotropy",
    "motion_amplitude",
    "motion_explained",
    "clear_of_noise",
    "slope_across",
    "slope_along",
    "steepest_across",
    "length_stands_out",
    "anisotropy_agrees",
    "more_edges_along",
    "windows_agree",
    "same_at_edges",
    "lost_one_way",
)
"""What the rule reads of a window; slopes, counts and how far the length stands out as logarithms."""

ALIKE_DEG = 10.0
"""Directions that differ less are about the same. [deg]"""

_WINDOW_TILES, _STEP_TILES = 8, 4
_LEAST_CHANGED, _LEAST_SAME, _MOST_WINDOWS = 0.5, 0.4, 24
_FEWEST_POINTS, _FEWEST_STILL = 80, 120
_WORST_OF_REST, _BEST_OF_REST = 0.22, 0.28
_FINE_DEG, _SHORTEST_PX = 22.5, 6.0
_LEAST_SLOPE = 0.05


@dataclass(frozen=True)
class Window:
    """A part of a frame: its row and column in tiles, its clues and the direction they are for."""

    row: int
    column: int
    clues: NDArray[np.float64]
    direction_deg: float


def windows(picture: NDArray[np.uint8], found: Change) -> list[Window]:
    """Return the windows of a frame that changed and have detail; none where the camera may have moved."""
    rows, columns = (-(-side // TILE_PX) for side in picture.shape)
    changed = _in_tiles(found.changed, rows, columns)
    corners = [
        (top, left)
        for top in range(0, max(1, rows - _WINDOW_TILES + 2), _STEP_TILES)
        for left in range(0, max(1, columns - _WINDOW_TILES + 2), _STEP_TILES)
        if changed[_tiles_of(top, left)].mean() >= _LEAST_CHANGED
    ]
    if not corners or not found.is_worth_a_look:
        return []
    points = edge_points(picture)
    if not frame_stands_still(points, _in_tiles(found.same, rows, columns) >= _LEAST_SAME):
        return []
    held = np.bincount(points.tiles, minlength=rows * columns).reshape(rows, columns) * (changed >= _LEAST_CHANGED)
    corners.sort(key=lambda corner: int(held[_tiles_of(*corner)].sum()), reverse=True)
    judged = [_window(picture, points, found, top, left) for top, left in corners[:_MOST_WINDOWS]]
    return _with_neighbours([window for window in judged if window is not None])


def _tiles_of(top: int, left: int) -> tuple[slice, slice]:
    return slice(top, top + _WINDOW_TILES), slice(left, left + _WINDOW_TILES)


def _in_tiles(cells: Mask, rows: int, columns: int) -> NDArray[np.float32]:
    return np.asarray(cv2.resize(cells.astype(np.float32), (columns, rows), interpolation=cv2.INTER_AREA), np.float32)


def frame_stands_still(points: EdgePoints, same: Mask) -> bool:
    """
    Tell whether what did not change is crisp every way.

    Parameters
    ----------
    points : EdgePoints
        Of the whole frame.
    same : array of bool, shape (rows, columns)
        Tiles that show the same as the sibling.
    """
    rest = same.ravel()[points.tiles]
    if int(rest.sum()) < _FEWEST_STILL:
        return False
    fit = orientation_fit(points.slopes[rest], points.angles_rad[rest])
    if fit is None:
        return False
    return fit[0] >= _WORST_OF_REST and fit[1] >= _BEST_OF_REST


def _window(picture: NDArray[np.uint8], points: EdgePoints, found: Change, top: int, left: int) -> Window | None:
    tiles = np.zeros(points.grid, bool)
    tiles[_tiles_of(top, left)] = True
    inside = np.flatnonzero(tiles.ravel()[points.tiles])
    slopes, angles = points.slopes[inside], points.angles_rad[inside]
    if slopes.size < _FEWEST_POINTS:
        return None
    side = TILE_PX * _WINDOW_TILES
    spectrum = log_spectrum([picture[top * TILE_PX : top * TILE_PX + side, left * TILE_PX : left * TILE_PX + side]])
    if spectrum is None:
        return None
    motion = straight_motion(spectrum)
    length, stands_out = motion_length_px(spectrum, motion.direction_deg)
    off = np.abs((angles - np.deg2rad(motion.direction_deg) + np.pi / 2) % np.pi - np.pi / 2)
    across, along = slopes[off < np.deg2rad(_FINE_DEG)], slopes[off > np.deg2rad(90 - _FINE_DEG)]
    between = slopes[(off >= np.deg2rad(_FINE_DEG)) & (off <= np.deg2rad(90 - _FINE_DEG))]
    usual = _steep(between, 50, 0.3)
    fit = orientation_fit(slopes, angles)
    agrees = fit is not None and apart_deg(fit[3], motion.direction_deg) < 25
    clues = (
        motion.anisotropy,
        motion.amplitude,
        motion.explained,
        motion.clear,
        np.log(max(_steep(across, 75, usual), _LEAST_SLOPE)),
        np.log(max(_steep(along, 90, 0.25), _LEAST_SLOPE)),
        np.log(max(_steep(across, 90, usual), _LEAST_SLOPE)),
        np.log(max(stands_out if length >= _SHORTEST_PX else 0.0, 1.0)),
        fit[2] if fit is not None and agrees else 0.0,
        np.log((along.size + 1) / (across.size + 1)),
        0.0,
        found.same_at_edges,
        found.lost_one_way,
    )
    return Window(top, left, np.array(clues), motion.direction_deg)


def _steep(slopes: NDArray[np.float32], percent: float, otherwise: float) -> float:
    return float(np.percentile(slopes, percent)) if slopes.size > _FEW else otherwise


_FEW = 5


def _with_neighbours(judged: list[Window]) -> list[Window]:
    """Fill in how many of the windows beside each show about the same motion."""
    for one in judged:
        one.clues[_AGREE] = min(4, sum(_goes_with(one, other) for other in judged if other is not one))
    return judged


_AGREE = CLUES.index("windows_agree")


def _goes_with(one: Window, other: Window) -> bool:
    near = abs(one.row - other.row) <= _STEP_TILES and abs(one.column - other.column) <= _STEP_TILES
    alike = apart_deg(one.direction_deg, other.direction_deg) < ALIKE_DEG
    return near and alike and bool(other.clues[1] > 0.6 * one.clues[1])


def apart_deg(one_deg: float, other_deg: float) -> float:
    """
    Return the angle between two directions, 0 to 90. [deg].

    Examples
    --------
    >>> apart_deg(5.0, 178.0)
    7.0
    """
    return abs((one_deg - other_deg + 90) % 180 - 90)
