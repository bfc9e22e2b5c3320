"""Diffraction and the working f-number."""

from __future__ import annotations

import math

import pytest
from scipy.special import jn_zeros

from auditor.optics.diffraction import airy_diameter_um, diffraction_f_number, light_loss_stops, working_f_number


# First zero at 1.21967 λ/(2R): D. Jacobson, Photographic Lenses Tutorial sec. 5; ×2, at 0.55 µm.
@pytest.mark.parametrize(("f_number", "diameter"), [(4, 5.37), (8, 10.73), (16, 21.47)])
def test_airy_disc(f_number, diameter):
    assert airy_diameter_um(f_number) == pytest.approx(diameter, abs=0.02)


def test_airy_constant_is_the_bessel_zero():
    assert airy_diameter_um(1.0, 1.0) == pytest.approx(2 * jn_zeros(1, 1)[0] / math.pi, abs=1e-5)


# N_w = (1 + |m|/P) N: "F-number", Wikipedia, quoting Greivenkamp, Field Guide to Geometrical Optics, p. 29.
@pytest.mark.parametrize(
    ("f_number", "magnification", "pupil", "working"),
    [(2.8, 0.5, 1.0, 4.2), (2.8, 0.5, 0.5, 5.6), (2.8, 1.0, 1.0, 5.6)],
)
def test_working_f_number(f_number, magnification, pupil, working):
    assert working_f_number(f_number, magnification, pupil) == pytest.approx(working, abs=1e-6)


@pytest.mark.parametrize(("magnification", "stops"), [(0.1, 0.275), (0.5, 1.170), (1.0, 2.0)])
def test_light_lost_close_up(magnification, stops):
    assert light_loss_stops(magnification) == pytest.approx(stops, abs=1e-3)


def test_limit_is_the_inverse_of_the_disc():
    assert airy_diameter_um(diffraction_f_number(28.8)) == pytest.approx(28.8)
    assert math.isnan(diffraction_f_number(0.0))
