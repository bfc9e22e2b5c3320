"""How a wrong setting came about."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import partial
from typing import Protocol

import numpy as np
import pandas as pd

from auditor.audit.combinations import decide_each
from auditor.audit.right_setting import right_setting_of
from auditor.model.pairings import Pairing
from auditor.model.settings import Settings
from auditor.optics.sensors import crop_factor

__all__ = ["add_pairing_before", "add_setting_cause", "is_digit_slip"]

_NEAR = 0.03  # typed values are whole millimetres: 3 % covers the rounding of 20 mm and up
_WRONG = ("too-short", "too-long")

_Ids = tuple[str, str, str]


def add_pairing_before(frames: pd.DataFrame) -> pd.DataFrame:
    """
    Add the pairing that was on the same body before this one, and the last setting typed for it.

    Lenses with contacts and frames whose pairing is not known are passed over: the body's memory keeps the typed
    value while such a lens is on.

    Parameters
    ----------
    frames : DataFrame
        With ``body``, ``lens``, ``adapter``, ``at``, ``setting_mm`` and ``has_contacts``.

    Returns
    -------
    DataFrame
        Same rows, same order, with ``lens_before``, ``adapter_before`` and ``setting_before_mm``.
    """
    usable = frames["lens"].notna() & frames["adapter"].notna() & frames["at"].notna() & ~frames["has_contacts"]
    at = "steady_at" if "steady_at" in frames else "at"
    line = frames.loc[usable, ["body", "lens", "adapter", at, "setting_mm"]].sort_values(["body", at], kind="stable")
    same_body = (line["body"] == line["body"].shift()).to_numpy(bool)
    same = (line["lens"] == line["lens"].shift()) & (line["adapter"] == line["adapter"].shift())
    change = ~same.to_numpy(bool) & same_body
    first = ~same_body
    before = pd.DataFrame(index=line.index)
    for column, new in (
        ("lens", "lens_before"),
        ("adapter", "adapter_before"),
        ("setting_mm", "setting_before_mm"),
    ):
        at_change = line[column].shift().where(change)
        # Within one run the answer is that of its first frame; a body's first run has none before it.
        run = np.cumsum(change | first)
        before[new] = at_change.groupby(run).transform("first")
    return frames.join(before)


class _Wrong(Protocol):
    body: str
    lens: str
    adapter: str
    setting_mm: float
    lens_before: str | None
    adapter_before: str | None
    setting_before_mm: float | None


def add_setting_cause(frames: pd.DataFrame, pairings: Iterable[Pairing], settings: Settings) -> pd.DataFrame:
    """
    Add ``setting_cause``: how each wrong setting probably came about.

    Tried in this order: carried over unchanged from the pairing before, which it fits; the adapter's factor left
    out; the long end of a zoom; the equivalent on 24×36 mm entered; what the pairing before needed; a slip of a
    digit. None of these: ``unexplained``.

    Parameters
    ----------
    frames : DataFrame
        With the columns of :func:`add_pairing_before` and ``setting_verdict``.
    pairings : iterable of Pairing
    settings : Settings

    Returns
    -------
    DataFrame
        Same rows, same order; not known (null) where the setting is not wrong.
    """
    by_ids = {(p.body.id, p.lens.id, p.adapter_id): p for p in pairings}
    wrong = frames["setting_verdict"].isin(_WRONG)
    columns = ["body", "lens", "adapter", "setting_mm", "lens_before", "adapter_before", "setting_before_mm"]
    decide = partial(_cause, by_ids, settings.tolerance.setting_percent / 100)
    causes = decide_each(frames.loc[wrong, columns], columns, decide, {"setting_cause": "str"})["setting_cause"]
    return frames.assign(setting_cause=causes.reindex(frames.index).astype("str"))


def _cause(by_ids: Mapping[_Ids, Pairing], tolerance: float, wrong: _Wrong) -> tuple[str]:
    pairing = by_ids[wrong.body, wrong.lens, wrong.adapter]
    before = None
    if wrong.lens_before is not None and wrong.adapter_before is not None:
        before = by_ids.get((wrong.body, wrong.lens_before, wrong.adapter_before))
    fits_before = before is not None and _fits(before, wrong.setting_mm, tolerance)
    unchanged = wrong.setting_before_mm is not None and wrong.setting_before_mm == wrong.setting_mm
    checks: tuple[tuple[str, Callable[[], bool]], ...] = (
        ("carried-over", lambda: fits_before and unchanged),
        ("adapter-factor-left-out", lambda: _is_factor_left_out(pairing, wrong.setting_mm)),
        ("long-end-of-zoom", lambda: _is_long_end(pairing, wrong.setting_mm)),
        ("equivalent-entered", lambda: _is_equivalent(pairing, wrong.setting_mm)),
        ("carried-over", lambda: fits_before),
        ("digit-slip", lambda: _is_slip_for(pairing, wrong.setting_mm)),
    )
    return (next((name for name, holds in checks if holds()), "unexplained"),)


def _near(setting_mm: float, value_mm: float) -> bool:
    return abs(setting_mm - value_mm) <= max(_NEAR * value_mm, 0.5)


def _fits(pairing: Pairing, setting_mm: float, tolerance: float) -> bool:
    nothing = np.array([np.nan])
    right = right_setting_of(pairing, nothing, nothing)
    return bool(right.low[0] * (1 - tolerance) <= setting_mm <= right.high[0] * (1 + tolerance))


def _ends(pairing: Pairing) -> set[float]:
    """Focal lengths that stand on the lens: engraved, and measured where it was. [mm]."""
    return {*pairing.lens.focal_mm, *pairing.lens.true_focal_mm}


def _is_factor_left_out(pairing: Pairing, setting_mm: float) -> bool:
    return pairing.factor != 1 and any(_near(setting_mm, end) for end in _ends(pairing))


def _is_equivalent(pairing: Pairing, setting_mm: float) -> bool:
    if pairing.body.sensor_mm is None:
        return False
    crop = float(crop_factor(*pairing.body.sensor_mm))
    factors = {pairing.factor, 1.0}
    return abs(crop - 1) > _NEAR and any(
        _near(setting_mm, end * factor * crop) for end in _ends(pairing) for factor in factors
    )


def _is_long_end(pairing: Pairing, setting_mm: float) -> bool:
    long = pairing.lens.true_focal_mm[1]
    return pairing.lens.is_zoom and (_near(setting_mm, long * pairing.factor) or _near(setting_mm, long))


def _is_slip_for(pairing: Pairing, setting_mm: float) -> bool:
    return any(is_digit_slip(setting_mm, end * pairing.factor) for end in _ends(pairing))


def is_digit_slip(typed_mm: float, meant_mm: float) -> bool:
    """
    Tell whether a value looks like another with one digit dropped, doubled or added, or two swapped.

    A wrong digit in place of a right one is not counted: any two numbers of two digits that share one would do.

    Examples
    --------
    >>> [is_digit_slip(typed, 135) for typed in (13, 153, 1350, 1335, 85)]
    [True, True, True, True, False]
    """
    typed, meant = (str(round(value)) for value in (typed_mm, meant_mm))
    if typed == meant:
        return False
    shorter, longer = sorted((typed, meant), key=len)
    if len(longer) == len(shorter) + 1 and shorter != "0":
        return any(longer[:place] + longer[place + 1 :] == shorter for place in range(len(longer)))
    swapped = (meant[:place] + meant[place + 1] + meant[place] + meant[place + 2 :] for place in range(len(meant) - 1))
    return typed in swapped
