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
    worth : array
        Frames that each stands for: 1, or more where bursts were drawn from a group with very many. [frames]
    counted : (int array, int array), shape (groups,)
        All judged and kept frames of each group, drawn or not.
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
    worth: Floats
    counted: tuple[Codes, Codes]
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


def trials_of(condensed: pd.DataFrame, by: str = "lens", *, most_frames: int = 20_000) -> Trials:
    """
    Take the judged frames whose conditions are known.

    Parameters
    ----------
    condensed : DataFrame
        Columns of `auditor.audit.condensed.CONDENSED`.
    by : str
        Grouping that is compared: lens, pairing, body.
    most_frames : int
        From a group with more, whole bursts are drawn at random until there are about so many: more would not change
        what is said, only when. [frames]

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
    kept = condensed["kept"].to_numpy()[usable]
    counted = np.bincount(names), np.bincount(names, kept == 1).astype(np.int64)
    drawn, worth = _drawn(names, condensed["burst"].to_numpy()[usable], counted[0], most_frames)
    place = np.flatnonzero(usable)[drawn].astype(np.int64)

    def codes(column: str) -> Codes:
        return pd.factorize(condensed[column].astype("category").cat.codes.to_numpy()[place])[0].astype(np.int64)

    return Trials(
        kept=condensed["kept"].to_numpy(np.float64)[place],
        group=names[drawn].astype(np.int64),
        ids=tuple(str(group.categories[int(place)]) for place in ids),
        burst=pd.factorize(condensed["burst"].to_numpy()[place])[0].astype(np.int64),
        trip=codes("trip"),
        body=codes("body"),
        support=codes("support"),
        difficulty_stops=difficulty[place],
        light_ev=condensed["light_ev"].to_numpy(np.float64)[place],
        is_stabilised=condensed["is_stabilised"].to_numpy(bool)[place],
        stops_lost=lost[place],
        place=place,
        worth=worth,
        counted=counted,
        left_out=left_out,
    )


def _drawn(group: Codes, burst: npt.NDArray[np.integer], size: Codes, most: int) -> tuple[Codes, Floats]:
    """Draw whole bursts of the groups that are larger than most; return the places, and what each stands for."""
    if not size.size or int(size.max()) <= most:
        return np.arange(group.size), np.ones(group.size)
    share = np.minimum(most / np.maximum(size, 1), 1.0)
    lot = np.random.default_rng(11).random(int(burst.max()) + 1)[burst]
    places = np.flatnonzero(lot < share[group])
    count = np.maximum(np.bincount(group[places], minlength=size.size), 1)
    return places, (size / count)[group[places]]


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
    return replace(trials, **{name: getattr(trials, name)[chosen] for name in (*names, "stops_lost", "place", "worth")})
