"""The card: what to type and how slow to go with one pairing, as values that a sheet or a table is made of."""

from __future__ import annotations

import math
from dataclasses import dataclass

from auditor.optics.exposure import nominal_time_s

__all__ = [
    "CAUTION",
    "ApertureLine",
    "Card",
    "Figure",
    "SettingLine",
    "ShutterLine",
    "Step",
    "distance_words",
    "shutter_words",
]

CAUTION = "A plan, to be tested before a paid job: shoot a few frames and look at 100 %."
"""On every card and sheet."""


@dataclass(frozen=True, slots=True)
class Figure:
    """
    A number with what is not known of it.

    Attributes
    ----------
    value : float
        Middle; NaN for not known.
    low, high : float
        Nine in ten lie between.
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class SettingLine:
    """
    What to type at one distance.

    Attributes
    ----------
    distance_m : float
        On the focusing ring; infinity allowed. [m]
    type_mm : float
        What the body accepts. [mm]
    right : Figure
        What it should be. [mm]
    exact_mm : float
        How far off costs half a stop; NaN without a known stabiliser. [mm]
    magnification : float
        Of the lens itself. [-]
    """

    distance_m: float
    type_mm: float
    right: Figure
    exact_mm: float
    magnification: float


@dataclass(frozen=True, slots=True)
class ShutterLine:
    """
    How slow to go by hand for a share of sharp frames.

    Attributes
    ----------
    share : float
        Sharp frames. [-]
    off, on : Figure
        Slowest shutter time without and with the stabiliser at the typed setting. [s]
    frames, frames_in_burst : float
        Frames for a 95 % chance of one sharp: taken apart, and in one burst.
    """

    share: float
    off: Figure
    on: Figure
    frames: float
    frames_in_burst: float


@dataclass(frozen=True, slots=True)
class ApertureLine:
    """
    Depth of field at one aperture.

    Attributes
    ----------
    f_number : float
        On the aperture ring. [-]
    effective_f_number : float
        With the adapter's factor. [-]
    near_m, far_m, hyperfocal_m : float
        Focused at the card's distance. [m]
    is_diffracted : bool
        The Airy disc is wider than the tolerated blur.
    """

    f_number: float
    effective_f_number: float
    near_m: float
    far_m: float
    hyperfocal_m: float
    is_diffracted: bool


@dataclass(frozen=True, slots=True)
class Step:
    """
    How one number of a card came about.

    Attributes
    ----------
    name, formula, inputs, value, source : str
        In words for a person.
    """

    name: str
    formula: str
    inputs: str
    value: str
    source: str


@dataclass(frozen=True, slots=True)
class Card:
    """
    One pairing's card.

    Attributes
    ----------
    pairing : str
        ``lens+adapter@body``.
    lens, adapter, body : str
        Names for a person; adapter empty for none.
    focal_mm : (short, long)
        With the factor, at infinity. [mm]
    contacts : bool
        The lens tells the body: nothing to type.
    settings, shutters, apertures : tuple
        Lines.
    focus_m : float
        Distance of the depth of field. [m]
    tolerance_um : float
        Blur that counts as sharp. [µm]
    diffraction_f_number : float
        On the ring, where diffraction reaches the tolerance. [-]
    notes : tuple of str
        What limits the card.
    steps : tuple of Step
        Where its numbers come from.
    """

    pairing: str
    lens: str
    adapter: str
    body: str
    focal_mm: tuple[float, float]
    contacts: bool
    settings: tuple[SettingLine, ...]
    shutters: tuple[ShutterLine, ...]
    apertures: tuple[ApertureLine, ...]
    focus_m: float
    tolerance_um: float
    diffraction_f_number: float
    notes: tuple[str, ...]
    steps: tuple[Step, ...]


def shutter_words(exposure_time_s: float) -> str:
    """
    Return a shutter time as it stands on a camera: the longest of its thirds of a stop that is not above it.

    Examples
    --------
    >>> shutter_words(1 / 60), shutter_words(0.4), shutter_words(1.0), shutter_words(float("nan"))
    ('1/60', '0.4 s', '1 s', '–')
    """
    time = float(nominal_time_s(exposure_time_s, no_longer=True))
    if math.isnan(time):
        return "–"
    if time < 0.3:
        return f"1/{1 / time:.0f}"
    return f"{time:.1f} s".replace(".0 s", " s")


def distance_words(distance_m: float) -> str:
    """
    Return a distance as it stands on a focusing ring.

    Examples
    --------
    >>> distance_words(float("inf")), distance_words(0.7), distance_words(12.34)
    ('∞', '0.7 m', '12 m')
    """
    if math.isnan(distance_m):
        return "–"
    if math.isinf(distance_m):
        return "∞"
    return f"{distance_m:.2g} m" if distance_m < 100 else f"{distance_m:.0f} m"
