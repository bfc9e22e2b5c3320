"""
The XMP properties that are written, their namespaces and the form of their values.

ISO 16684-1:2019 defines the data model and its serialization; the names, URIs and types of the Exif properties are
those of CIPA DC-X010-2017, "Exif 2.31 metadata for XMP", chapters 5 to 8; ``aux:Lens`` is of the XMP Specification,
part 2, "Exif schema for additional Exif properties".
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeAlias

__all__ = [
    "ADAPTER",
    "APERTURE_VALUE",
    "AUX",
    "EXIF",
    "EXIF_EX",
    "FOCAL_LENGTH",
    "FOCAL_LENGTH_35MM",
    "F_NUMBER",
    "LENS",
    "LENS_MODEL",
    "LENS_SPECIFICATION",
    "OURS",
    "PREFIXES",
    "PROPERTIES",
    "RDF",
    "Property",
    "Value",
    "is_blank",
    "mark_of",
    "rational",
    "same_value",
]

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
EXIF = "http://ns.adobe.com/exif/1.0/"
EXIF_EX = "http://cipa.jp/exif/1.0/"
AUX = "http://ns.adobe.com/exif/1.0/aux/"
OURS = "urn:steadykeep:record:1#"
"""Our own namespace; ends in # since toolkits of XMP put a / to any other that does not end in one of both."""

PREFIXES = {RDF: "rdf", EXIF: "exif", EXIF_EX: "exifEX", AUX: "aux", OURS: "steadykeep"}

Value: TypeAlias = str | tuple[str, ...]
"""A simple value as XMP writes it, or the items of an ordered array."""


@dataclass(frozen=True)
class Property:
    """
    A property by its namespace, its name and the form of its value.

    Examples
    --------
    >>> str(FOCAL_LENGTH), FOCAL_LENGTH.form
    ('exif:FocalLength', 'rational')
    """

    namespace: str
    name: str
    form: Literal["text", "integer", "rational", "rationals"] = "text"

    def __str__(self) -> str:
        return f"{PREFIXES.get(self.namespace, self.namespace)}:{self.name}"

    @property
    def key(self) -> tuple[str, str]:
        """Namespace and name, as parsers give them."""
        return (self.namespace, self.name)


LENS_MODEL = Property(EXIF_EX, "LensModel")
LENS_SPECIFICATION = Property(EXIF_EX, "LensSpecification", "rationals")
LENS = Property(AUX, "Lens")
FOCAL_LENGTH = Property(EXIF, "FocalLength", "rational")
FOCAL_LENGTH_35MM = Property(EXIF, "FocalLengthIn35mmFilm", "integer")
F_NUMBER = Property(EXIF, "FNumber", "rational")
APERTURE_VALUE = Property(EXIF, "ApertureValue", "rational")
PROPERTIES = (LENS_MODEL, LENS_SPECIFICATION, LENS, FOCAL_LENGTH, FOCAL_LENGTH_35MM, F_NUMBER, APERTURE_VALUE)
"""Everything of others' namespaces that is ever written."""

ADAPTER = Property(OURS, "Adapter")
"""What stood between lens and body; no standard has a word for it."""


def mark_of(known: Property) -> Property:
    """
    Return the property of our own that keeps what we wrote into another, so that it can be found and told from edits.

    Examples
    --------
    >>> str(mark_of(LENS_MODEL))
    'steadykeep:LensModel'
    """
    return Property(OURS, known.name, known.form)


def rational(value: float, digits: int = 1) -> str:
    """
    Return a number as XMP's Rational.

    Examples
    --------
    >>> rational(35.5), rational(50.0), rational(1.994, 2)
    ('71/2', '50/1', '199/100')
    """
    scale = 10**digits
    part = Fraction(round(value * scale), scale)
    return f"{part.numerator}/{part.denominator}"


def _numbers(items: Iterable[str]) -> list[Fraction | str] | None:
    numbers: list[Fraction | str] = []
    for item in items:
        try:
            numbers.append(Fraction(item.strip()))
        except ZeroDivisionError:  # 0/0 is Exif's word for not known
            numbers.append("0/0")
        except ValueError:
            return None
    return numbers


def same_value(known: Property, one: Value | None, other: Value | None) -> bool:
    """
    Tell whether two values of a property mean the same.

    Examples
    --------
    >>> same_value(FOCAL_LENGTH, "500/10", "50/1"), same_value(LENS, "Orla 50", "Hale 85")
    (True, False)
    """
    if one is None or other is None or known.form == "text":
        return one == other
    numbers = [_numbers([value] if isinstance(value, str) else value) for value in (one, other)]
    return one == other if None in numbers else numbers[0] == numbers[1]


def is_blank(value: Value | None) -> bool:
    """
    Tell whether a value says nothing: absent, empty, dashes, zero, 0/0.

    Examples
    --------
    >>> [is_blank(value) for value in (None, " ", "----", "0/1", "0/0", ("0/0", "0/0"), "50/1")]
    [True, True, True, True, True, True, False]
    """
    items = () if value is None else (value,) if isinstance(value, str) else value
    return all(not item.strip(" -\0") or _numbers([item]) in ([0], ["0/0"]) for item in items)
