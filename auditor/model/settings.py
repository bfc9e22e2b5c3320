"""settings.toml: archives, keep rule, tolerances, the hand, trips and clocks. Every key has a default."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ConfigDict, Field, model_validator

from auditor.constants import HAND_EXPONENT, HAND_SHAKE_MRAD, HAND_SPREAD_STOPS
from auditor.errors import SettingsError, nearest
from auditor.model.documents import AsTuple, Entry, parse_toml, read_text, validate

__all__ = [
    "Clock",
    "Habits",
    "Hand",
    "Keep",
    "NamedPlace",
    "NamedTrip",
    "Plan",
    "Settings",
    "Sidecar",
    "Tolerance",
    "Trips",
    "load_settings",
    "parse_settings",
]

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]


def _start_of_day(value: object) -> object:
    """Let a bare date stand for its first moment."""
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return dt.datetime.combine(value, dt.time())
    return value


LocalTime = Annotated[dt.datetime, BeforeValidator(_start_of_day)]


class _Span(Entry):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, validate_by_name=True, validate_by_alias=True)


class Keep(Entry):
    """What makes a frame a keeper."""

    rule: Literal["rating", "list", "folder"] = Field(default="rating", examples=['rule = "rating"'])
    rating_at_least: int = Field(default=1, ge=-1, le=5, examples=["rating_at_least = 1"])
    list: str = Field(default="keepers.txt", min_length=1, examples=['list = "keepers.txt"'])
    folder: str = Field(default="selected", min_length=1, examples=['folder = "selected"'])


class Tolerance(Entry):
    """
    What still counts as right and as sharp. Blur: px if given, else µm if given, else the diagonal's fraction.

    ``wrong_from``: a setting is called wrong where the chance of it, whatever was mounted, is at least this.
    """

    setting_percent: float = Field(default=10.0, gt=0, lt=100, examples=["setting_percent = 10.0"])
    wrong_from: float = Field(default=0.5, gt=0, lt=1, examples=["wrong_from = 0.5"])
    blur_diagonal_fraction: Positive = Field(default=1500.0, examples=["blur_diagonal_fraction = 1500"])
    blur_um: Positive | None = Field(default=None, examples=["blur_um = 15.0"])
    blur_px: Positive | None = Field(default=None, examples=["blur_px = 2.0"])

    @model_validator(mode="after")
    def _one_measure(self) -> Tolerance:
        if self.blur_um is not None and self.blur_px is not None:
            raise ValueError("blur_um and blur_px are both given; keep the one you mean")
        return self


class Hand(Entry):
    """The photographer's shake, per axis: shake_mrad · (t / t0)^exponent with t0 = 1/60 s."""

    shake_mrad: Positive = Field(default=HAND_SHAKE_MRAD, examples=["shake_mrad = 0.29"])
    exponent: float = Field(default=HAND_EXPONENT, gt=0, le=1, examples=["exponent = 0.8"])
    spread_stops: float = Field(default=HAND_SPREAD_STOPS, ge=0, le=3, examples=["spread_stops = 0.5"])


Share = Annotated[float, Field(gt=0, lt=1, allow_inf_nan=False)]


class Habits(Entry):
    """
    How this photographer works: where the sequence model begins, and how far it trusts each source.

    Every value is a judgement to begin with; with ``learn`` the audit re-estimates it from the archive, each time from
    what is written here, and shows what it found.
    """

    learn: bool = Field(default=True, examples=["learn = true"])
    forgets: Share = Field(default=0.15, examples=["forgets = 0.15"])
    factor_left_out: Share = Field(default=0.1, examples=["factor_left_out = 0.1"])
    equivalent_entered: Share = Field(default=0.02, examples=["equivalent_entered = 0.02"])
    long_end_of_zoom: Share = Field(default=0.06, examples=["long_end_of_zoom = 0.06"])
    digit_slip: Share = Field(default=0.01, examples=["digit_slip = 0.01"])
    odd_value: Share = Field(default=0.01, examples=["odd_value = 0.01"])
    mends: Share = Field(default=0.03, examples=["mends = 0.03"])
    retypes: Share = Field(default=0.002, examples=["retypes = 0.002"])
    zoom_turns: Share = Field(default=0.01, examples=["zoom_turns = 0.01"])
    lens_change_s: Positive = Field(default=45.0, examples=["lens_change_s = 45"])
    changes_a_pause: Share = Field(default=0.1, examples=["changes_a_pause = 0.1"])
    log_coverage: Share = Field(default=0.75, examples=["log_coverage = 0.75"])
    log_error_s: Positive = Field(default=60.0, examples=["log_error_s = 60"])
    log_late_s: float = Field(default=0.0, ge=-86400, le=86400, examples=["log_late_s = 0"])
    log_misnames: Share = Field(default=0.02, examples=["log_misnames = 0.02"])


class Sidecar(Entry):
    """Which frames get their lens written into an XMP sidecar, and how a new sidecar is named."""

    confidence_at_least: float = Field(default=0.95, gt=0, le=1, examples=["confidence_at_least = 0.95"])
    naming: Literal["name.xmp", "name.ext.xmp"] = Field(default="name.xmp", examples=['naming = "name.xmp"'])


class Plan(Entry):
    """What the plan weighs, and from where on it speaks. Every value is a judgement, the photographer's to change."""

    burst_pause_s: Positive = Field(default=2.0, examples=["burst_pause_s = 2.0"])
    least_judged: int = Field(default=40, ge=1, examples=["least_judged = 40"])
    few_keepers_a_year: Positive = Field(default=12.0, examples=["few_keepers_a_year = 12"])
    dear_keeper: Positive = Field(default=20.0, examples=["dear_keeper = 20"])
    reach_percent: float = Field(default=15.0, gt=0, lt=100, examples=["reach_percent = 15"])
    reach_stops: float = Field(default=0.5, ge=0, le=5, examples=["reach_stops = 0.5"])
    setting_share: Share = Field(default=0.25, examples=["setting_share = 0.25"])
    weigh_unused: float = Field(default=1.0, ge=0, examples=["weigh_unused = 1.0"])
    weigh_covered: float = Field(default=1.0, ge=0, examples=["weigh_covered = 1.0"])
    weigh_worse: float = Field(default=1.0, ge=0, examples=["weigh_worse = 1.0"])
    weigh_cost: float = Field(default=0.5, ge=0, examples=["weigh_cost = 0.5"])
    sell_from: Share = Field(default=0.5, examples=["sell_from = 0.5"])


class NamedTrip(_Span):
    """Days that the photographer calls by a name, both ends included."""

    name: str = Field(min_length=1, examples=['name = "Harbour week"'])
    first_day: dt.date = Field(alias="from", examples=["from = 2026-05-01"])
    last_day: dt.date = Field(alias="to", examples=["to = 2026-05-04"])

    @model_validator(mode="after")
    def _ordered(self) -> NamedTrip:
        if self.last_day < self.first_day:
            raise ValueError(f"to = {self.last_day} is before from = {self.first_day}")
        return self


class Trips(Entry):
    """How the archive falls into trips."""

    gap_hours: Positive = Field(default=36.0, examples=["gap_hours = 36"])
    named: Annotated[tuple[NamedTrip, ...], AsTuple] = ()


class NamedPlace(Entry):
    """A place that the photographer calls by a name: what lies within a radius of a point."""

    name: str = Field(min_length=1, examples=['name = "Old harbour"'])
    latitude_deg: float = Field(ge=-90, le=90, examples=["latitude_deg = 46.21, north of the equator positive"])
    longitude_deg: float = Field(ge=-180, le=180, examples=["longitude_deg = -11.62, east of Greenwich positive"])
    radius_km: float = Field(default=2.0, gt=0, le=1000, examples=["radius_km = 2"])


class Clock(_Span):
    """A body's clock was wrong between two of its own times; ``add_minutes`` puts it right."""

    body: str = Field(examples=['body = "one"'])
    first: LocalTime = Field(alias="from", examples=["from = 2026-05-01T00:00:00"])
    last: LocalTime = Field(alias="to", examples=["to = 2026-05-03T00:00:00"])
    add_minutes: float = Field(allow_inf_nan=False, examples=["add_minutes = 60"])

    @model_validator(mode="after")
    def _ordered(self) -> Clock:
        if self.last < self.first:
            raise ValueError(f"to = {self.last} is before from = {self.first}")
        return self


class Settings(Entry):
    """All of settings.toml."""

    archives: dict[str, str] = Field(default_factory=dict, examples=['main = "/photos/2026"'])
    keep: Keep = Keep()
    tolerance: Tolerance = Tolerance()
    hand: Hand = Hand()
    habits: Habits = Habits()
    sidecar: Sidecar = Sidecar()
    plan: Plan = Plan()
    trips: Trips = Trips()
    places: tuple[NamedPlace, ...] = ()
    clocks: tuple[Clock, ...] = ()


_SECTIONS: dict[str, type[Entry]] = {
    "keep": Keep,
    "tolerance": Tolerance,
    "hand": Hand,
    "habits": Habits,
    "sidecar": Sidecar,
    "plan": Plan,
}


def load_settings(path: Path) -> Settings:
    """
    Read settings.toml; archive folders are taken relative to where it lies.

    Raises
    ------
    SettingsError
        With every problem in it at once.
    """
    settings = parse_settings(read_text(path, SettingsError), path.name)
    folders = {
        name: folder if "://" in folder else str(path.parent / Path(folder).expanduser())
        for name, folder in settings.archives.items()
    }
    return settings.model_copy(update={"archives": folders})


def parse_settings(text: str, source: str = "settings.toml") -> Settings:
    r"""
    Turn the text of a settings.toml into Settings.

    Raises
    ------
    SettingsError
        With every problem in it at once.

    Examples
    --------
    >>> parse_settings("[tolerance]\nsetting_percent = 5").tolerance.setting_percent
    5.0
    """
    tables = parse_toml(text, source, SettingsError)
    known = {"archives", "trips", "places", "clocks", *_SECTIONS}
    problems = [f"unknown table [{name}]{nearest(name, known)}" for name in tables if name not in known]
    values: dict[str, Any] = {}
    for name, kind in _SECTIONS.items():
        values[name], wrong = validate(kind, tables.get(name, {}), f"[{name}]")
        problems += wrong
    values["archives"], wrong = _archives(tables.get("archives", {}))
    problems += wrong
    values["trips"], wrong = _trips(tables.get("trips", {}))
    problems += wrong
    values["places"], wrong = _list_of(NamedPlace, tables.get("places", []), "places")
    problems += wrong
    values["clocks"], wrong = _list_of(Clock, tables.get("clocks", []), "clocks")
    problems += wrong
    if problems:
        count = f"{len(problems)} problem{'s' if len(problems) > 1 else ''}"
        raise SettingsError(f"{source}: {count}, nothing was computed", problems)
    return Settings(**values)


def _archives(table: object) -> tuple[dict[str, str], list[str]]:
    if not isinstance(table, dict):
        return {}, ['[archives] should name folders, such as main = "/photos/2026"']
    wrong = [
        f'[archives]: {name} = {folder!r} should be a folder in quotes, such as main = "/photos/2026"'
        for name, folder in table.items()
        if not isinstance(folder, str) or not folder
    ]
    return table, wrong


def _trips(table: object) -> tuple[Trips | None, list[str]]:
    if not isinstance(table, dict):
        return None, ["[trips] should be a table, such as gap_hours = 36"]
    named, problems = _list_of(NamedTrip, table.get("named", []), "trips.named")
    trips, wrong = validate(Trips, {key: value for key, value in table.items() if key != "named"}, "[trips]")
    return (trips.model_copy(update={"named": named}) if trips else None), problems + wrong


def _list_of(kind: type[Any], tables: object, name: str) -> tuple[tuple[Any, ...], list[str]]:
    if not isinstance(tables, list):
        return (), [f"{name} should be a list of tables, each beginning with [[{name}]]"]
    entries, problems = [], []
    for number, table in enumerate(tables):
        entry, wrong = validate(kind, table, f"{name}[{number}]")
        problems += wrong
        entries.append(entry)
    return tuple(entries), problems
