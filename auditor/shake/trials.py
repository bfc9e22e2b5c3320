"""Frames as trials of a hand: kept or not, at which shutter time, how much shake the stabiliser left."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from auditor.constants import REFERENCE_TIME_S
from auditor.optics.arrays import ArrayLike, FloatArray, floats

__all__ = ["Cells", "Trials", "burst_weights", "keeps_one_of_each_burst", "residual_correlation", "to_cells"]

_STEP = 0.02  # cells are 2 % wide: far narrower than anything a keep rate can tell
_MANY_BURSTS = 10


@dataclass(frozen=True)
class Trials:
    """
    Judged frames, one element a frame, arrays of shape (n,).

    Attributes
    ----------
    exposure_time_s : array
        Exposure time. [s]
    right_mm : array
        Image-side distance v. [mm]
    tolerance_um : array
        Blur that the photographer tolerates on that body. [µm]
    setting_error : array
        |1 - g|; NaN where the stabiliser was off. [-]
    kept : bool array
        The photographer kept it.
    burst : int array
        Frames of one burst share a number.
    """

    exposure_time_s: FloatArray
    right_mm: FloatArray
    tolerance_um: FloatArray
    setting_error: FloatArray
    kept: npt.NDArray[np.bool_]
    burst: npt.NDArray[np.int64]

    @property
    def count(self) -> int:
        """Frames."""
        return len(self.kept)

    def where(self, rows: npt.NDArray[np.bool_]) -> Trials:
        """Return some of the frames."""
        return Trials(
            self.exposure_time_s[rows],
            self.right_mm[rows],
            self.tolerance_um[rows],
            self.setting_error[rows],
            self.kept[rows],
            self.burst[rows],
        )


@dataclass(frozen=True)
class Cells:
    """
    Frames that cannot be told apart, together. Arrays of shape (cells,).

    Attributes
    ----------
    log_time : array
        ln(t/t0), t0 = 1/60 s. [-]
    log_scale : array
        ln(v/c), mm over µm. [-]
    error : array
        |1 - g|; NaN for off. [-]
    judged, kept : array
        Frames, weighted. [frames]
    of_frame : int array, shape (n,)
        Cell of each frame.
    """

    log_time: FloatArray
    log_scale: FloatArray
    error: FloatArray
    judged: FloatArray
    kept: FloatArray
    of_frame: npt.NDArray[np.int64]


def to_cells(trials: Trials, weights: ArrayLike = 1.0) -> Cells:
    """
    Put frames with the same shutter time, length and setting error together.

    Parameters
    ----------
    trials : Trials
        Judged frames.
    weights : float or array, shape (n,)
        Independent frames that each is worth. [frames]

    Returns
    -------
    Cells
        2 % wide in time, length and setting error. [frames]

    Notes
    -----
    Valid for fits whose answer moves by much less than 2 % over a cell. Keeps the time of a fit from growing with the
    archive.

    References
    ----------
    .. [1] Sufficiency of counts for alike trials (standard).

    Examples
    --------
    >>> one = Trials(*(np.full(3, x) for x in (0.01, 50.0, 14.4, 0.0)), np.array([True, True, False]), np.arange(3))
    >>> to_cells(one).kept
    array([2.])
    """
    weight = np.broadcast_to(floats(weights), trials.kept.shape)
    # Errors of half a percent and less are alike: no body's residual is that small.
    error = np.where(np.isnan(trials.setting_error), -1.0, np.maximum(trials.setting_error, 0.005))
    columns = np.column_stack(
        [
            np.log(trials.exposure_time_s / REFERENCE_TIME_S),
            np.log(trials.right_mm / trials.tolerance_um),
            np.where(error < 0, -99.0, np.log(np.maximum(error, 1e-9)) / 2.0),
        ]
    )
    _, first, of_frame = np.unique(np.round(columns / _STEP), axis=0, return_index=True, return_inverse=True)
    of_frame = of_frame.reshape(-1)
    judged = np.bincount(of_frame, weights=weight)

    def mean(values: FloatArray) -> FloatArray:
        return floats(np.bincount(of_frame, weights=weight * values) / judged)

    return Cells(
        log_time=mean(columns[:, 0]),
        log_scale=mean(columns[:, 1]),
        error=np.where(np.isnan(trials.setting_error[first]), np.nan, mean(np.nan_to_num(trials.setting_error))),
        judged=floats(judged),
        kept=floats(np.bincount(of_frame, weights=weight * trials.kept)),
        of_frame=of_frame.astype(np.int64),
    )


def residual_correlation(
    burst: npt.NDArray[np.int64], kept: npt.NDArray[np.bool_], expected: ArrayLike, slope: ArrayLike = 1.0
) -> float:
    """
    How alike frames of one burst are beyond what their shutter time explains.

    Parameters
    ----------
    burst : int array, shape (n,)
        Burst of each frame.
    kept : bool array, shape (n,)
        Kept or not.
    expected : array, shape (n,)
        Probability that a fit gives each frame. [-]
    slope : float or array, shape (n,)
        How fast that probability changes with the hand; what tells nothing of it weighs nothing. [-]

    Returns
    -------
    float
        Products of the residuals of two frames of one burst over those of their deviations, 0-0.95; 0 without bursts.
        [-]

    Notes
    -----
    With the slope this is the correlation of the frames' scores, which is what widens an interval. Valid for about 20
    bursts and more; with fewer it is a hint.

    References
    ----------
    .. [1] K.-Y. Liang and S. L. Zeger, Biometrika 73 (1986) 13-22, exchangeable correlation (from memory).

    Examples
    --------
    >>> residual_correlation(np.array([0, 0, 1, 1]), np.array([True, True, False, False]), [0.5] * 4)
    0.95
    """
    chance = np.clip(floats(expected), 1e-6, 1.0 - 1e-6)
    _, number = np.unique(burst, return_inverse=True)

    def over_pairs(values: FloatArray) -> float:
        return float((np.bincount(number, weights=values) ** 2 - np.bincount(number, weights=values**2)).sum())

    # Each frame weighs as in the score of the hand: frames that are all but surely sharp or blurred say nothing of it
    # and would thin the correlation of those that do.
    weight = np.abs(floats(slope)) / (chance * (1.0 - chance))
    pairs = over_pairs(floats(weight * np.sqrt(chance * (1.0 - chance))))
    return float(np.clip(over_pairs(weight * (kept - chance)) / pairs, 0.0, 0.95)) if pairs > 0.0 else 0.0


def burst_weights(burst: npt.NDArray[np.int64], correlation: float) -> FloatArray:
    """
    Independent frames that each frame is worth.

    Parameters
    ----------
    burst : int array, shape (n,)
        Burst of each frame.
    correlation : float
        How alike frames of one burst are. [-]

    Returns
    -------
    array, shape (n,)
        1 / (1 + (n - 1) ρ), n the frames of its burst. [frames]

    Notes
    -----
    Valid for frames of a burst taken alike.

    References
    ----------
    .. [1] Design effect, L. Kish, Survey Sampling (1965), sec. 5.4 (from memory).

    Examples
    --------
    >>> burst_weights(np.array([0, 1, 1]), 1.0)
    array([1. , 0.5, 0.5])
    """
    _, number, size = np.unique(burst, return_inverse=True, return_counts=True)
    return floats(1.0 / (1.0 + (size[number] - 1.0) * correlation))


def keeps_one_of_each_burst(burst: npt.NDArray[np.int64], kept: npt.NDArray[np.bool_]) -> bool:
    """
    Whether the photographer chose one frame from each burst instead of judging each frame.

    Parameters
    ----------
    burst : int array, shape (n,)
        Burst of each frame. [-]
    kept : bool array, shape (n,)
        Kept or not. [-]

    Returns
    -------
    bool
        True where bursts of three and more have exactly one keeper far more often than their keep rate lets expect
        (three standard deviations). [-]

    Notes
    -----
    Such a cull is not a keep rate: one of n says nothing of how many were sharp. Valid from 10 bursts on; False below.

    References
    ----------
    .. [1] Binomial distribution (standard).

    Examples
    --------
    >>> burst = np.repeat(np.arange(20), 4)
    >>> keeps_one_of_each_burst(burst, np.arange(80) % 4 == 0)
    True
    >>> keeps_one_of_each_burst(burst, np.arange(80) % 2 == 0)
    False
    """
    _, number = np.unique(burst, return_inverse=True)
    size, keepers = np.bincount(number), np.bincount(number, weights=kept)
    long = size >= 3
    if long.sum() < _MANY_BURSTS:
        return False
    size, keepers = size[long], keepers[long]
    # Over all bursts, those without a keeper too: without them the rate would come out too high and any low one look
    # like a cull.
    rate = float(keepers.sum() / size.sum())
    one = size * rate * (1.0 - rate) ** (size - 1.0)
    excess = float((keepers == 1).sum() - one.sum())
    return excess > 3.0 * float(np.sqrt((one * (1.0 - one)).sum())) + 1e-9
