"""The usual measures on white noise (CHECKS F01-F03), on exact ramps, and coherence by its definition (F05)."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.vision.yardsticks import (
    LAPLACIAN_4_NOISE,
    LAPLACIAN_8_NOISE,
    TENENGRAD_NOISE,
    coherence,
    laplacian_variance,
    noise_spread,
    tenengrad,
)


def white(spread: float = 1.0) -> np.ndarray:
    return np.random.default_rng(7).normal(128, spread, (1500, 1500)).astype(np.float32)


def test_noise_gains_are_the_sums_of_squared_taps() -> None:
    # CHECKS F01, F02, F03: sum of squared taps of the kernels.
    assert LAPLACIAN_4_NOISE == 4 * 1**2 + 4**2
    assert LAPLACIAN_8_NOISE == 8 * 1**2 + 8**2
    assert TENENGRAD_NOISE == 2 * (4 * 1**2 + 2 * 2**2)


@pytest.mark.parametrize(("measure", "gain"), [(laplacian_variance, 20.0), (tenengrad, 24.0)])
def test_white_noise_reads_its_gain(measure, gain: float) -> None:
    # Monte Carlo over 2.25 million pixels: standard error below 0.3 %.
    assert measure(white()) == pytest.approx(gain, rel=0.01)
    assert measure(white(3.0)) == pytest.approx(9 * gain, rel=0.01)


def test_eight_neighbours_read_72() -> None:
    assert laplacian_variance(white(), neighbours=8) == pytest.approx(72.0, rel=0.01)


@pytest.mark.parametrize("measure", [laplacian_variance, tenengrad])
def test_noise_correction_leaves_nothing_of_noise_and_never_less(measure) -> None:
    raw = measure(white(4.0))
    assert measure(white(4.0), 4.0) < 0.01 * raw
    assert measure(white(4.0), 5.0) == 0.0


def test_ramp_has_a_gradient_and_no_curvature() -> None:
    ramp = np.tile(np.arange(0, 60, 2, dtype=np.float32), (30, 1))
    assert laplacian_variance(ramp) == 0.0
    assert tenengrad(ramp) == (8 * 2) ** 2  # the Sobel kernel's gain is 8


@pytest.mark.parametrize("spread", [1.0, 5.0, 12.0])
def test_noise_spread_of_white_noise(spread: float) -> None:
    noisy = white(spread)
    assert noise_spread(noisy) == pytest.approx(spread, rel=0.05)


def test_noise_spread_is_not_raised_by_slopes_and_edges() -> None:
    y, x = np.mgrid[0:600, 0:600]
    shaded = (0.1 * x + 0.05 * y + 80 * (x > 300)).astype(np.float32)
    assert noise_spread(shaded) < 0.05


@pytest.mark.parametrize(
    ("tensor", "expected"),
    [([[1, 0], [0, 0]], 1.0), ([[1, 0], [0, 1]], 0.0), ([[3, 0], [0, 1]], 0.25), ([[0, 0], [0, 0]], 0.0)],
)
def test_coherence_by_definition(tensor: list[list[float]], expected: float) -> None:
    # CHECKS F05
    assert coherence(np.array(tensor, float)) == pytest.approx(expected, abs=1e-12)


def test_coherence_does_not_depend_on_the_axes() -> None:
    turn = np.array([[np.cos(0.7), -np.sin(0.7)], [np.sin(0.7), np.cos(0.7)]])
    assert coherence(turn @ np.diag([3.0, 1.0]) @ turn.T) == pytest.approx(0.25, abs=1e-12)
