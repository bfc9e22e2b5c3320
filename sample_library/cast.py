"""What the scenario's photographer owns, and what the thin lens says she should have typed."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

__all__ = ["Body", "Cast", "Lens", "data_text", "load_cast", "magnification", "right_setting_mm"]

SCALE_LEFT_OF_FOUR = 4.0
"""Below four focal lengths from subject to sensor no thin lens can focus."""


@dataclass(frozen=True)
class Body:
    """A body as far as the scenario needs it. Lengths in mm."""

    id: str
    make: str
    model: str
    serial: str
    sensor_mm: tuple[float, float]
    stabiliser_stops: float


@dataclass(frozen=True)
class Lens:
    """A lens as far as the scenario needs it; ``focal_mm`` is what it measures where that is known. Lengths in mm."""

    id: str
    name: str
    engraved_mm: tuple[float, float]
    focal_mm: tuple[float, float]
    max_aperture: float
    contacts: bool
    close_focus_m: float
    breathing: Mapping[float, float]
    exif_names: tuple[str, ...]


@dataclass(frozen=True)
class Cast:
    """Bodies, lenses and the adapters' factors by id; ``""`` is no adapter."""

    bodies: Mapping[str, Body]
    lenses: Mapping[str, Lens]
    factors: Mapping[str, float]


def data_text(name: str) -> str:
    """
    Return one of the package's own text files.

    Examples
    --------
    >>> data_text("kit.toml").splitlines()[0]
    '# What Maren owns: bodies, lenses, adapters. Every name and number here is invented.'
    """
    return (files("sample_library") / "data" / name).read_text(encoding="utf-8")


def _lens(entry: Mapping[str, Any]) -> Lens:
    focal = entry["focal_mm"]
    engraved = (float(focal[0]), float(focal[1])) if isinstance(focal, list) else (float(focal), float(focal))
    measured = entry.get("measured_focal_mm")
    return Lens(
        id=entry["id"],
        name=entry["name"],
        engraved_mm=engraved,
        focal_mm=(measured, measured) if measured else engraved,
        max_aperture=entry["max_aperture"],
        contacts=entry.get("contacts", False),
        close_focus_m=entry["close_focus_m"],
        breathing=dict(entry.get("breathing", [])),
        exif_names=tuple(entry.get("exif_names", ())),
    )


def load_cast() -> Cast:
    """
    Read the cast from the kit.toml that the sample library hands out.

    Examples
    --------
    >>> sorted(load_cast().lenses)
    ['bruna-135', 'clear-25', 'hale-35', 'hale-85', 'orla-50', 'veery-70-150']
    """
    kit = tomllib.loads(data_text("kit.toml"))
    bodies = [
        Body(b["id"], b["exif_make"], b["exif_model"], b["serial"], tuple(b["sensor_mm"]), b["stabiliser_stops"])
        for b in kit["bodies"]
    ]
    return Cast(
        bodies={body.id: body for body in bodies},
        lenses={entry["id"]: _lens(entry) for entry in kit["lenses"]},
        factors={"": 1.0, **{entry["id"]: entry["factor"] for entry in kit["adapters"]}},
    )


def magnification(focal_mm: float, distance_m: float) -> float:
    """
    Magnification of a thin lens from the distance between subject and sensor.

    Parameters
    ----------
    focal_mm : float
        Focal length at infinity. [mm]
    distance_m : float
        Subject to sensor, four focal lengths or more. [m]

    Returns
    -------
    float
        Image size ÷ subject size. [-]

    Notes
    -----
    With object distance u and image distance v, 1/u + 1/v = 1/f and m = v/u, so u + v = f (2 + m + 1/m), a
    quadratic in m [1]_. The smaller root is the one a photographer uses.

    References
    ----------
    .. [1] D. Jacobson, Photographic Lenses Tutorial (1996), object and image distances in terms of magnification.

    Examples
    --------
    The distance is 4 f at life size.

    >>> round(magnification(50.0, 0.2), 6)
    1.0
    """
    focal_lengths_away = 1000.0 * distance_m / focal_mm
    if focal_lengths_away < SCALE_LEFT_OF_FOUR:
        raise ValueError(f"{focal_mm:g} mm cannot be focused at {distance_m:g} m")
    twice_half = focal_lengths_away - 2.0
    return (twice_half - math.sqrt(twice_half * twice_half - 4.0)) / 2.0


def right_setting_mm(lens: Lens, factor: float, distance_m: float, zoom_mm: float | None = None) -> float:
    """
    Focal length that should be typed: the image-side distance v = f (1 + m), times the adapter's factor.

    A measured value for that very distance goes before the formula; see `magnification` for the source.

    Examples
    --------
    >>> lens = load_cast().lenses["orla-50"]
    >>> round(right_setting_mm(lens, 1.0, 0.45), 1)
    59.1
    """
    measured = lens.breathing.get(distance_m)
    if measured is not None:
        return factor * measured
    focal_mm = zoom_mm if zoom_mm is not None else lens.focal_mm[0]
    return factor * focal_mm * (1.0 + magnification(focal_mm, distance_m))
