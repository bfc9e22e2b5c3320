"""The frames that can be compared at all, with the conditions they were made under."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.groupings import group_of

__all__ = ["NOT_ADJUSTED_FOR", "Codes", "Floats", "Trials", "select", "strata_of", "trials_of"]

Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

NOT_ADJUSTED_FOR = "subject, focus and tiredness"
"""What is in no record, and so stays between two lenses whatever is computed."""

_LOST_CLASSES_STOPS = (0.5, 1.5, 3.0)
_BAND_STOPS = 1.0


@dataclass(frozen=True)
class Trials:
    """
    Judged frames, one element a frame, in order of burst.

    Attributes
    ----------
    kept : array
        1 kept, 0 not.
    group, ids
        What is compared: number of each frame's group, and the names.
    burst, trip, body, support : int arrays
        Numbers from 0.
    difficulty_stops : array
        log2(exposure time × right setting × crop). [stop]
    light_ev : array
        Scene's EV at ISO 100; NaN where not known. [stop]
    is_stabilised : bool array
    stops_lost : array
        To a wrong setting, 0 where none was needed. [stop]
    place : int array
        Row of each in the condensed table.
    left_out : dict of str to int
        Judged frames that are in none of these, by reason.
    """

    kept: Floats
    group: Codes
    ids: tuple[str, ...]
    burst: Codes
    trip: Codes
    body: Codes
    support: Codes
    difficulty_stops: Floats
    light_ev: Floats
    is_stabilised: npt.NDArray[np.bool_]
    stops_lost: Floats
    place: Codes
    left_out: dict[str, int]

    def number(self, name: str) -> int:
        """
        Return the number of a group.

        Raises
        ------
        ValueError
            No judged frame that can be compared is in it.
        """
        if name not in self.ids:
            raise ValueError(name)
        return self.ids.index(name)


def trials_of(condensed: pd.DataFrame, by: str = "lens") -> Trials:
    """
    Take the judged frames whose conditions are known.

    Parameters
    ----------
    condensed : DataFrame
        Columns of `auditor.audit.condensed.CONDENSED`.
    by : str
        Grouping that is compared: lens, pairing, body.

    Returns
    -------
    Trials
        Without the frames whose group, difficulty or setting is not known; they are counted.
    """
    group = group_of(condensed, by).astype("category").cat
    judged = condensed["kept"].to_numpy() >= 0
    difficulty = condensed["difficulty_stops"].to_numpy(np.float64)
    lost = condensed["stops_lost"].to_numpy(np.float64)
    lost = np.where(condensed["is_stabilised"].to_numpy(bool), lost, 0.0)
    left_out, usable = {}, judged
    for reason, unusable in (
        (f"{by} not known", group.codes.to_numpy() < 0),
        ("exposure time or right setting not known", np.isnan(difficulty)),
        ("setting not known", np.isnan(lost)),
    ):
        count = int((usable & unusable).sum())
        if count:
            left_out[reason] = count
        usable = usable & ~unusable
    names, ids = pd.factorize(group.codes.to_numpy()[usable], sort=True)

    def codes(column: str) -> Codes:
        return pd.factorize(condensed[column].astype("category").cat.codes.to_numpy()[usable])[0].astype(np.int64)

    return Trials(
        kept=condensed["kept"].to_numpy(np.float64)[usable],
        group=names.astype(np.int64),
        ids=tuple(str(group.categories[int(place)]) for place in ids),
        burst=pd.factorize(condensed["burst"].to_numpy()[usable])[0].astype(np.int64),
        trip=codes("trip"),
        body=codes("body"),
        support=codes("support"),
        difficulty_stops=difficulty[usable],
        light_ev=condensed["light_ev"].to_numpy(np.float64)[usable],
        is_stabilised=condensed["is_stabilised"].to_numpy(bool)[usable],
        stops_lost=lost[usable],
        place=np.flatnonzero(usable).astype(np.int64),
        left_out=left_out,
    )


def strata_of(trials: Trials, *, with_setting: bool = True) -> Codes:
    """
    Return the numbers of the strata inside which frames are compared directly.

    Parameters
    ----------
    trials : Trials
    with_setting : bool
        Whether what the setting cost is part of the conditions: yes for a question about the lens, no for one about
        the setting.

    Returns
    -------
    int array, shape (frames,)
        One number for each difficulty to a stop, support, stabiliser on or off, and class of stops lost.
    """
    band = np.floor(trials.difficulty_stops / _BAND_STOPS).astype(np.int64)
    key = (band - band.min(initial=0)) * 2 + trials.is_stabilised
    key = key * (int(trials.support.max(initial=0)) + 1) + trials.support
    if with_setting:
        key = key * (len(_LOST_CLASSES_STOPS) + 1) + np.digitize(trials.stops_lost, _LOST_CLASSES_STOPS)
    return np.asarray(pd.factorize(key)[0], dtype=np.int64)


def select(trials: Trials, chosen: npt.NDArray[np.bool_]) -> Trials:
    """Return some of the trials; the groups keep their numbers."""
    names = ("kept", "group", "burst", "trip", "body", "support", "difficulty_stops", "light_ev", "is_stabilised")
    return replace(trials, **{name: getattr(trials, name)[chosen] for name in (*names, "stops_lost", "place")})
