"""The kit: bodies, lenses and adapters, as kit.toml tells of them."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import Field, field_validator, model_validator

from auditor.errors import KitError, nearest
from auditor.model.documents import AsTuple, Entry, Pair, parse_toml, read_text, validate

__all__ = ["Adapter", "Body", "Kit", "Lens", "load_kit", "parse_kit"]

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
E = TypeVar("E", "Body", "Lens", "Adapter")


def _check_id(value: object) -> object:
    """Say what an id may hold in words instead of showing a pattern."""
    if isinstance(value, str) and not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", value):
        raise ValueError("may hold lower-case letters, digits and single hyphens only")
    return value


class Body(Entry):
    """
    A camera body. Lengths in mm.

    ``sensor_mm`` and ``stabiliser_stops`` are None until the photographer fills them in: a new kit holds bodies
    that were found in the archive, whose Exif tells neither. What needs them is then not known.
    """

    id: str = Field(examples=['id = "one"'])
    name: str = Field(min_length=1, examples=['name = "Silver body"'])
    exif_model: str = Field(min_length=1, examples=['exif_model = "Silverline 2"'])
    exif_make: str | None = Field(default=None, examples=['exif_make = "Silverline"'])
    serial: str | None = Field(default=None, examples=['serial = "0012345"'])
    sensor_mm: Annotated[tuple[Positive, Positive] | None, AsTuple] = Field(
        default=None, examples=["sensor_mm = [17.4, 13.0], width and height; the manual's specifications list it"]
    )
    mount: str = Field(min_length=1, examples=['mount = "MFT"'])
    flange_mm: Positive | None = Field(default=None, examples=["flange_mm = 19.25"])
    stabiliser_stops: float | None = Field(default=None, ge=0, le=12, examples=["stabiliser_stops = 5.0 (0 = none)"])
    setting_recorded_in: Literal["focal-length", "lens-name", "none"] = Field(
        default="focal-length", examples=['setting_recorded_in = "focal-length"']
    )
    setting_values_mm: Annotated[tuple[Positive, ...], AsTuple] = Field(
        default=(), examples=["setting_values_mm = [24, 28, 35, 50]"]
    )
    stabiliser_gain: Positive = Field(default=1.0, examples=["stabiliser_gain = 1.0"])

    _id = field_validator("id")(_check_id)


class Lens(Entry):
    """A lens. ``focal_mm`` is (short end, long end); a prime has the same number twice. Lengths in mm."""

    id: str = Field(examples=['id = "orla-50"'])
    name: str = Field(min_length=1, examples=['name = "Orla 50 mm f/1.4"'])
    focal_mm: Pair = Field(examples=["focal_mm = 50, or for a zoom focal_mm = [35, 70]"])
    measured_focal_mm: Positive | None = Field(default=None, examples=["measured_focal_mm = 51.6"])
    max_aperture: Positive | None = Field(default=None, examples=["max_aperture = 1.4"])
    mount: str = Field(min_length=1, examples=['mount = "M42"'])
    contacts: bool = Field(default=False, examples=["contacts = false"])
    close_focus_m: Positive | None = Field(default=None, examples=["close_focus_m = 0.45"])
    focusing: Literal["unit", "internal"] = Field(default="unit", examples=['focusing = "unit"'])
    breathing: Annotated[tuple[tuple[Positive, Positive], ...], AsTuple] = Field(
        default=(), examples=["breathing = [[0.45, 55.0], [1.0, 52.9]]"]
    )
    image_circle_mm: Positive | None = Field(default=None, examples=["image_circle_mm = 43.3"])
    exif_names: Annotated[tuple[str, ...], AsTuple] = Field(default=(), examples=['exif_names = ["ORLA50"]'])
    acquired: dt.date | None = Field(default=None, examples=["acquired = 2022-04-09"])
    sold: dt.date | None = Field(default=None, examples=["sold = 2024-10-01"])
    price: float | None = Field(default=None, ge=0, examples=["price = 140.0"])
    currency: str | None = Field(default=None, examples=['currency = "EUR"'])

    _id = field_validator("id")(_check_id)

    @field_validator("focal_mm")
    @classmethod
    def _ordered(cls, ends: tuple[float, float]) -> tuple[float, float]:
        if min(ends) <= 0:
            raise ValueError("should be greater than 0")
        if ends[0] > ends[1]:
            raise ValueError("has its ends reversed, the short end comes first")
        return ends

    @model_validator(mode="after")
    def _one_focal_length_was_measured(self) -> Lens:
        if self.measured_focal_mm is not None and self.is_zoom:
            raise ValueError("measured_focal_mm belongs to a lens of one focal length; leave it out for a zoom")
        if self.acquired and self.sold and self.sold < self.acquired:
            raise ValueError(f"sold = {self.sold} is before acquired = {self.acquired}")
        return self

    @property
    def is_zoom(self) -> bool:
        """Whether the focal length can be changed."""
        return self.focal_mm[0] < self.focal_mm[1]

    @property
    def true_focal_mm(self) -> tuple[float, float]:
        """Short and long end at infinity, in mm, as measured where it was."""
        if self.measured_focal_mm is not None:
            return (self.measured_focal_mm, self.measured_focal_mm)
        return self.focal_mm

    def was_owned_on(self, day: dt.date) -> bool:
        """Whether the lens was in the kit on a day, as far as its dates tell."""
        return (self.acquired is None or self.acquired <= day) and (self.sold is None or day <= self.sold)


class Adapter(Entry):
    """An adapter. ``factor``: 1 plain, below 1 a focal reducer, above 1 a teleconverter. Lengths in mm."""

    id: str = Field(examples=['id = "m42-reducer"'])
    name: str = Field(min_length=1, examples=['name = "M42 reducer 0.71x"'])
    lens_mount: str = Field(min_length=1, examples=['lens_mount = "M42"'])
    body_mount: str = Field(min_length=1, examples=['body_mount = "MFT"'])
    factor: float = Field(
        default=1.0, gt=0, le=4, allow_inf_nan=False, examples=["factor = 0.71 (1 plain, below 1 a reducer)"]
    )
    thickness_mm: Positive | None = Field(default=None, examples=["thickness_mm = 26.2"])
    extension_mm: Pair = Field(default=(0.0, 0.0), examples=["extension_mm = 10.0, or [0, 15] for a helicoid"])
    contacts: bool = Field(default=False, examples=["contacts = false"])

    _id = field_validator("id")(_check_id)

    @field_validator("extension_mm")
    @classmethod
    def _ordered(cls, ends: tuple[float, float]) -> tuple[float, float]:
        if ends[0] < 0 or ends[0] > ends[1]:
            raise ValueError("should be the shortest and the longest extension, neither below 0")
        return ends


class Kit(Entry):
    """Everything the photographer mounts. Ids are unique within bodies, lenses and adapters."""

    bodies: tuple[Body, ...] = ()
    lenses: tuple[Lens, ...] = ()
    adapters: tuple[Adapter, ...] = ()

    @property
    def gaps(self) -> tuple[str, ...]:
        """What the photographer has yet to fill in, one sentence for each kind, with what it costs."""
        asked = (
            ("sensor_mm", "shake blur is not computed", "sensor_mm = [17.4, 13.0], width and height"),
            ("stabiliser_stops", "what a wrong setting cost is not computed", "stabiliser_stops = 5.0, or 0 for none"),
        )
        found = []
        for key, cost, example in asked:
            ids = [f'"{body.id}"' for body in self.bodies if getattr(body, key) is None]
            if ids:
                more = f" and {len(ids) - 5} more" if len(ids) > 5 else ""
                found.append(f"kit.toml: {key} is missing for {', '.join(ids[:5])}{more}: {cost}; add {example}")
        return tuple(found)

    def body(self, body_id: str) -> Body:
        """Return a body by id; KitError names the nearest where there is none."""
        return _find(self.bodies, body_id, "body")

    def lens(self, lens_id: str) -> Lens:
        """Return a lens by id; KitError names the nearest where there is none."""
        return _find(self.lenses, lens_id, "lens")

    def adapter(self, adapter_id: str) -> Adapter:
        """Return an adapter by id; KitError names the nearest where there is none."""
        return _find(self.adapters, adapter_id, "adapter")


def _find(entries: Sequence[E], wanted: str, noun: str) -> E:
    for entry in entries:
        if entry.id == wanted:
            return entry
    known = [entry.id for entry in entries]
    hint = nearest(wanted, known) or f"; the kit has {', '.join(known) or 'none'}"
    raise KitError(f'{noun} "{wanted}" is not in the kit{hint}')


def load_kit(path: Path) -> Kit:
    """
    Read kit.toml.

    Raises
    ------
    KitError
        With every problem in it at once.
    """
    return parse_kit(read_text(path, KitError), path.name)


def parse_kit(text: str, source: str = "kit.toml") -> Kit:
    r"""
    Turn the text of a kit.toml into a Kit.

    Raises
    ------
    KitError
        With every problem in it at once; nothing is computed from a kit that was refused.

    Examples
    --------
    >>> kit = parse_kit('[[lenses]]\nid = "orla-50"\nname = "Orla 50"\nfocal_mm = 50\nmount = "M42"')
    >>> kit.lens("orla-50").focal_mm
    (50.0, 50.0)
    """
    tables = parse_toml(text, source, KitError)
    kinds: dict[str, type[Body] | type[Lens] | type[Adapter]] = {"bodies": Body, "lenses": Lens, "adapters": Adapter}
    problems = [f"unknown table [{name}]{nearest(name, kinds)}" for name in tables if name not in kinds]
    found: dict[str, list[Any]] = {}
    for name, kind in kinds.items():
        entries, wrong = _entries(kind, tables.get(name, []), name)
        found[name] = entries
        problems += wrong
    if problems:
        count = f"{len(problems)} problem{'s' if len(problems) > 1 else ''}"
        raise KitError(f"{source}: {count}, nothing was computed", problems)
    return Kit(**{name: tuple(entries) for name, entries in found.items()})


def _entries(kind: type[Any], tables: object, name: str) -> tuple[list[Any], list[str]]:
    if not isinstance(tables, list):
        return [], [f"{name} should be a list of tables, each beginning with [[{name}]]"]
    entries: list[Any] = []
    problems: list[str] = []
    for number, table in enumerate(tables):
        shown = f' "{table["id"]}"' if isinstance(table, dict) and "id" in table else ""
        entry, wrong = validate(kind, table, f"{name}[{number}]{shown}")
        problems += wrong
        if entry is not None:
            entries.append(entry)
    return entries, problems + _doubled(tables, name)


def _doubled(tables: Iterable[object], name: str) -> list[str]:
    first: dict[str, int] = {}
    problems = []
    for number, table in enumerate(tables):
        entry_id = table.get("id") if isinstance(table, dict) else None
        if not isinstance(entry_id, str):
            continue
        if entry_id in first:
            problems.append(
                f'{name}[{number}] "{entry_id}": this id is already that of {name}[{first[entry_id]}]; '
                f'give it its own, such as "{entry_id}-2"'
            )
        first.setdefault(entry_id, number)
    return problems
