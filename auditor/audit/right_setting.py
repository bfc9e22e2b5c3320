"""What should have been typed: the image-side distance of each frame's pairing, with its range."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.model.kit import Lens
from auditor.model.pairings import Pairing
from auditor.optics.adapters import stacked_extension_mm
from auditor.optics.breathing import breathing_setting_mm
from auditor.optics.geometry import magnification_from_distance, magnification_with_extension, right_setting_mm

__all__ = ["CLOSEST_MAGNIFICATION", "RightSetting", "add_right_setting", "right_setting_of"]

CLOSEST_MAGNIFICATION = 0.15
"""Taken for a lens whose close focus is not in the kit. Judgement: ordinary manual primes reach about 1:7."""

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class RightSetting:
    """
    Right settings of one pairing, shape (frames,). Lengths in mm.

    Attributes
    ----------
    best, low, high : ndarray
        What to type: at the noted distance and zoom position, else at infinity and at the short end; and the range
        over what was not noted.
    magnification : ndarray
        Of the lens itself, without the adapter's factor; NaN where no distance was noted.
    """

    best: Floats
    low: Floats
    high: Floats
    magnification: Floats


def add_right_setting(frames: pd.DataFrame, pairings: Iterable[Pairing]) -> pd.DataFrame:
    """
    Add ``right_setting_mm``, its low and high, and ``magnification``.

    Parameters
    ----------
    frames : DataFrame
        With ``body``, ``lens``, ``adapter`` (all three known, or the answer is not known), ``focus_distance_m`` and
        ``logged_focal_mm``.
    pairings : iterable of Pairing
        Those that may occur.

    Returns
    -------
    DataFrame
        Same rows, same order. NaN where the pairing is not known or has contacts.
    """
    by_ids = {(p.body.id, p.lens.id, p.adapter_id): p for p in pairings}
    names = ("best", "low", "high", "magnification")
    columns = {name: np.full(len(frames), np.nan) for name in names}
    distance = frames["focus_distance_m"].to_numpy(np.float64)
    position = frames["logged_focal_mm"].to_numpy(np.float64)
    for ids, rows in frames.groupby(["body", "lens", "adapter"], observed=True).indices.items():
        pairing = by_ids.get(cast("tuple[str, str, str]", ids))
        if pairing is None or pairing.contacts:
            continue
        right = right_setting_of(pairing, distance[rows], position[rows])
        for name in names:
            columns[name][rows] = getattr(right, name)
    return frames.assign(
        right_setting_mm=columns["best"],
        right_setting_low_mm=columns["low"],
        right_setting_high_mm=columns["high"],
        magnification=columns["magnification"],
    )


def right_setting_of(pairing: Pairing, focus_distance_m: Floats, zoom_position_mm: Floats) -> RightSetting:
    """
    Return what should be typed for a pairing.

    Parameters
    ----------
    pairing : Pairing
    focus_distance_m : ndarray, shape (frames,)
        Sensor plane to subject; NaN where not noted. [m]
    zoom_position_mm : ndarray, shape (frames,)
        Focal length a zoom was used at; NaN where not noted. [mm]

    Returns
    -------
    RightSetting
        A distance nearer than the lens can focus gives NaN.

    Notes
    -----
    ``right = factor · f · (1 + m) / gain``, with the lens's own magnification m. A lens that focuses inside changes
    its focal length by an unknown amount: its range is f/(1+m) to f·(1+m) unless it was measured.

    Examples
    --------
    >>> from auditor.model.kit import Body, Lens
    >>> body = Body(id="one", name="S", exif_model="S", sensor_mm=(17.4, 13.0), mount="M42", stabiliser_stops=5.0)
    >>> lens = Lens(id="orla-50", name="Orla 50", focal_mm=50.0, mount="M42", close_focus_m=0.45)
    >>> right = right_setting_of(Pairing(body, lens), np.array([0.45, np.nan]), np.array([np.nan, np.nan]))
    >>> right.best.round(2).tolist(), right.high.round(2).tolist()
    ([57.29, 50.0], [57.29, 57.29])
    """
    lens = pairing.lens
    short, long = lens.true_focal_mm
    noted = ~np.isnan(zoom_position_mm) if lens.is_zoom else np.zeros(len(zoom_position_mm), bool)
    position = np.clip(zoom_position_mm, short, long)
    f_low, f_high = np.where(noted, position, short), np.where(noted, position, long)
    known = ~np.isnan(focus_distance_m)
    ring = np.where(known, magnification_from_distance(focus_distance_m, f_low), 0.0)
    tube_low, tube_high = _tubes(pairing)
    best_m = magnification_with_extension(ring, tube_low, f_low)
    low_m = best_m
    high_ring = np.where(known, magnification_from_distance(focus_distance_m, f_high), _closest(lens, f_high))
    high_m = magnification_with_extension(high_ring, tube_high, f_high)
    best, low, high = (
        np.asarray(right_setting_mm(f_low, best_m)),
        np.asarray(right_setting_mm(f_low, low_m)),
        np.asarray(right_setting_mm(f_high, high_m)),
    )
    if lens.breathing and not lens.is_zoom and tube_high == 0:
        best, low, high = _measured(lens, focus_distance_m, known)
    elif lens.focusing == "internal":
        best, low = f_low + 0.0 * best, f_low / (1 + high_m)
    scale = pairing.factor / pairing.body.stabiliser_gain
    return RightSetting(best * scale, low * scale, high * scale, np.where(known, best_m, np.nan))


def _tubes(pairing: Pairing) -> tuple[float, float]:
    factors = [adapter.factor for adapter in pairing.adapters]
    ends = [adapter.extension_mm for adapter in pairing.adapters]
    return (
        stacked_extension_mm([low for low, _ in ends], factors),
        stacked_extension_mm([high for _, high in ends], factors),
    )


def _closest(lens: Lens, focal_mm: Floats) -> Floats:
    """Magnification at the close-focus mark."""
    if lens.close_focus_m is None:
        return np.full(focal_mm.shape, CLOSEST_MAGNIFICATION)
    closest = np.asarray(magnification_from_distance(np.full(focal_mm.shape, lens.close_focus_m), focal_mm))
    return np.where(np.isnan(closest), CLOSEST_MAGNIFICATION, closest)


def _measured(lens: Lens, distance_m: Floats, known: npt.NDArray[np.bool_]) -> tuple[Floats, Floats, Floats]:
    """Take the setting from the lens's measured table; between infinity and its nearest row where not noted."""
    infinity = lens.true_focal_mm[0]
    nearest = min(distance for distance, _ in lens.breathing)
    at = np.where(known, np.maximum(distance_m, nearest), np.inf)
    best = np.asarray(breathing_setting_mm(at, lens.breathing, infinity_mm=infinity), dtype=np.float64)
    values = [infinity, *(setting for _, setting in lens.breathing)]
    return best, np.where(known, best, min(values)), np.where(known, best, max(values))
