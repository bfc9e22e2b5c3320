"""The truth's formula against Jacobson's and against a solver that knows only the lens equation."""

from __future__ import annotations

import pytest
from scipy.optimize import brentq

from sample_library.cast import Lens, load_cast, magnification, right_setting_mm


def _plain_lens(focal_mm: float) -> Lens:
    return Lens("x", "X", (focal_mm, focal_mm), (focal_mm, focal_mm), 2.0, False, 0.3, {}, ())


# D. Jacobson, Photographic Lenses Tutorial (1996): 1/u + 1/v = 1/f, m = v/u, D = f (2 + m + 1/m); by hand,
# f = 50 and m = 0.1 give D = 605 and v = 55; f = 135 at 1500 gives m = 1/9 and v = 150 exactly.
@pytest.mark.parametrize(
    ("focal_mm", "distance_m", "times", "right_mm"), [(50, 0.605, 0.1, 55), (135, 1.5, 1 / 9, 150)]
)
def test_magnification_and_setting_by_hand(focal_mm: float, distance_m: float, times: float, right_mm: float) -> None:
    assert magnification(focal_mm, distance_m) == pytest.approx(times, rel=1e-9)
    assert right_setting_mm(_plain_lens(focal_mm), 1.0, distance_m) == pytest.approx(right_mm, rel=1e-9)


@pytest.mark.parametrize("focal_mm", [25.0, 51.6, 85.0, 150.0])
@pytest.mark.parametrize("distance_m", [1.6, 4.0, 30.0])
def test_image_distance_solves_the_lens_equation(focal_mm: float, distance_m: float) -> None:
    total = 1000 * distance_m
    image_mm = brentq(
        lambda v: 1 / (total - v) + 1 / v - 1 / focal_mm, focal_mm * (1 + 1e-12), 2 * focal_mm, xtol=1e-12
    )

    assert right_setting_mm(_plain_lens(focal_mm), 1.0, distance_m) == pytest.approx(image_mm, rel=1e-9)


def test_an_adapter_scales_the_image_distance_and_keeps_the_lens_own_magnification() -> None:
    # 100 mm at m = 0.1 is 1210 mm away; behind it a 2× converter makes 220 mm, not 240.
    assert right_setting_mm(_plain_lens(100.0), 2.0, 1.21) == pytest.approx(220.0, rel=1e-9)


def test_nothing_focuses_closer_than_four_focal_lengths() -> None:
    with pytest.raises(ValueError, match=r"50 mm cannot be focused at 0\.19 m"):
        magnification(50.0, 0.19)


def test_a_measured_value_goes_before_the_formula() -> None:
    orla = load_cast().lenses["orla-50"]

    assert right_setting_mm(orla, 0.71, 0.45) == pytest.approx(0.71 * 59.1)


def test_the_measured_breathing_is_that_of_a_lens_that_moves_as_a_whole() -> None:
    orla = load_cast().lenses["orla-50"]
    for distance_m, measured_mm in orla.breathing.items():
        thin_mm = orla.focal_mm[0] * (1 + magnification(orla.focal_mm[0], distance_m))
        assert measured_mm == pytest.approx(thin_mm, rel=0.01)
