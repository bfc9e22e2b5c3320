"""The scenario as read from story.toml: trips, segments, and the odd frames among them."""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from sample_library.cast import data_text

__all__ = ["Oddity", "Scene", "Segment", "Story", "Stray", "Trip", "load_story"]


@dataclass(frozen=True)
class Trip:
    """
    A trip; ``ratings``: where its ratings were put, and whether it was judged at all.

    ``at``: latitude and longitude that the black body recorded there, None where it recorded none. [deg]
    """

    id: str
    name: str
    folder: str
    ratings: Literal["sidecar", "embedded", "none", "few"]
    at: tuple[float, float] | None = None


@dataclass(frozen=True)
class Scene:
    """What is in front of the camera."""

    painter: str
    light: str


@dataclass(frozen=True)
class Segment:
    """
    A stretch of frames with one pairing, one setting and one kind of light on one body.

    The fields are explained at the top of story.toml. ``typed`` is None for a lens with contacts.
    """

    id: str
    trip: str
    body: str
    start: dt.datetime
    minutes: float
    frames: int
    lens: str
    distance_m: float
    shutter: tuple[float, ...]
    iso: int
    aperture: float
    scenes: tuple[str, ...]
    adapter: str = ""
    typed: float | None = None
    listed: str | None = None
    zoom_mm: float | None = None
    zoom_noted: bool = False
    distance_noted: bool = False
    setting_noted: bool = False
    support: str = "hand"
    stabiliser: bool = True
    vertical_share: float = 0.0
    flash: bool = False
    cause: str = ""
    log: Literal["noted", "missed", "same", "unreadable"] = "noted"
    shift_min: int | None = None
    doubt: str = ""
    needs: str = ""
    why: str = ""
    subject: str = ""
    note: str = ""
    at: tuple[float, float] | None = None


@dataclass(frozen=True)
class Oddity:
    """Something special about one frame of a segment, counted from 0; ``name`` renames its file."""

    segment: str
    frame: int
    kind: str
    name: str = ""


@dataclass(frozen=True)
class Stray:
    """A file of the archive that is not a whole picture."""

    kind: str
    path: str


@dataclass(frozen=True)
class Story:
    """The whole scenario."""

    trips: Mapping[str, Trip]
    scenes: Mapping[str, Scene]
    segments: tuple[Segment, ...]
    oddities: tuple[Oddity, ...]
    strays: tuple[Stray, ...]


def _frozen(entry: Mapping[str, Any]) -> dict[str, Any]:
    return {key: tuple(value) if isinstance(value, list) else value for key, value in entry.items()}


def load_story() -> Story:
    """
    Read the scenario.

    Examples
    --------
    >>> story = load_story()
    >>> [trip.name for trip in story.trips.values()]
    ['Ice-out at Ellow', 'Lantern nights', 'Vell hills', 'Clocks back in Oskerry']
    """
    told = tomllib.loads(data_text("story.toml"))
    segments = [Segment(**_frozen(entry)) for entry in told["segments"]]
    trips = [Trip(**_frozen(entry)) for entry in told["trips"]]
    at = {trip.id: trip.at for trip in trips}
    segments = [replace(segment, at=segment.at or at[segment.trip]) for segment in segments]
    return Story(
        trips={trip.id: trip for trip in trips},
        scenes={name: Scene(**entry) for name, entry in told["scenes"].items()},
        segments=tuple(sorted(segments, key=lambda segment: segment.start)),
        oddities=tuple(Oddity(**entry) for entry in told["oddities"]),
        strays=tuple(Stray(**entry) for entry in told["strays"]),
    )
