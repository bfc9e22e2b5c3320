"""Likeness of small pictures."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from auditor.vision.likeness import likeness, small_picture
from tests.vision.pictures import texture


def test_the_same_scene_shifted_blurred_and_darker_is_alike() -> None:
    picture = texture((800, 1200))
    again = np.roll(cv2.GaussianBlur(picture, (0, 0), 8), (40, -60), axis=(0, 1)) * 0.6
    assert likeness(small_picture(picture), small_picture(again)) > 0.85


def test_other_scenes_are_not() -> None:
    assert likeness(small_picture(texture(seed=1)), small_picture(texture(seed=2))) < 0.75


def test_upright_and_level_frames_are_not_compared() -> None:
    picture = texture((800, 1200))
    assert likeness(small_picture(picture), small_picture(np.ascontiguousarray(picture.T))) == 0.0


def test_plain_pictures_are_like_nothing() -> None:
    plain = np.full((21, 32), 7, np.uint8)
    assert likeness(plain, plain) == 0.0


@pytest.mark.parametrize(("shape", "expected"), [((400, 600), (21, 32)), ((600, 400), (32, 21)), ((3, 900), (1, 32))])
def test_size_of_the_small_picture(shape: tuple[int, int], expected: tuple[int, int]) -> None:
    assert small_picture(np.zeros(shape, np.uint8)).shape == expected
