"""Where the frames of each trip lie: gathered about the photographer's own places, else about where most are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from auditor.constants import EARTH_RADIUS_KM
from auditor.model.settings import NamedPlace
from auditor.model.whereabouts import Whereabouts

__all__ = ["distance_km", "whereabouts_of"]

Floats = npt.NDArray[np.float64]

_REACH_KM = 10.0
"""Frames within this of where most of them were made are called one place. Judgement."""

_ROUNDING_KM = 0.8
"""A place rounded to 0.01° is at most this far from the exact one: half the diagonal of 1.11 km squared."""

_EAST = 36_001  # hundredths of a degree once around, and one


def distance_km(
    latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike, other_latitude_deg: float, other_longitude_deg: float
) -> Floats:
    """
    Great-circle distance from places to another place, on a sphere.

    Notes
    -----
    The haversine form, exact for near places too. A sphere is off by half a per cent at most.

    References
    ----------
    .. [1] R. W. Sinnott, Virtues of the Haversine, Sky and Telescope 68 (1984) 159.

    Examples
    --------
    >>> distance_km(0.0, 179.9, 0.0, -179.9).round(1).tolist()
    22.2
    """
    north, east = np.radians(np.asarray(latitude_deg, float)), np.radians(np.asarray(longitude_deg, float))
    other_north, other_east = np.radians(other_latitude_deg), np.radians(other_longitude_deg)
    half = np.sin((north - other_north) / 2) ** 2
    half = half + np.cos(north) * np.cos(other_north) * np.sin((east - other_east) / 2) ** 2
    return np.asarray(2 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.minimum(half, 1.0))))


def whereabouts_of(
    group: npt.NDArray[np.int64], latitude_deg: Floats, longitude_deg: Floats, named: Sequence[NamedPlace] = ()
) -> Mapping[int, tuple[Whereabouts, ...]]:
    """
    Gather the places of frames, group by group.

    Parameters
    ----------
    group : array of int, shape (frames,)
        Such as the number of each frame's trip; below 0 belongs to none.
    latitude_deg, longitude_deg : array, shape (frames,)
        Rounded to 0.01°; NaN where not known. [deg]
    named : sequence of NamedPlace
        The photographer's own places. A frame belongs to the nearest that it lies within.

    Returns
    -------
    mapping
        For each group that has any: its places, those of most frames first.

    Examples
    --------
    >>> found = whereabouts_of(np.array([0, 0, 0]), np.array([46.2, 46.2, 46.3]), np.array([7.0, 7.0, 7.0]))
    >>> [(place.called, place.frames, place.within_km) for place in found[0]]
    [('46.20° N 7.00° E', 2, 0), ('46.30° N 7.00° E', 1, 0)]
    """
    known = (group >= 0) & ~np.isnan(latitude_deg) & ~np.isnan(longitude_deg)
    north = np.rint(latitude_deg[known] * 100).astype(np.int64) + 9_000
    east = np.rint(longitude_deg[known] * 100).astype(np.int64) + 18_000
    of_group = group[known].astype(np.int64) * (18_001 * _EAST)
    cells, counts = np.unique(of_group + north * _EAST + east, return_counts=True)
    number, cell = np.divmod(cells, 18_001 * _EAST)
    north_deg, east_deg = (cell // _EAST - 9_000) / 100, (cell % _EAST - 18_000) / 100
    starts = np.flatnonzero(np.diff(number, prepend=-1))
    ends = [*starts[1:].tolist(), len(cells)][: len(starts)]
    return {
        int(number[start]): _gathered(north_deg[start:end], east_deg[start:end], counts[start:end], named)
        for start, end in zip(starts, ends, strict=True)
    }


def _gathered(
    north: Floats, east: Floats, counts: npt.NDArray[np.int64], named: Sequence[NamedPlace]
) -> tuple[Whereabouts, ...]:
    found = []
    owner = _owners(north, east, named)
    names = [place.name for place in named]
    for name in dict.fromkeys(names):
        own = np.isin(owner, [at for at, other in enumerate(names) if other == name])
        if own.any():
            place = named[names.index(name)]
            far = distance_km(north[own], east[own], place.latitude_deg, place.longitude_deg).max()
            at = (place.latitude_deg, place.longitude_deg)
            found.append(Whereabouts(name, *at, int(np.ceil(far)), int(counts[own].sum())))
    left = owner < 0
    while left.any():
        # The most frames first; of equals the one furthest south, so that the answer does not depend on the order.
        best = int(np.argmax(np.where(left, counts, -1)))
        away = distance_km(north, east, float(north[best]), float(east[best]))
        own = left & (away <= _REACH_KM)
        within = int(np.ceil(away[own].max()))
        found.append(Whereabouts("", float(north[best]), float(east[best]), within, int(counts[own].sum())))
        left &= ~own
    return tuple(sorted(found, key=lambda place: (-place.frames, place.name, place.latitude_deg, place.longitude_deg)))


def _owners(north: Floats, east: Floats, named: Sequence[NamedPlace]) -> npt.NDArray[np.int64]:
    """Return which named place each rounded place belongs to, -1 for none."""
    owner, nearest = np.full(len(north), -1, dtype=np.int64), np.full(len(north), np.inf)
    for at, place in enumerate(named):
        away = distance_km(north, east, place.latitude_deg, place.longitude_deg)
        is_nearer = (away <= place.radius_km + _ROUNDING_KM) & (away < nearest)
        owner[is_nearer], nearest[is_nearer] = at, away[is_nearer]
    return owner
