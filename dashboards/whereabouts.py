"""Where the trips and the frames were; shown on these pages only, and in what is printed where it was asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from auditor.audit.whereabouts import whereabouts_of
from auditor.model.settings import NamedPlace
from auditor.model.whereabouts import PLACE_COLUMNS, Whereabouts, degrees
from dashboards.desk import Desk, codes_of
from dashboards.filters import Filters

__all__ = ["TripPlaces", "frame_place", "places_by_trip", "shortly"]

TripPlaces = tuple[tuple[Whereabouts, ...], int]
"""Where a trip was, and how many of its frames do not tell."""

_SHORTLY = 2


def places_by_trip(desk: Desk, filters: Filters) -> Mapping[str, TripPlaces]:
    """
    Return where each trip was, of the frames that the filters leave.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    mapping
        By trip; a trip of which no frame tells a place is left out.
    """
    frames = desk.rows(filters, ["trip", *PLACE_COLUMNS])
    names = frames["trip"].cat.categories
    codes = codes_of(frames["trip"])
    north, east = (frames[column].to_numpy(dtype=np.float64) for column in PLACE_COLUMNS)
    found = whereabouts_of(np.where(codes < len(names), codes, -1), north, east, _named(desk))
    counts: npt.NDArray[np.int64] = np.bincount(codes, minlength=len(names))
    return {
        str(names[code]): (places, int(counts[code]) - sum(place.frames for place in places))
        for code, places in found.items()
    }


def shortly(places: Sequence[Whereabouts]) -> str:
    """
    Return the places of most frames by name or degrees, without counts.

    Examples
    --------
    >>> quay = Whereabouts("Quay", 46.2, -11.6, 0, 3)
    >>> shortly([quay]), shortly([quay] * 4)
    ('Quay', 'Quay; Quay; 2 more')
    """
    told = [place.called for place in places[:_SHORTLY]]
    rest = len(places) - _SHORTLY
    return "; ".join([*told, f"{rest} more"] if rest > 0 else told)


def frame_place(desk: Desk, place: int) -> str:
    """Return where a frame was made, to about a kilometre; empty where it does not tell."""
    north, east = (desk.frames[column].to_numpy(dtype=np.float64)[place : place + 1] for column in PLACE_COLUMNS)
    found = whereabouts_of(np.zeros(1, dtype=np.int64), north, east, _named(desk)).get(0, ())
    if not found:
        return ""
    where = degrees(float(north[0]), float(east[0]))
    return f"{found[0].name}, {where}" if found[0].name else where


def _named(desk: Desk) -> tuple[NamedPlace, ...]:
    return desk.workspace.settings.places if desk.workspace else ()
