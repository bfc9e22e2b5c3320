"""Judged frames as trials of the photographer's hand, and what a fit of them says in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.bursts import find_bursts
from auditor.audit.card import body_tolerance_um
from auditor.constants import MAGNIFICATION_LIMIT
from auditor.model.kit import Body, Kit
from auditor.model.pairings import Pairing
from auditor.model.settings import Tolerance
from auditor.optics.arrays import FloatArray, floats
from auditor.optics.sensors import crop_factor
from auditor.shake.estimates import Estimate, HandFit, HandPrior
from auditor.shake.trials import Trials, keeps_one_of_each_burst

__all__ = ["HandTrials", "hand_doubts", "hand_prior", "hand_trials", "hand_words"]

_SURE = 0.8
_OPEN_RANGE = 1.35  # a right setting known no better than this is no trial of the stabiliser
_OFF_FRAMES = 60

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class HandTrials:
    """
    Frames to fit, and those left out.

    Attributes
    ----------
    trials : Trials
    left_out : dict
        Reason → frames, each frame once, the first reason that applies.
    singles_only : bool
        One of each burst was chosen, so only frames judged on their own are used.
    """

    trials: Trials
    left_out: dict[str, int]
    singles_only: bool


def hand_trials(frames: pd.DataFrame, kit: Kit, tolerance: Tolerance, body_id: str) -> HandTrials:
    """
    Take the judged, hand-held frames of one body as trials.

    Parameters
    ----------
    frames : DataFrame
        Frames with audit and log: ``body``, ``lens``, ``adapter``, ``kept``, ``exposure_time_s``, ``support``,
        ``subject``, ``flash_fired``, ``setting_mm``, right setting with its range, ``residual``, ``has_contacts``,
        ``focal_length_mm``, ``pairing_confidence``, ``at``, the picture's size; ``blur_kind`` where it was measured.
    kit : Kit
    tolerance : Tolerance
        What counts as sharp.
    body_id : str

    Returns
    -------
    HandTrials
        What was left out is counted with its reason.
    """
    body = kit.body(body_id)
    rows = frames[(frames["body"] == body_id).fillna(False).to_numpy(bool)].sort_values("at", kind="stable")
    reasons = _reasons(rows, kit)
    usable = np.ones(len(rows), bool)
    left_out: dict[str, int] = {}
    for reason, applies in reasons.items():
        out = usable & applies
        if out.any():
            left_out[reason] = int(out.sum())
        usable &= ~applies
    trials = _trials(rows, body, tolerance).where(usable)
    one_of_each = keeps_one_of_each_burst(trials.burst, trials.kept)
    if one_of_each:
        _, number, size = np.unique(trials.burst, return_inverse=True, return_counts=True)
        alone = size[number] == 1
        left_out["one of each burst was chosen"] = int((~alone).sum())
        trials = trials.where(alone)
    return HandTrials(trials, left_out, one_of_each)


def _column(rows: pd.DataFrame, name: str) -> FloatArray:
    return floats(rows[name].to_numpy(np.float64, na_value=np.nan))


def _is(rows: pd.DataFrame, name: str, *words: str) -> Bools:
    if name not in rows:
        return np.zeros(len(rows), bool)
    return np.asarray(rows[name].isin(words).to_numpy(bool))


def _reasons(rows: pd.DataFrame, kit: Kit) -> dict[str, Bools]:
    """Why a frame is no trial, in the order in which they are asked."""
    contacts = rows["has_contacts"].to_numpy(bool)
    right, recorded = _column(rows, "right_setting_mm"), _column(rows, "focal_length_mm")
    off = _is_off(rows)
    wide = _column(rows, "right_setting_high_mm") > _OPEN_RANGE * _column(rows, "right_setting_low_mm")
    still = _is(rows, "subject", "still") | rows["subject"].isna().to_numpy(bool)
    stops = {body.id: body.stabiliser_stops for body in kit.bodies}
    rated = rows["body"].map(stops).astype("float64").to_numpy()
    kept = rows["kept"].astype("boolean")
    return {
        "never judged": kept.isna().to_numpy(bool),
        "exposure time not known": np.isnan(_column(rows, "exposure_time_s")),
        "lens or adapter not known": (
            rows["lens"].isna() | rows["adapter"].isna() | (_column(rows, "pairing_confidence") < _SURE)
        ).to_numpy(bool),
        "not held by hand": ~(_is(rows, "support", "hand") | rows["support"].isna().to_numpy(bool)),
        "subject moved": ~still | _is(rows, "blur_kind", "subject-moved"),
        "rejected for its focus": _is(rows, "blur_kind", "missed-focus") & ~kept.fillna(True).to_numpy(bool),
        "flash": rows["flash_fired"].fillna(False).to_numpy(bool),
        "right setting not known": np.where(contacts, np.isnan(recorded), np.isnan(right) | (wide & ~off)),
        "what was typed is not known": ~contacts & ~off & np.isnan(_column(rows, "setting_mm")),
        "the body's stops are not in the kit": ~off & np.isnan(rated),
        "closer than rotation alone explains": _magnification(rows) > MAGNIFICATION_LIMIT,
    }


def _magnification(rows: pd.DataFrame) -> FloatArray:
    return _column(rows, "magnification") if "magnification" in rows else np.full(len(rows), np.nan)


def _is_off(rows: pd.DataFrame) -> Bools:
    """Stabiliser off or none: the audit's residual is 1 there and nowhere else."""
    return np.asarray(_column(rows, "residual") == 1.0)


def _trials(rows: pd.DataFrame, body: Body, tolerance: Tolerance) -> Trials:
    contacts = rows["has_contacts"].to_numpy(bool)
    right = _column(rows, "right_setting_mm")
    error = np.abs(1.0 - _column(rows, "setting_mm") / right)
    burst = find_bursts(rows.assign(captured_at=pd.to_datetime(rows["at"])))
    widths = rows[["image_width_px", "image_height_px"]].max(axis=1).to_numpy(np.float64, na_value=np.nan)
    width_px = int(np.nanmedian(widths)) if np.isfinite(widths).any() else None
    return Trials(
        exposure_time_s=_column(rows, "exposure_time_s"),
        right_mm=floats(np.where(contacts, _column(rows, "focal_length_mm"), right * body.stabiliser_gain)),
        tolerance_um=np.full(len(rows), body_tolerance_um(body, tolerance, width_px)),
        setting_error=floats(np.where(_is_off(rows), np.nan, np.where(contacts, 0.0, error))),
        kept=rows["kept"].astype("boolean").fillna(False).to_numpy(bool),
        burst=burst.astype(np.int64),
    )


def hand_prior(body: Body) -> HandPrior:
    """Return what is believed of a hand on a body before any frame."""
    crop = float(crop_factor(*body.sensor_mm)) if body.sensor_mm else 1.0
    return HandPrior(stops=max((body.stabiliser_stops or 0.0) - 1.0, 0.0), crop=crop)


def hand_words(fit: HandFit, body: Body, pairings: tuple[Pairing, ...] = ()) -> tuple[str, ...]:
    """
    Say what a fit tells, and plainly what it cannot tell and which test would settle it.

    Parameters
    ----------
    fit : HandFit
    body : Body
    pairings : tuple of Pairing
        Any of the body; the first names the lens of the suggested test.
    """
    lines = [
        _line("shake at 1/60 s, per axis", fit.shake_mrad, "mrad", 2),
        _line("growth with time, H", fit.exponent, "", 2),
        _line("spread from frame to frame", fit.spread_stops, "stop", 2),
    ]
    if fit.stabilised:
        lines.append(_line(f'stops of "{body.id}" when set right', fit.stops, "stops", 1))
        lines.append(_line("shake left at 1/60 s, stabiliser on and set right", fit.stabilised_mrad, "mrad", 3))
    lines.append(_line("sharp frames that are kept", fit.other_keep, "", 2))
    return (*lines, *hand_doubts(fit, pairings))


def hand_doubts(fit: HandFit, pairings: tuple[Pairing, ...] = ()) -> tuple[str, ...]:
    """Say what a fit cannot tell and which frames would; the first pairing names the lens of the suggested test."""
    lines = []
    lens = pairings[0].lens.id if pairings else "one lens"
    if fit.stabilised and not fit.stops.told:
        lines.append(
            "The frames cannot tell the stops: with so few frames off, or set wrong by a known amount, a steadier hand "
            f"and a better stabiliser look alike, and {fit.stops.value:.1f} is what was believed before, repeated. To "
            f"settle it, shoot about {_OFF_FRAMES} frames with the stabiliser off (one in five is enough), {lens}, at "
            "times from four stops faster to one slower than your usual, and keep or reject them as ever."
        )
    if not fit.shake_mrad.told:
        lines.append("The frames cannot tell your hand by itself either; what is left with the stabiliser on they can."
                     if fit.stabilised_mrad.told else "The frames are too few to tell your hand.")  # fmt: skip
    if not fit.exponent.told:
        lines.append("The shutter times are too much alike to tell H: use a wider range, over four stops and more.")
    lines.append("Choosier and shakier look alike: the shake holds for the blur that settings.toml tolerates.")
    return tuple(lines)


def _line(name: str, found: Estimate, unit: str, digits: int) -> str:
    doubt = "" if found.told else ", mainly what was believed before"
    unit = f" {unit}" if unit else ""
    return f"{name}: {found.value:.{digits}f}{unit} ({found.low:.{digits}f} to {found.high:.{digits}f}{doubt})"
