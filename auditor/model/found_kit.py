"""A commented kit.toml from bodies and lenses that were found in an archive."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from auditor.wording import counted

__all__ = ["FoundBody", "FoundLens", "id_from", "kit_text"]


@dataclass(frozen=True)
class FoundBody:
    """
    A body named in Exif.

    ``crop``: median of recorded 35 mm equivalent over focal length, None if neither. ``typed``: focal lengths of frames
    that tell neither lens nor aperture, so probably typed by hand, with their frames, most first. [mm].
    """

    make: str | None
    model: str
    frames: int
    crop: float | None
    typed: tuple[tuple[float, int], ...] = ()


@dataclass(frozen=True)
class FoundLens:
    """A lens named in Exif. ``focal_is_told``: from the lens itself; else the range of focal lengths recorded."""

    name: str
    frames: int
    focal_mm: tuple[float, float] | None
    focal_is_told: bool
    contacts: bool
    widest: float | None
    bodies: tuple[str, ...]


def id_from(name: str, taken: set[str]) -> str:
    """
    Make an id from a name: lower-case letters, digits and hyphens, unique among those taken.

    Examples
    --------
    >>> id_from("Orla 50 mm f/1.4", set()), id_from("Orla 50 mm f/1.4", {"orla-50-mm-f-1-4"})
    ('orla-50-mm-f-1-4', 'orla-50-mm-f-1-4-2')
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "unnamed"
    candidate, number = stem, 2
    while candidate in taken:
        candidate, number = f"{stem}-{number}", number + 1
    taken.add(candidate)
    return candidate


_HEAD = """\
# The kit: bodies, lenses and adapters. Started on {today} from what the archive's Exif names.
# Exif tells neither sensor sizes nor mounts, and nothing at all of a lens without contacts: add what is missing.
# `steadykeep kit` says what is still wrong or missing.

"""

_TYPED_SHOWN = 8

_ADD = """\
# A lens without contacts, as an example; take the # away and put in your own.
# [[lenses]]
# id = "orla-50"                     # lower-case letters, digits, hyphens
# name = "Orla 50 mm f/1.4"
# focal_mm = 50                      # as engraved; a zoom: [35, 70]
# measured_focal_mm = 51.6           # where you measured it
# max_aperture = 1.4
# mount = "M42"
# contacts = false
# close_focus_m = 0.45
# exif_names = ["ORLA50"]            # the name you gave it in the body's own lens list, if any
# acquired = 2022-04-09

# An adapter, as an example. factor: 1 plain, below 1 a focal reducer, above 1 a teleconverter.
# [[adapters]]
# id = "m42-reducer"
# name = "M42 reducer 0.71x"
# lens_mount = "M42"
# body_mount = "the body's mount, as written above"
# factor = 0.71
"""


def kit_text(bodies: Sequence[FoundBody], lenses: Sequence[FoundLens], today: dt.date) -> str:
    """
    Return the text of a kit.toml, with a comment wherever the photographer knows more than Exif.

    Examples
    --------
    >>> text = kit_text([FoundBody(None, "Silverline 2", 12, 2.0)], [], dt.date(2026, 5, 5))
    >>> print(text[text.index("[[bodies]]") : text.index("mount =")])
    [[bodies]]                           # 12 frames
    id = "silverline-2"
    name = "Silverline 2"
    exif_model = "Silverline 2"
    # sensor_mm = [0.0, 0.0]             # width and height in mm, from the manual; ... a diagonal near 21.6 mm
    """
    taken: set[str] = set()
    mounts = {body.model: f"mount of {body.model}" for body in bodies}
    parts = [_body(body, mounts[body.model], taken) for body in bodies]
    parts += [_lens(lens, mounts, taken) for lens in lenses]
    return _HEAD.format(today=today) + "\n".join([*parts, _ADD])


def _text(value: str) -> str:
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    escaped = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in escaped)
    return f'"{escaped}"'


def _line(code: str, comment: str = "") -> str:
    return f"{code:<36} # {comment}" if comment else code


def _body(body: FoundBody, mount: str, taken: set[str]) -> str:
    hint = "width and height in mm, from the manual"
    if body.crop is not None:
        hint += f"; recorded equivalents suggest a diagonal near {43.27 / body.crop:.1f} mm"
    lines = [
        _line("[[bodies]]", counted(body.frames, "frame")),
        f"id = {_text(id_from(body.model, taken))}",
        f"name = {_text(body.model)}",
        f"exif_model = {_text(body.model)}",
        *([f"exif_make = {_text(body.make)}"] if body.make else []),
        _line("# sensor_mm = [0.0, 0.0]", hint),
        _line(f"mount = {_text(mount)}", "any word; what fits shares it"),
        _line("# stabiliser_stops = 5.0", "as the maker rates it; 0 for a body without"),
        _line('setting_recorded_in = "focal-length"', "or lens-name, or none: where the typed value ends up"),
        *_typed(body.typed),
    ]
    return "\n".join(lines) + "\n"


def _typed(values: Sequence[tuple[float, int]]) -> list[str]:
    if not values:
        return []
    shown = ", ".join(f"{mm:g} mm on {counted(frames, 'frame')}" for mm, frames in values[:_TYPED_SHOWN])
    more = f" and {counted(len(values) - _TYPED_SHOWN, 'other value')}" if len(values) > _TYPED_SHOWN else ""
    return [
        "# Typed by hand, it seems, for these frames tell neither a lens nor an aperture:",
        f"#   {shown}{more}",
        "# Which lenses were they? Add each below, with its adapter; a value may hold the adapter's factor.",
    ]


def _lens(lens: FoundLens, mounts: dict[str, str], taken: set[str]) -> str:
    lines = [
        _line("[[lenses]]", counted(lens.frames, "frame")),
        f"id = {_text(id_from(lens.name, taken))}",
        f"name = {_text(lens.name)}",
        _focal(lens),
        *([f"max_aperture = {lens.widest:g}"] if lens.widest else []),
        _mount(lens, mounts),
        _line(f"contacts = {str(lens.contacts).lower()}", "it told the body an aperture" if lens.contacts else ""),
        f"exif_names = [{_text(lens.name)}]",
    ]
    # A lens without a focal length cannot be used yet: it is laid out but kept as a comment.
    prefix = "" if lens.focal_mm else "# "
    return "\n".join(prefix + line for line in lines) + "\n"


def _focal(lens: FoundLens) -> str:
    if lens.focal_mm is None:
        return _line("focal_mm = 0", "as engraved; a zoom: [35, 70]")
    short, long = lens.focal_mm
    code = f"focal_mm = {short:g}" if short == long else f"focal_mm = [{short:g}, {long:g}]"
    return _line(code, "" if lens.focal_is_told else "from the frames' focal lengths; correct it from the lens")


def _mount(lens: FoundLens, mounts: dict[str, str]) -> str:
    own = [mounts[body] for body in lens.bodies if body in mounts]
    if lens.contacts and len(own) == 1:
        return f"mount = {_text(own[0])}"
    return _line(f"mount = {_text(own[0] if own else 'not known')}", "put in the lens's own mount")
