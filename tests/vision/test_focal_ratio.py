"""Ratios of focal lengths between views of a plane at infinity, whose true ratio is known exactly."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from auditor.vision.focal_ratio import LONG_SIDE_PX, focal_ratio, landmarks
from tests.vision.pictures import texture


def scenery() -> np.ndarray:
    random = np.random.default_rng(9)
    picture = cv2.GaussianBlur(texture((1500, 2200)), (0, 0), 1.0) * 0.5 + 60
    for _ in range(900):
        x, y, size = random.integers(0, 2200), random.integers(0, 1500), int(random.integers(4, 60))
        box = cv2.boxPoints(
            ((float(x), float(y)), (size, size * random.uniform(0.4, 1.6)), float(random.uniform(0, 90)))
        )
        cv2.fillPoly(picture, [box.astype(np.int32)], float(random.uniform(20, 235)))
    return np.clip(picture, 0, 255).astype(np.uint8)


SCENERY = scenery()


def view(focal_px: float, pan: float = 0.0, tilt: float = 0.0, roll: float = 0.0) -> np.ndarray:
    """Return what a pinhole camera sees of scenery at infinity, 1000 × 700 px; angles in radians."""
    width, height = 1000, 700
    far = np.array([[2600.0, 0, 1099.5], [0, 2600.0, 749.5], [0, 0, 1]])
    near = np.array([[focal_px, 0, (width - 1) / 2], [0, focal_px, (height - 1) / 2], [0, 0, 1]])
    turn = (
        cv2.Rodrigues(np.array([tilt, 0.0, 0.0]))[0]
        @ cv2.Rodrigues(np.array([0.0, pan, 0.0]))[0]
        @ cv2.Rodrigues(np.array([0.0, 0.0, roll]))[0]
    )
    return cv2.warpPerspective(SCENERY, near @ turn @ np.linalg.inv(far), (width, height), flags=cv2.INTER_AREA)


@pytest.mark.parametrize("ratio", [1.0, 1.4, 2.0, 2.5])
def test_ratio_of_a_camera_that_turned(ratio: float) -> None:
    wide, long = view(1300.0), view(1300.0 * ratio, pan=0.05, tilt=-0.03, roll=0.06)
    found = focal_ratio(landmarks(wide), landmarks(long), 1.3)
    assert found.ratio == pytest.approx(ratio, rel=0.005)
    assert found.low < ratio < found.high
    assert found.verdict == ("same" if ratio == 1.0 else "another")
    assert found.reason == ""


def test_ratio_the_other_way_is_the_inverse() -> None:
    wide, long = landmarks(view(1300.0)), landmarks(view(1950.0, pan=0.04))
    there, back = focal_ratio(wide, long, 1.3), focal_ratio(long, wide, 1.95)
    assert there.ratio * back.ratio == pytest.approx(1.0, abs=0.01)
    assert back.verdict == "another"


def test_a_wide_pan_needs_the_correction_and_gets_it() -> None:
    found = focal_ratio(landmarks(view(1100.0, pan=-0.15)), landmarks(view(1100.0, pan=0.15)), 1.1)
    assert found.ratio == pytest.approx(1.0, rel=0.01)
    assert found.verdict == "same"


def test_a_wrong_guess_is_kept_within_the_interval() -> None:
    wide, long = landmarks(view(1300.0)), landmarks(view(2080.0, pan=0.05))
    for guess in (0.8, 1.3, 2.0):
        found = focal_ratio(wide, long, guess)
        assert found.low < 1.6 < found.high


def test_between_same_and_another_is_unknown() -> None:
    found = focal_ratio(landmarks(view(1300.0)), landmarks(view(1300.0 * 1.17)), 1.3)
    assert found.verdict == "unknown"
    assert "focusing" in found.reason


def test_other_scenery_has_no_overlap() -> None:
    other = np.ascontiguousarray(view(1300.0)[:, ::-1])  # a mirror image is another place
    apart = view(3000.0, pan=0.25)
    assert focal_ratio(landmarks(apart), landmarks(other), 1.3).reason == "no overlap found"
    assert np.isnan(focal_ratio(landmarks(apart), landmarks(other), 1.3).ratio)


def test_walking_between_near_and_far_things_is_not_a_zoom() -> None:
    # Two planes at different distances: a step forward enlarges the near one more.
    far, near = view(1300.0), np.ascontiguousarray(view(1300.0, pan=0.02)[:, ::-1])
    mask = np.zeros(far.shape, bool)
    mask[:, 120:330] = mask[:, 560:760] = True
    before = np.where(mask, near, far)

    def step(picture: np.ndarray, scale: float) -> np.ndarray:
        turn = cv2.getRotationMatrix2D((500, 350), 0, scale)
        return cv2.warpAffine(picture, turn, (1000, 700), flags=cv2.INTER_LINEAR)

    walked = np.where(step(mask.astype(np.uint8), 1.6) > 0, step(near, 1.6), step(far, 1.25))
    found = focal_ratio(landmarks(before), landmarks(walked), 1.3)
    assert found.verdict == "unknown"


def test_landmarks_are_reduced_and_counted_from_the_centre() -> None:
    seen = landmarks(SCENERY)
    assert max(seen.size) == LONG_SIDE_PX
    assert len(seen.places) <= 3000 + 10
    assert np.abs(seen.places).max() <= LONG_SIDE_PX / 2
    assert np.linalg.norm(seen.looks, axis=1) == pytest.approx(1.0, abs=1e-3)


def test_the_answer_does_not_change_from_run_to_run() -> None:
    wide, long = landmarks(view(1300.0)), landmarks(view(1820.0, pan=0.05))
    assert focal_ratio(wide, long) == focal_ratio(wide, long)
