"""Where two frames of a scene show something else, on pictures that were changed in a known place."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from auditor.vision.change import COMPARED_SIDE_PX, Reduced, change, reduced
from tests.vision.pictures import leaves

HEIGHT_PX, WIDTH_PX = 500, 700


def grey(picture: np.ndarray, seed: int = 1) -> Reduced:
    noisy = picture + np.random.default_rng(seed).normal(0, 1.5, picture.shape)
    return reduced(np.clip(np.round(noisy), 0, 255).astype(np.uint8))


@pytest.fixture(scope="module")
def scene() -> np.ndarray:
    return cv2.GaussianBlur(leaves(HEIGHT_PX, WIDTH_PX), (0, 0), 0.7)


def replaced(scene: np.ndarray) -> np.ndarray:
    other = scene.copy()
    other[160:360, 240:480] = scene[::-1, ::-1][160:360, 100:340]
    return other


def held(scene: np.ndarray, turn_deg: float = 0.0, scale: float = 1.0, shift_px: float = 0.0) -> np.ndarray:
    turn = cv2.getRotationMatrix2D((WIDTH_PX / 2, HEIGHT_PX / 2), turn_deg, scale)
    turn[:, 2] += shift_px
    return cv2.warpAffine(scene, turn, (WIDTH_PX, HEIGHT_PX), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101)


def test_the_place_that_changed_is_found(scene: np.ndarray) -> None:
    found = change(grey(replaced(scene)), grey(scene, 2))
    assert found is not None
    inside = np.zeros(found.changed.shape, bool)
    inside[20:45, 30:60] = True
    assert found.changed[inside].mean() > 0.9
    assert found.changed[~inside].mean() < 0.05
    assert found.same[~inside].mean() > 0.4  # the rest of it is too plain to say
    assert not found.same[22:43, 32:58].any()
    assert found.same_at_edges > 0.9
    assert found.is_worth_a_look


@pytest.mark.parametrize(
    "other",
    [lambda s: s, lambda s: 0.7 * s + 20, lambda s: held(s, 1.5, 1.02, 12.0), lambda s: held(s, shift_px=2.4)],
    ids=["nothing", "another exposure", "held differently", "a little aside"],
)
def test_nothing_changed(scene: np.ndarray, other: object) -> None:
    found = change(grey(scene), grey(other(scene), 2))  # type: ignore[operator]
    assert found is not None
    assert found.changed.mean() < 0.01
    assert found.same_at_edges > 0.9
    assert not found.is_worth_a_look


def test_a_small_parallax_is_forgiven(scene: np.ndarray) -> None:
    y, x = np.mgrid[0:HEIGHT_PX, 0:WIDTH_PX].astype(np.float32)
    near = (2.0 * (y > HEIGHT_PX * 0.6)).astype(np.float32)
    aside = cv2.remap(scene, x + near, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101)
    found = change(grey(scene), grey(aside, 2))
    assert found is not None
    assert found.changed.mean() < 0.01


def test_what_the_sibling_does_not_reach_is_neither(scene: np.ndarray) -> None:
    found = change(grey(scene), grey(held(scene, shift_px=-60.0), 2))
    assert found is not None
    assert not found.same[:, :7].any()
    assert not found.changed[:, :7].any()


def test_the_whole_background_going_by_is_no_subject(scene: np.ndarray) -> None:
    behind = scene[::-1, ::-1].copy()
    behind[130:390, 180:540] = scene[130:390, 180:540]
    found = change(grey(behind), grey(scene, 2))
    assert found is None or not found.is_worth_a_look


@pytest.mark.parametrize("how", [{"shift_px": 150.0}, {"turn_deg": 12.0}, {"scale": 1.2}])
def test_frames_held_too_differently_are_not_compared(scene: np.ndarray, how: dict[str, float]) -> None:
    assert change(grey(scene), grey(held(scene, **how), 2)) is None


def test_frames_without_landmarks_or_of_two_shapes_are_not_compared(scene: np.ndarray) -> None:
    plain = reduced(np.full((HEIGHT_PX, WIDTH_PX), 90, np.uint8))
    assert change(plain, plain) is None
    assert change(grey(scene), grey(scene.T.copy())) is None
    assert change(grey(scene), grey(leaves(HEIGHT_PX, WIDTH_PX, 9))) is None


def test_large_frames_are_reduced(scene: np.ndarray) -> None:
    twice = cv2.resize(replaced(scene), None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    sibling = cv2.resize(scene, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    found = change(grey(twice), grey(sibling, 2))
    assert found is not None
    assert found.changed.shape[1] == COMPARED_SIDE_PX // 8
