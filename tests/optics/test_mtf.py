"""Transfer functions, alone and multiplied."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import j1

from auditor.optics.mtf import (
    combined_mtf50_lp_mm,
    defocus_mtf,
    diffraction_mtf,
    gaussian_mtf,
    motion_mtf,
    mtf50_lp_mm,
)

# Roots at 1/2 of sinc, exp, 2 J1 and the diffraction MTF, to four digits (computed; theory of motion MTF: Hadar,
# Fisher and Kopeika, Opt. Eng. 31(3):581, 1992).
HALVES = [("motion", 0.6034), ("gaussian", 0.1874), ("defocus", 0.7051), ("diffraction", 0.4040)]


@pytest.mark.parametrize(("cause", "half"), HALVES)
def test_width_times_mtf50(cause, half):
    assert mtf50_lp_mm(cause, 1000.0) == pytest.approx(half, abs=1e-4)


def test_the_constants_are_where_the_functions_are_one_half():
    assert motion_mtf(mtf50_lp_mm("motion", 20.0), 20.0) == pytest.approx(0.5, abs=1e-5)
    assert gaussian_mtf(mtf50_lp_mm("gaussian", 20.0), 20.0) == pytest.approx(0.5, abs=1e-5)
    assert defocus_mtf(mtf50_lp_mm("defocus", 20.0), 20.0) == pytest.approx(0.5, abs=1e-5)
    assert diffraction_mtf(mtf50_lp_mm("diffraction", 0.55 * 8), 8.0) == pytest.approx(0.5, abs=1e-5)


def test_diffraction_at_f8():
    # N = 8, 0.55 µm: 91.8 lp/mm (computed).
    assert mtf50_lp_mm("diffraction", 0.55 * 8) == pytest.approx(91.8, abs=0.1)
    # Cut-off at 1/(λ N) = 227.3 lp/mm; nothing beyond.
    assert diffraction_mtf(227.3, 8.0) == pytest.approx(0.0, abs=1e-5)
    assert diffraction_mtf(300.0, 8.0) == 0.0


# Exact product of MTFs; the shortcuts' errors in the last two columns (computed, checked below by a root finder).
# Shake length, disc, f-number, pixel in µm; MTF50 in lp/mm; variance and 1/f² shortcuts.
COMBINED = [
    (20.0, 20.0, 8.0, 6.0, 21.11, 23.15, 21.71, 9.71, 2.88),
    (30.0, 0.0, 8.0, 6.0, 18.41, 20.67, 19.28, 12.32, 4.76),
    (0.0, 30.0, 4.0, 4.0, 22.31, 24.47, 23.04, 9.71, 3.28),
]


@pytest.mark.parametrize("row", COMBINED)
def test_product_of_mtfs_and_its_shortcuts(row):
    length, disc, f_number, pixel, product, by_variance, by_squares, variance_error, squares_error = row
    found = combined_mtf50_lp_mm(shake_um=length, disc_um=disc, f_number=f_number, pixel_um=pixel)
    assert found == pytest.approx(product, abs=0.1)
    sigma = math.sqrt(length**2 / 12 + disc**2 / 16 + pixel**2 / 12 + (0.4638 * 0.55 * f_number) ** 2)
    assert mtf50_lp_mm("gaussian", sigma) == pytest.approx(by_variance, abs=0.1)
    alone = [
        mtf50_lp_mm("motion", length),
        mtf50_lp_mm("defocus", disc),
        mtf50_lp_mm("diffraction", 0.55 * f_number),
        mtf50_lp_mm("motion", pixel),
    ]
    squares = sum(1 / f**2 for f in alone) ** -0.5
    assert squares == pytest.approx(by_squares, abs=0.1)
    assert 100 * (mtf50_lp_mm("gaussian", sigma) / found - 1) == pytest.approx(variance_error, abs=0.1)
    assert 100 * (squares / found - 1) == pytest.approx(squares_error, abs=0.1)


def _by_root_finder(length: float, disc: float, pixel: float) -> float:
    def over(f: float) -> float:
        x = math.pi * f * disc / 1000
        s = f * 0.55 * 8 / 1000
        diffraction = 2 / math.pi * (math.acos(s) - s * math.sqrt(1 - s * s))
        return np.sinc(f * length / 1000) * 2 * j1(x) / x * np.sinc(f * pixel / 1000) * diffraction - 0.5

    return brentq(over, 1e-3, min(1000 / length, 1000 / pixel, 1219 / disc, 227.0))


@given(st.floats(1, 100), st.floats(1, 100), st.floats(2, 8))
def test_against_a_root_finder(length, disc, pixel):
    found = combined_mtf50_lp_mm(shake_um=length, disc_um=disc, f_number=8.0, pixel_um=pixel)
    assert found == pytest.approx(_by_root_finder(length, disc, pixel), rel=1e-6)


@given(st.floats(0.0, 80.0), st.floats(0.0, 80.0), st.floats(1.4, 22.0))
def test_more_blur_is_never_sharper(length, disc, f_number):
    before = combined_mtf50_lp_mm(shake_um=length, disc_um=disc, f_number=f_number, pixel_um=4.0)
    assert combined_mtf50_lp_mm(shake_um=length + 1, disc_um=disc, f_number=f_number, pixel_um=4.0) < before
    assert combined_mtf50_lp_mm(shake_um=length, disc_um=disc, f_number=f_number * 1.1, pixel_um=4.0) < before


def test_first_zero_of_motion():
    # sinc zeros at k/L: L = 16 px first vanishes at 0.0625 cycles/px.
    assert motion_mtf(0.0625 * 1000, 16.0) == pytest.approx(0.0, abs=1e-12)


def test_nothing_blurs_nothing():
    assert motion_mtf(50.0, 0.0) == 1.0
    assert defocus_mtf(50.0, 0.0) == 1.0
    assert mtf50_lp_mm("defocus", 0.0) == math.inf


def test_unknown_cause_is_unknown_sum():
    found = combined_mtf50_lp_mm(shake_um=[10.0, math.nan], f_number=8.0)
    assert np.isnan(found[1])
    assert np.isfinite(found[0])
    assert math.isnan(combined_mtf50_lp_mm(f_number=math.nan))


def test_one_cause_alone():
    assert combined_mtf50_lp_mm(shake_um=30.0) == pytest.approx(mtf50_lp_mm("motion", 30.0), rel=1e-5)
    assert combined_mtf50_lp_mm(f_number=8.0) == pytest.approx(91.8, abs=0.1)


def test_other_causes_are_refused():
    with pytest.raises(KeyError):
        mtf50_lp_mm("fog", 1.0)
