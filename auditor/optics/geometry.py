"""Where the image lies: magnification, image distance, and the focal length that a stabiliser must be told."""

from __future__ import annotations

import numpy as np

from auditor.optics.arrays import ArrayLike, FloatLike, floats, plain, positive

__all__ = [
    "closest_image_m",
    "distance_from_magnification_m",
    "magnification_from_distance",
    "magnification_from_front_distance",
    "magnification_with_extension",
    "right_setting_at_mm",
    "right_setting_mm",
]


def magnification_from_front_distance(distance_m: ArrayLike, focal_mm: ArrayLike) -> FloatLike:
    """
    Magnification from the distance between the subject and the front principal plane.

    Parameters
    ----------
    distance_m : float or array
        Subject to front principal plane; infinity allowed. [m]
    focal_mm : float or array
        Focal length at that focus. [mm]

    Returns
    -------
    float or array
        Image size ÷ subject size, broadcast; NaN where unknown or where no real image exists. [-]

    Notes
    -----
    m = f / (u - f). Valid for u > f.

    References
    ----------
    .. [1] D. Jacobson, Photographic Lenses Tutorial (1995/96), thin lens equations.

    Examples
    --------
    >>> round(magnification_from_front_distance(0.55, 50.0), 6)
    0.1
    """
    focal = positive(focal_mm)
    beyond = positive(floats(distance_m) * 1000.0 - focal)
    return plain(focal / beyond)


def magnification_from_distance(distance_m: ArrayLike, focal_mm: ArrayLike, hiatus_mm: ArrayLike = 0.0) -> FloatLike:
    """
    Magnification from the distance between the subject and the sensor plane, as lens scales count it.

    Parameters
    ----------
    distance_m : float or array
        Subject to sensor plane; infinity allowed. [m]
    focal_mm : float or array
        Focal length of the lens, without adapters. [mm]
    hiatus_mm : float or array
        Distance between the principal planes; rarely published, can be negative. [mm]

    Returns
    -------
    float or array
        The smaller of the two solutions, 0-1, broadcast; NaN where unknown or closer than 4 f + h. [-]

    Notes
    -----
    D = f (2 + m + 1/m) + h solved for m [1]_, in the form that keeps its digits far away. Valid for a
    unit-focusing lens at D ≥ 4 f + h; an internal-focus lens changes f itself.

    References
    ----------
    .. [1] D. Jacobson, Photographic Lenses Tutorial (1995/96), object-to-image distance.

    Examples
    --------
    >>> round(magnification_from_distance(0.45, 50.0), 4)
    0.1459
    >>> magnification_from_distance(0.19, 50.0)
    nan
    """
    focal = positive(focal_mm)
    with np.errstate(invalid="ignore"):
        half = (floats(distance_m) * 1000.0 - floats(hiatus_mm)) / focal - 2.0
        root = np.sqrt(np.where(half >= 2.0, half * half - 4.0, np.nan))
    return plain(2.0 / (half + root))


def distance_from_magnification_m(
    focal_mm: ArrayLike, magnification: ArrayLike, hiatus_mm: ArrayLike = 0.0
) -> FloatLike:
    """
    Distance between subject and sensor plane at a magnification.

    Parameters
    ----------
    focal_mm : float or array
        Focal length of the lens, without adapters. [mm]
    magnification : float or array
        Image size ÷ subject size; 0 is infinity. [-]
    hiatus_mm : float or array
        Distance between the principal planes. [mm]

    Returns
    -------
    float or array
        f (2 + m + 1/m) + h, broadcast; infinite at m = 0, NaN where unknown. [m]

    Notes
    -----
    Valid for a unit-focusing lens at any m ≥ 0; smallest at m = 1, where it is 4 f + h.

    References
    ----------
    .. [1] D. Jacobson, Photographic Lenses Tutorial (1995/96), object-to-image distance.

    Examples
    --------
    >>> round(distance_from_magnification_m(50.0, 0.1), 6)
    0.605
    """
    scale = np.where(floats(magnification) >= 0, floats(magnification), np.nan)
    with np.errstate(divide="ignore"):
        millimetres = positive(focal_mm) * (2.0 + scale + 1.0 / scale) + floats(hiatus_mm)
    return plain(millimetres / 1000.0)


def closest_image_m(focal_mm: ArrayLike, hiatus_mm: ArrayLike = 0.0) -> FloatLike:
    """
    Shortest distance between a subject and its real image.

    Parameters
    ----------
    focal_mm : float or array
        Focal length. [mm]
    hiatus_mm : float or array
        Distance between the principal planes. [mm]

    Returns
    -------
    float or array
        4 f + h, broadcast; NaN where unknown. [m]

    Notes
    -----
    Valid for any thin lens; reached at life size (m = 1).

    References
    ----------
    .. [1] D. Jacobson, Photographic Lenses Tutorial (1995/96), object-to-image distance at m = 1.

    Examples
    --------
    >>> closest_image_m(50.0)
    0.2
    """
    return plain((4.0 * positive(focal_mm) + floats(hiatus_mm)) / 1000.0)


def magnification_with_extension(
    ring_magnification: ArrayLike, extension_mm: ArrayLike, focal_mm: ArrayLike
) -> FloatLike:
    """
    Magnification of a lens on an extension tube or helicoid.

    Parameters
    ----------
    ring_magnification : float or array
        Magnification that the focusing ring alone gives, 0 at its infinity mark. [-]
    extension_mm : float or array
        Length of the tube between lens and camera. [mm]
    focal_mm : float or array
        Focal length of the lens. [mm]

    Returns
    -------
    float or array
        m_ring + e / f, broadcast; NaN where unknown. [-]

    Notes
    -----
    v = f (1 + m), so moving the lens out by e adds e / f. Valid for a unit-focusing lens and a tube in front of
    any reducer or converter.

    References
    ----------
    .. [1] D. Jacobson, Photographic Lenses Tutorial (1995/96), v = f (1 + m).

    Examples
    --------
    >>> magnification_with_extension(0.1, 25.0, 50.0)
    0.6
    """
    return plain(floats(ring_magnification) + floats(extension_mm) / positive(focal_mm))


def right_setting_mm(focal_mm: ArrayLike, magnification: ArrayLike) -> FloatLike:
    """
    Focal length that a stabiliser needs for a unit-focusing lens at a magnification.

    Parameters
    ----------
    focal_mm : float or array
        Focal length at infinity, adapter factor included. [mm]
    magnification : float or array
        Image size ÷ subject size of the lens itself, without its converter; 0 at infinity. [-]

    Returns
    -------
    float or array
        Image-side distance v = f (1 + m), broadcast; NaN where an input is not known. [mm]

    Notes
    -----
    A turn θ moves the image by v tan θ. Valid for rotation; above m ≈ 0.3 movement of the camera sideways is no
    longer small against it. With a converter, the magnification is the lens's own: f of the pair times one plus the
    *total* magnification is a trap (240 in place of 220 mm for 100 mm × 2 at m = 0.1).

    References
    ----------
    .. [1] D. Jacobson, Photographic Lenses Tutorial (1995/96), v = f (1 + m).

    Examples
    --------
    >>> round(right_setting_mm(50.0, 0.1), 6)
    55.0
    """
    scale = np.where(floats(magnification) >= 0, floats(magnification), np.nan)
    return plain(positive(focal_mm) * (1.0 + scale))


def right_setting_at_mm(
    focal_mm: ArrayLike,
    distance_m: ArrayLike,
    *,
    factor: ArrayLike = 1.0,
    extension_mm: ArrayLike = 0.0,
    hiatus_mm: ArrayLike = 0.0,
) -> FloatLike:
    """
    Focal length that a stabiliser needs, from the distance on the lens's own scale.

    Parameters
    ----------
    focal_mm : float or array
        Focal length of the lens alone. [mm]
    distance_m : float or array
        Subject to sensor plane, as on the focusing ring; infinity allowed. [m]
    factor : float or array
        Product of the factors of all reducers and converters. [-]
    extension_mm : float or array
        Tubes between lens and camera. [mm]
    hiatus_mm : float or array
        Distance between the principal planes. [mm]

    Returns
    -------
    float or array
        factor · f · (1 + m of the lens), broadcast; NaN where unknown or closer than the lens can image. [mm]

    Notes
    -----
    Valid for unit focusing and for rotation, m below about 0.3.

    References
    ----------
    .. [1] D. Jacobson, Photographic Lenses Tutorial (1995/96), thin lens equations.

    Examples
    --------
    >>> round(right_setting_at_mm(50.0, 0.45), 2)
    57.29
    >>> round(right_setting_at_mm(50.0, float("inf"), factor=0.71), 2)
    35.5
    """
    ring = magnification_from_distance(distance_m, focal_mm, hiatus_mm)
    scale = magnification_with_extension(ring, extension_mm, focal_mm)
    return right_setting_mm(positive(factor) * positive(focal_mm), scale)
