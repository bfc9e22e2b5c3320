"""Sensor sizes."""

from __future__ import annotations

import math

import pytest

from auditor.optics.sensors import (
    circle_of_confusion_um,
    crop_factor,
    diagonal_mm,
    equivalent_focal_mm,
    pixel_pitch_um,
)

# Pythagoras; 21.6 and 54.78 mm, and crops 1.99 and 0.79, are also quoted on chrisbonney.uk's crop-factor page.
FORMATS = [
    (17.3, 13.0, 21.64, 1.9994),
    (23.5, 15.6, 28.21, 1.5339),
    (22.3, 14.9, 26.82, 1.6132),
    (36.0, 24.0, 43.27, 1.0),
    (43.8, 32.9, 54.78, 0.7898),
]


@pytest.mark.published
@pytest.mark.parametrize(("width", "height", "diagonal", "crop"), FORMATS)
def test_formats(width, height, diagonal, crop):
    assert diagonal_mm(width, height) == pytest.approx(diagonal, abs=0.01)
    assert crop_factor(width, height) == pytest.approx(crop, abs=0.002)


# Width ÷ columns (arithmetic).
@pytest.mark.parametrize(("width", "columns", "pitch"), [(36.0, 6000, 6.0), (23.5, 6000, 3.917), (17.3, 5184, 3.337)])
def test_pixel_pitch(width, columns, pitch):
    assert pixel_pitch_um(width, columns) == pytest.approx(pitch, abs=0.005)


# Diagonal ÷ 1500, the "modern" convention; ÷ 1730 from 0.025 mm on 35 mm film: "Zeiss formula", Wikipedia.
@pytest.mark.published
@pytest.mark.parametrize(
    ("width", "height", "fraction", "tolerated"),
    [
        (17.3, 13.0, 1500, 14.43),
        (23.5, 15.6, 1500, 18.80),
        (36.0, 24.0, 1500, 28.84),
        (43.8, 32.9, 1500, 36.52),
        (36.0, 24.0, 1730, 25.01),
    ],
)
def test_circle_of_confusion(width, height, fraction, tolerated):
    assert circle_of_confusion_um(diagonal_mm(width, height), fraction) == pytest.approx(tolerated, abs=0.05)


def test_equivalent_focal_length():
    assert equivalent_focal_mm(50.0, crop_factor(36.0, 24.0)) == pytest.approx(50.0)
    assert math.isnan(equivalent_focal_mm(50.0, 0.0))


def test_sensor_of_unknown_size():
    assert math.isnan(diagonal_mm(17.3, math.nan))
    assert math.isnan(circle_of_confusion_um(math.nan))
