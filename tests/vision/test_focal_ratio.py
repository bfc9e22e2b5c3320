"""Ratios of focal lengths between views of a plane at infinity, whose true ratio is known exactly."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from auditor.vision.focal_ratio import focal_ratio, matched_ratio
from auditor.vision.landmarks import LONG_SIDE_PX, landmarks
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


FOCAL_PX, SIZE = 1200.0, (1000, 667)


def places_seen(
    depths: list[tuple[float, int]], step: tuple[float, float, float], longer: float = 1.0, pan: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """
    Return where a pinhole camera has points before and after a step: exact but for a third of a pixel.

    ``depths`` are distances, each with how many points lie at it; ``step`` is to the right, down and forward.
    """
    random = np.random.default_rng(4)
    before = np.concatenate([random.uniform(-0.5, 0.5, (count, 2)) * SIZE for _, count in depths])
    depth = np.concatenate([np.full(count, distance) for distance, count in depths])
    points = np.column_stack([before / FOCAL_PX * depth[:, None], depth]) - step
    points = points @ cv2.Rodrigues(np.array([0.0, pan, 0.0]))[0].T
    after = points[:, :2] / points[:, 2:] * FOCAL_PX * longer
    inside = (np.abs(after) < np.array(SIZE) / 2).all(axis=1)
    return before[inside] + random.normal(0, 0.3, (inside.sum(), 2)), after[inside]


def told(places: tuple[np.ndarray, np.ndarray]) -> tuple[str, str]:
    found = matched_ratio(places, (SIZE, SIZE), FOCAL_PX / SIZE[0])
    return found.verdict, found.reason


def test_another_lens_from_one_spot_is_told_though_the_photographer_swayed() -> None:
    # 3 cm with the nearest things at 3 m: 12 px, 1.2 % of the frame, which no homography of the rest explains.
    for longer in (1.4, 2.0, 2.5):
        places = places_seen([(3.0, 200), (30.0, 400), (60.0, 400)], (0.03, 0.0, 0.02), longer, pan=0.03)
        found = matched_ratio(places, (SIZE, SIZE), FOCAL_PX / SIZE[0])
        assert (found.verdict, found.reason) == ("another", "")
        assert found.low < longer < found.high


def test_a_walk_towards_a_facade_is_no_other_lens_while_something_stands_behind() -> None:
    # From 3 to 2.1 m: the facade grows by 1.43 and has 3 in 4 of the points, so that a turned camera with a longer
    # lens explains more than .6 of them. What stands at 9 m grew by 9 / 8.1 = 1.11 only.
    walked = places_seen([(3.0, 900), (9.0, 100)], (0.0, 0.0, 0.9))
    assert told(walked) == ("unknown", "the camera moved between the frames")
    back = walked[1], walked[0]
    assert told(back) == ("unknown", "the camera moved between the frames")


def test_a_walk_towards_a_facade_alone_cannot_be_told_from_a_longer_lens() -> None:
    walked = places_seen([(3.0, 1000)], (0.0, 0.0, 0.9))
    found = matched_ratio(walked, (SIZE, SIZE), FOCAL_PX / SIZE[0])
    assert found.verdict == "another"
    assert found.ratio == pytest.approx(3.0 / 2.1, rel=0.01)


def test_a_longer_lens_from_so_far_back_that_the_subject_is_as_large_is_not_the_same_lens() -> None:
    # 1.5 times the focal length from 4.5 instead of 3 m: what stands at 3 m is as large, what stands at 12 m larger.
    followed = places_seen([(3.0, 700), (12.0, 300)], (0.0, 0.0, -1.5), 1.5)
    assert told(followed) == ("unknown", "the camera moved between the frames")
    few_behind = places_seen([(3.0, 950), (12.0, 50)], (0.0, 0.0, -1.5), 1.5)
    assert told(few_behind) == ("same", "")  # and where next to nothing else is seen, nothing tells


def test_one_lens_is_called_the_same_after_a_short_step() -> None:
    assert told(places_seen([(9.0, 900), (3.0, 100)], (0.15, 0.0, 0.0))) == ("same", "")


def test_landmarks_are_reduced_and_counted_from_the_centre() -> None:
    seen = landmarks(SCENERY)
    assert max(seen.size) == LONG_SIDE_PX
    assert len(seen.places) <= 3000 + 10
    assert np.abs(seen.places).max() <= LONG_SIDE_PX / 2
    assert np.linalg.norm(seen.looks, axis=1) == pytest.approx(1.0, abs=1e-3)


def test_the_answer_does_not_change_from_run_to_run() -> None:
    wide, long = landmarks(view(1300.0)), landmarks(view(1820.0, pan=0.05))
    assert focal_ratio(wide, long) == focal_ratio(wide, long)
