"""Camera clocks put right, as settings.toml says."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from auditor.model.settings import Clock

__all__ = ["corrected_times"]


def corrected_times(frames: pd.DataFrame, clocks: Sequence[Clock]) -> pd.Series:
    """
    Return each frame's time with its body's clock corrections applied.

    Parameters
    ----------
    frames : DataFrame
        With ``body`` and ``captured_at`` (the camera's local time as recorded).
    clocks : sequence of Clock
        Each holds between two times as recorded by the wrong clock, both ends included.

    Returns
    -------
    Series of datetime64
        Same index; not-a-time where nothing was recorded.
    """
    recorded = frames["captured_at"]
    corrected = recorded.copy()
    for clock in clocks:
        wrong = (frames["body"] == clock.body).fillna(False) & recorded.between(clock.first, clock.last)
        corrected = corrected.where(~wrong, corrected + pd.Timedelta(minutes=clock.add_minutes))
    return corrected
