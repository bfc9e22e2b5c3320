"""Noise by brightness, and parts of a picture that moved."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from auditor.vision.edge_points import edge_points, halved
from auditor.vision.moving import has_moving_subject, spread_by_region
from auditor.vision.noise import BLOCK_PX, blocks_of, noise_of_blocks
from auditor.vision.sharpness import edge_slopes
from tests.vision.pictures import squares, swept


def gradient_of(picture: np.ndarray) -> np.ndarray:
    across, down = (
        cv2.Sobel(picture, cv2.CV_32F, 1, 0, ksize=1, scale=0.5),
        cv2.Sobel(picture, cv2.CV_32F, 0, 1, ksize=1, scale=0.5),
    )
    return cv2.magnitude(across, down)


def test_blocks_are_whole_and_what_is_left_over_at_the_ends_is_in_none() -> None:
    picture = np.random.default_rng(3).uniform(0, 255, (3 * BLOCK_PX + 7, 5 * BLOCK_PX + 15)).astype(np.float32)
    level, change = blocks_of(picture, 255 - picture)
    whole = picture[: 3 * BLOCK_PX, : 5 * BLOCK_PX].reshape(3, BLOCK_PX, 5, BLOCK_PX).mean(axis=(1, 3))
    assert level == pytest.approx(whole, rel=1e-5)
    assert change == pytest.approx(255 - whole, rel=1e-5)


def test_half_the_size_is_the_mean_of_four_whatever_is_left_over() -> None:
    picture = np.random.default_rng(4).integers(0, 256, (9, 13)).astype(np.uint8)
    assert halved(picture) == pytest.approx(picture[:8, :12].reshape(4, 2, 6, 2).mean(axis=(1, 3)))
    assert halved(picture[:1, :1]).tolist() == [[float(picture[0, 0])]]


@pytest.mark.parametrize("spread", [1.0, 3.0])
def test_white_noise_is_found_and_follows_its_spread(spread: float) -> None:
    picture = np.random.default_rng(3).normal(120, spread, (640, 640)).astype(np.float32)
    found = noise_of_blocks(*blocks_of(picture, gradient_of(picture)))
    # Each part of the gradient is (b - a)/2 of independent noise: spread/√2; the mean length of two is 1.2533 of that.
    assert float(np.median(found)) == pytest.approx(spread / np.sqrt(2), rel=0.12)


def test_noise_is_read_at_each_brightness() -> None:
    random = np.random.default_rng(3)
    dark, bright = random.normal(60, 1.0, (640, 320)), random.normal(180, 2.0, (640, 320))
    picture = np.hstack([dark, bright]).astype(np.float32)
    found = noise_of_blocks(*blocks_of(picture, gradient_of(picture)))
    assert np.median(found[:, 25:]) == pytest.approx(2 * np.median(found[:, :15]), rel=0.15)


def test_texture_everywhere_is_not_taken_for_noise() -> None:
    level, change = np.full((40, 40), 120.0, np.float32), np.full((40, 40), 30.0, np.float32)
    assert noise_of_blocks(level, change).max() <= 4.0


def test_clipped_pictures_have_no_noise() -> None:
    level = np.full((4, 4), 255.0, np.float32)
    assert noise_of_blocks(level, np.ones((4, 4), np.float32)).max() == 0.0


def test_a_part_that_moved_is_found_and_a_still_picture_is_not() -> None:
    still, moved = squares(1280), squares(1280, swept(24))
    mixed = still.copy()
    mixed[:, 512:] = moved[:, 512:]
    assert has_moving_subject(edge_points(mixed), edge_slopes(mixed).crispest, full_size=True)
    assert not has_moving_subject(edge_points(still), edge_slopes(still).crispest, full_size=True)


def test_a_frame_that_is_crisp_nowhere_has_no_moving_subject() -> None:
    moved = squares(1280, swept(24))
    assert not has_moving_subject(edge_points(moved), 0.2, full_size=True)


def test_regions_name_the_direction() -> None:
    regions = spread_by_region(edge_points(squares(1280, swept(12))))
    assert regions
    assert all(min(one.direction_deg, 180 - one.direction_deg) < 15 for one in regions if one.anisotropy > 0.3)
