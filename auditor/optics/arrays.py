"""What the numeric packages have in common: numbers or arrays in, the same out, NaN for not known."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["ArrayLike", "FloatArray", "FloatLike", "floats", "plain", "positive"]

FloatArray: TypeAlias = NDArray[np.float64]
FloatLike: TypeAlias = float | FloatArray


def floats(values: ArrayLike) -> FloatArray:
    """
    Return numbers as a float array, without a copy where they are one.

    Examples
    --------
    >>> floats([1, 2])
    array([1., 2.])
    """
    return np.asarray(values, dtype=np.float64)


def positive(values: ArrayLike) -> FloatArray:
    """
    Return numbers as a float array with NaN in place of what is not above zero: it cannot be a length or a time.

    Examples
    --------
    >>> positive([50.0, 0.0, -1.0])
    array([50., nan, nan])
    """
    array = floats(values)
    return np.where(array > 0, array, np.nan)


def plain(values: ArrayLike) -> FloatLike:
    """
    Return a plain float for a single number and the array otherwise.

    Examples
    --------
    >>> plain(np.float64(55.0))
    55.0
    >>> plain(np.array([1.0, 2.0]))
    array([1., 2.])
    """
    array = floats(values)
    return float(array) if array.ndim == 0 else array
