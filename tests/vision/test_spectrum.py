"""Log spectra of straight motion: zeros at k/L (CHECKS F04), direction and length on known blur."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from auditor.vision.spectrum import log_spectrum
from auditor.vision.straight_motion import motion_length_px, straight_motion
from tests.vision.pictures import texture


def swept(length_px: int, picture: np.ndarray) -> np.ndarray:
    return cv2.blur(picture, (length_px, 1))


def turned(picture: np.ndarray, angle_deg: float) -> np.ndarray:
    """Return the picture turned counter-clockwise, its middle only."""
    height, width = picture.shape
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), angle_deg, 1.0)
    whole = cv2.warpAffine(picture, turn, (width, height), flags=cv2.INTER_CUBIC)
    return np.ascontiguousarray(whole[height // 6 : -height // 6, width // 6 : -width // 6])


def test_first_zero_of_straight_motion_lies_at_one_over_its_length() -> None:
    # CHECKS F04: L = 16 px, first zero at 0.0625 cycles/px.
    spectrum = log_spectrum([swept(16, texture())])
    assert spectrum is not None
    along = spectrum.log_power[:3].mean(axis=0)  # frequencies along the rows
    low, high = round(0.03 * 256), round(0.10 * 256)
    deepest = low + int(np.argmin(along[low:high]))
    assert deepest / 256 == pytest.approx(1 / 16, abs=0.5 / 256)


@pytest.mark.parametrize("angle_deg", [0, 25, 60, 90, 135])
def test_direction_counts_counter_clockwise_from_the_horizontal(angle_deg: float) -> None:
    spectrum = log_spectrum([turned(swept(15, texture()), angle_deg)])
    assert spectrum is not None
    found = straight_motion(spectrum)
    off = abs((found.direction_deg - angle_deg + 90) % 180 - 90)
    assert off < 3
    assert found.anisotropy > 0.25


@pytest.mark.parametrize("length_px", [9, 16, 25, 40])
def test_length_from_the_cepstrum(length_px: int) -> None:
    spectrum = log_spectrum([swept(length_px, texture())])
    assert spectrum is not None
    length, stands_out = motion_length_px(spectrum, 0.0)
    assert length == pytest.approx(length_px, abs=1.0)
    assert stands_out > 15


def test_even_blur_has_no_direction() -> None:
    still = log_spectrum([texture()])
    round_blur = log_spectrum([cv2.GaussianBlur(texture(), (0, 0), 3)])
    motion = log_spectrum([swept(12, texture())])
    assert still is not None
    assert round_blur is not None
    assert motion is not None
    least = straight_motion(motion).anisotropy
    assert straight_motion(still).anisotropy < 0.5 * least
    assert straight_motion(round_blur).anisotropy < 0.7 * least


def test_blocks_give_what_the_picture_gives() -> None:
    picture = swept(12, texture())
    whole, halves = log_spectrum([picture]), log_spectrum([picture[:512], picture[512:]])
    assert whole is not None
    assert halves is not None
    for spectrum in (whole, halves):
        direction = straight_motion(spectrum).direction_deg
        assert min(direction, 180 - direction) < 6  # few tiles


def test_noise_takes_the_spectrum_away_and_clear_says_so() -> None:
    picture = swept(12, texture())
    noisy = np.clip(picture + np.random.default_rng(1).normal(0, 15, picture.shape), 0, 255).astype(np.float32)
    plain, drowned = log_spectrum([picture]), log_spectrum([noisy])
    assert plain is not None
    assert drowned is not None
    assert straight_motion(drowned).clear < straight_motion(plain).clear


@pytest.mark.parametrize(
    "picture", [np.zeros((100, 900), np.uint8), np.full((600, 600), 255, np.uint8), np.full((600, 600), 90, np.uint8)]
)
def test_small_clipped_and_plain_pictures_have_none(picture: np.ndarray) -> None:
    assert log_spectrum([picture]) is None
