"""Every key of kit.toml as a form asks for it: its name in words, its unit, what it is good for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, TypeAlias

__all__ = ["FIELDS", "NOUNS", "Field"]

Shape: TypeAlias = Literal["text", "number", "pair", "numbers", "lines", "rows", "choice", "yes", "day"]


@dataclass(frozen=True)
class Field:
    """
    One key of an entry.

    Parameters
    ----------
    key : str
        As in kit.toml.
    label : str
        With the unit.
    why : str
        What it means and what it is good for; where to find it.
    shape : str
        How it is typed: a text, a number, a pair of numbers, several numbers, several lines, rows of two
        numbers, a choice, yes or no, a day.
    parts : tuple of str
        Labels of a pair's or a row's two numbers.
    choices : tuple of (str, str)
        Value and words; the first holds where the key is missing.
    needed : bool
        An entry without it is refused.
    """

    key: str
    label: str
    why: str
    shape: Shape = "text"
    parts: tuple[str, str] = ("", "")
    choices: tuple[tuple[str, str], ...] = ()
    needed: bool = False


_ID = "Its short name in the log and in the store: lower-case letters, digits, hyphens."

_BODY = (
    Field("id", "Id", _ID, needed=True),
    Field("name", "Name", "As the pages should call it.", needed=True),
    Field("exif_model", "Exif model", "What stands in Model of its files; capitals do not matter.", needed=True),
    Field("exif_make", "Exif make", "Only where two makers use one model name."),
    Field("serial", "Serial number", "As in Exif; tells two bodies of one model apart."),
    Field(
        "sensor_mm", "Sensor, mm", "From the manual's specifications. Without it shake blur is not computed.",
        shape="pair", parts=("Sensor width, mm", "Sensor height, mm"),
    ),
    Field("mount", "Mount", "Its short name, such as MFT.", needed=True),
    Field("flange_mm", "Flange focal distance, mm", "From mount to sensor; needed where the mount is not well known.",
          shape="number"),
    Field(
        "stabiliser_stops", "Stabiliser, stops",
        "The maker's figure; 0 for none. Without it the cost of a wrong setting is not computed.", shape="number",
    ),
    Field(
        "setting_recorded_in", "The typed setting is recorded in", "Where in Exif the typed focal length ends up.",
        shape="choice",
        choices=(("focal-length", "FocalLength"), ("lens-name", "The name from its list of lenses"),
                 ("none", "Nowhere")),
    ),
    Field("setting_values_mm", "Values its menu offers, mm",
          "Only where it offers no others; with spaces between, such as 24 28 35 50.", shape="numbers"),
    Field("stabiliser_gain", "Stabiliser's gain",
          "Measured by setting tests: its correction follows gain × what is typed. 1 where not measured.",
          shape="number"),
)  # fmt: skip

_LENS = (
    Field("id", "Id", _ID, needed=True),
    Field("name", "Name", "As the pages should call it.", needed=True),
    Field(
        "focal_mm", "Focal length, mm", "As engraved. A zoom has two; leave the long end empty for any other lens.",
        shape="pair", parts=("Focal length, mm", "Long end of a zoom, mm"), needed=True,
    ),
    Field("measured_focal_mm", "Measured focal length, mm",
          "At infinity, where you measured it; it outranks the engraved one. Not for a zoom.", shape="number"),
    Field("max_aperture", "Widest aperture, f/", "The smallest f-number engraved.", shape="number"),
    Field("mount", "Mount", "Its own mount, such as M42; what fits what is worked out from it.", needed=True),
    Field("contacts", "It tells the body its focal length and aperture", "Then there is nothing to type for it.",
          shape="yes"),
    Field("close_focus_m", "Closest focus, m", "From the sensor. Bounds how far its right setting can grow.",
          shape="number"),
    Field("focusing", "How it focuses", "The whole lens moves out, or glass inside moves.", shape="choice",
          choices=(("unit", "The whole lens moves"), ("internal", "Inside"))),
    Field(
        "breathing", "Its right setting close up, as measured",
        "A row for each focus distance, without adapter; a setting test fills one in. Empty rows do not count.",
        shape="rows", parts=("Focus distance, m", "Right setting, mm"),
    ),
    Field("image_circle_mm", "Image circle, mm", "The diameter that it covers; 43.3 for one made for 24 × 36 mm.",
          shape="number"),
    Field("exif_names", "Names in Exif", "One a line: what stands in LensModel, its own or typed by you.",
          shape="lines"),
    Field("acquired", "Yours since", "Year-month-day; frames before are never put down to it.", shape="day"),
    Field("price", "Price", "What you paid; the plan works out what a keeper has cost.", shape="number"),
    Field("currency", "Currency", "Such as EUR; nothing is converted."),
    Field("sold", "Sold on", "Year-month-day. It keeps its frames and its history.", shape="day"),
)  # fmt: skip

_ADAPTER = (
    Field("id", "Id", _ID, needed=True),
    Field("name", "Name", "As the pages should call it.", needed=True),
    Field("lens_mount", "Mount on the lens side", "Such as M42.", needed=True),
    Field("body_mount", "Mount on the body side", "Such as MFT; a tube has the same on both sides.", needed=True),
    Field("factor", "Factor",
          "1 for a plain ring, below 1 for a focal reducer, above 1 for a teleconverter: focal length × factor.",
          shape="number"),
    Field("thickness_mm", "Thickness, mm", "From flange to flange. Tells whether infinity is in reach.",
          shape="number"),
    Field(
        "extension_mm", "Extension, mm",
        "What a tube adds on top; a helicoid has a shortest and a longest. Leave the longest empty otherwise.",
        shape="pair", parts=("Extension, mm", "Longest extension of a helicoid, mm"),
    ),
    Field("contacts", "It passes the lens's contacts on", "A plain ring does not.", shape="yes"),
)  # fmt: skip

FIELDS: Mapping[str, tuple[Field, ...]] = MappingProxyType({"bodies": _BODY, "lenses": _LENS, "adapters": _ADAPTER})
"""Every key of each table of kit.toml, in the order of the form."""

NOUNS: Mapping[str, str] = MappingProxyType({"bodies": "body", "lenses": "lens", "adapters": "adapter"})
"""What one entry of each table is called."""
