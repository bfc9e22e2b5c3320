"""What adapters do: reducers, converters, tubes, and lengths that are not what they should be."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from auditor.optics.arrays import ArrayLike, FloatLike, floats, plain, positive

__all__ = [
    "adapter_length_mm",
    "farthest_focus_m",
    "light_gain_stops",
    "stacked_extension_mm",
    "stacked_factor",
    "through_factor",
]


def stacked_factor(factors: Iterable[float]) -> float:
    """
    Factor of several adapters behind one another.

    Parameters
    ----------
    factors : iterable of float
        Factor of each: 1 plain, below 1 a reducer, above 1 a converter. [-]

    Returns
    -------
    float
        Their product; 1 for none. [-]

    Notes
    -----
    Valid for factors that each hold at the position where the adapter sits; stacking optics changes the spacing, so a
    measured value is better where two of them are not plain.

    References
    ----------
    .. [1] Each scales the image in front of it: "Telecompressor", Wikipedia.

    Examples
    --------
    >>> stacked_factor([0.71, 1.4])
    0.994
    """
    product = 1.0
    for factor in factors:
        product *= factor
    return round(product, 12)


def stacked_extension_mm(extensions_mm: Iterable[float], factors: Iterable[float]) -> float:
    """
    Extension of several adapters, as seen by the lens in front of them.

    Parameters
    ----------
    extensions_mm : iterable of float
        Extension of each, lens side first. [mm]
    factors : iterable of float
        Factor of each, in the same order. [-]

    Returns
    -------
    float
        Σ e ÷ (product of the factors in front)². [mm]

    Notes
    -----
    A tube on the camera side of a reducer or converter moves the lens's own image by e over the square of the factor
    (longitudinal magnification). Valid to first order in e; exact for tubes in front of all optics.

    References
    ----------
    .. [1] Newton's equation differentiated, D. Jacobson, Photographic Lenses FAQ (1995/96).

    Examples
    --------
    >>> stacked_extension_mm([0.0, 10.0], [2.0, 1.0])
    2.5
    """
    total, in_front = 0.0, 1.0
    for extension, factor in zip(extensions_mm, factors, strict=True):
        total += extension / in_front**2
        in_front *= factor
    return total


def through_factor(value: ArrayLike, factor: ArrayLike) -> FloatLike:
    """
    Focal length, f-number or image circle after a reducer or converter.

    Parameters
    ----------
    value : float or array
        Focal length [mm], f-number [-] or diameter of the image circle [mm] of the lens alone.
    factor : float or array
        Factor of the adapters. [-]

    Returns
    -------
    float or array
        value × factor, in the unit that went in, broadcast. [mm or -]

    Notes
    -----
    Valid for all three: the image in front is scaled as a whole.

    References
    ----------
    .. [1] "Telecompressor", Wikipedia: focal length and f-number scale together.

    Examples
    --------
    >>> through_factor(50.0, 0.71)
    35.5
    """
    return plain(positive(value) * positive(factor))


def light_gain_stops(factor: ArrayLike) -> FloatLike:
    """
    Light gained by a reducer (above 0) or lost to a converter (below 0).

    Parameters
    ----------
    factor : float or array
        Factor of the adapters. [-]

    Returns
    -------
    float or array
        2 log2(1/factor), broadcast. [stop]

    Notes
    -----
    Valid without losses in the glass.

    References
    ----------
    .. [1] The f-number scales by the factor; light goes with its square.

    Examples
    --------
    >>> round(light_gain_stops(0.71), 2)
    0.99
    """
    return plain(-2.0 * np.log2(positive(factor)))


def adapter_length_mm(lens_register_mm: ArrayLike, body_register_mm: ArrayLike) -> FloatLike:
    """
    Length that a plain adapter must have so that the lens's infinity mark is infinity.

    Parameters
    ----------
    lens_register_mm : float or array
        Flange focal distance that the lens was made for. [mm]
    body_register_mm : float or array
        Flange focal distance of the body. [mm]

    Returns
    -------
    float or array
        Their difference; below 0 there is no room for an adapter. [mm]

    Notes
    -----
    Valid for adapters without glass; published registers agree to about 0.5 mm only.

    References
    ----------
    .. [1] By the definition of the flange focal distance.

    Examples
    --------
    >>> round(adapter_length_mm(45.46, 18.0), 2)
    27.46
    """
    return plain(positive(lens_register_mm) - positive(body_register_mm))


def farthest_focus_m(focal_mm: ArrayLike, excess_mm: ArrayLike) -> FloatLike:
    """
    Farthest distance that is sharp at the infinity mark when the adapter is too thick.

    Parameters
    ----------
    focal_mm : float or array
        Focal length. [mm]
    excess_mm : float or array
        How much thicker than it should be; 0 or below: infinity is reached. [mm]

    Returns
    -------
    float or array
        f² / excess from the front focal point, broadcast; infinite for excess ≤ 0. [m]

    Notes
    -----
    Valid for unit focusing. The setting that the stabiliser needs changes only by the excess itself.

    References
    ----------
    .. [1] Newton, (Si - f)(So - f) = f²: D. Jacobson, Photographic Lenses FAQ (1995/96).

    Examples
    --------
    >>> farthest_focus_m(50.0, 0.1)
    25.0
    """
    excess = floats(excess_mm)
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = positive(focal_mm) ** 2 / excess / 1000.0
    return plain(np.where(excess <= 0, np.inf + positive(focal_mm), distance))
