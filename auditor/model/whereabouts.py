"""Where frames lie, in words: the photographer's own names of places, else rounded degrees; nothing is looked up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditor.wording import counted

__all__ = ["PLACE_COLUMNS", "Whereabouts", "degrees", "sentence"]

PLACE_COLUMNS = ("latitude_deg", "longitude_deg")
"""Columns that tell where a frame was made; they leave the store only when asked for."""

_MOST_TOLD = 5


@dataclass(frozen=True)
class Whereabouts:
    """
    A place and how many frames lie there.

    Attributes
    ----------
    name : str
        As settings.toml calls it, else empty.
    latitude_deg, longitude_deg : float
        Of the named place, else the rounded place of most of the frames. [deg]
    within_km : int
        All the frames lie within this of it; 0 where they share one rounded place. [km]
    frames : int
        How many.
    """

    name: str
    latitude_deg: float
    longitude_deg: float
    within_km: int
    frames: int

    @property
    def called(self) -> str:
        """
        Name, or degrees where it has none.

        Examples
        --------
        >>> Whereabouts("", 46.21, -11.62, 4, 212).called
        '46.21° N 11.62° W'
        """
        return self.name or degrees(self.latitude_deg, self.longitude_deg)


def degrees(latitude_deg: float, longitude_deg: float) -> str:
    """
    Return a rounded place as it is written.

    Examples
    --------
    >>> degrees(-33.86, 151.2)
    '33.86° S 151.20° E'
    """
    north, east = "S" if latitude_deg < 0 else "N", "W" if longitude_deg < 0 else "E"
    return f"{abs(latitude_deg):.2f}° {north} {abs(longitude_deg):.2f}° {east}"


def sentence(places: Sequence[Whereabouts], without: int = 0) -> str:
    """
    Return places in words, those of most frames first, and how many frames have none.

    Examples
    --------
    >>> sentence([Whereabouts("Old harbour", 46.2, -11.6, 2, 60), Whereabouts("", 46.5, -11.62, 12, 8)], 3)
    'Old harbour (60 frames); 46.50° N 11.62° W (8 frames, within 12 km); not recorded for 3 frames'
    """
    told = [f"{place.called} ({_count(place.frames)}{_reach(place)})" for place in places[:_MOST_TOLD]]
    rest = places[_MOST_TOLD:]
    if rest:
        frames = _count(sum(place.frames for place in rest))
        told.append(f"{len(rest)} more place{'s' if len(rest) > 1 else ''} ({frames})")
    if without:
        told.append(f"not recorded for {_count(without)}")
    return "; ".join(told)


def _reach(place: Whereabouts) -> str:
    return f", within {place.within_km} km" if place.within_km and not place.name else ""


def _count(frames: int) -> str:
    return counted(frames, "frame")
