"""Whether what changed was drawn out by motion, on a made scene in which one thing is put at two places."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from auditor.vision.change import Change, Reduced, change, reduced
from auditor.vision.changed_windows import CLUES, windows
from auditor.vision.drawn_out import drawn_out, load_rule
from tests.vision.pictures import leaves, level_motion, someone

HERE, THERE = (600, 700), (1400, 700)
SPREAD_PX = 24


def grey(picture: np.ndarray, seed: int = 1) -> np.ndarray:
    noisy = picture + np.random.default_rng(seed).normal(0, 1.5, picture.shape)
    return np.clip(np.round(noisy), 0, 255).astype(np.uint8)


def quarter(picture: np.ndarray) -> Reduced:
    return reduced(cv2.resize(picture, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA))


@pytest.fixture(scope="module")
def scene() -> np.ndarray:
    return leaves(1500, 2000)


@pytest.fixture(scope="module")
def sibling(scene: np.ndarray) -> np.ndarray:
    return grey(someone(scene, HERE), 2)


def beside(frame: np.ndarray, sibling: np.ndarray) -> Change:
    found = change(quarter(frame), quarter(sibling))
    assert found is not None
    assert found.is_worth_a_look
    return found


@pytest.mark.parametrize(("upright", "direction_deg"), [(False, 0.0), (True, 90.0)])
def test_a_subject_that_walks_is_found_with_its_direction(
    scene: np.ndarray, sibling: np.ndarray, upright: bool, direction_deg: float
) -> None:
    motion = level_motion(SPREAD_PX)
    frame = grey(someone(scene, THERE, motion.T if upright else motion))
    judged = drawn_out(frame, beside(frame, sibling))
    assert judged.score > load_rule().answer_from
    assert load_rule().confidence(judged.score) > 0.9
    assert abs((judged.direction_deg - direction_deg + 90) % 180 - 90) < 5


def test_a_subject_that_came_is_found(scene: np.ndarray) -> None:
    frame = grey(someone(scene, THERE, level_motion(SPREAD_PX)))
    assert drawn_out(frame, beside(frame, grey(scene, 2))).score > load_rule().answer_from


@pytest.mark.parametrize("seed", [77, 78])
def test_a_sharp_subject_that_walked_on_or_was_replaced_is_not(
    scene: np.ndarray, sibling: np.ndarray, seed: int
) -> None:
    frame = grey(someone(scene, THERE, seed=seed))
    found = beside(frame, sibling)
    assert windows(frame, found)  # it is judged, and found crisp
    assert drawn_out(frame, found).score < load_rule().answer_from


def test_the_frame_from_which_it_went_is_not(scene: np.ndarray) -> None:
    frame = grey(scene)
    assert drawn_out(frame, beside(frame, grey(someone(scene, THERE, level_motion(SPREAD_PX)), 2))).score < 0


def test_a_subject_out_of_focus_is_not(scene: np.ndarray, sibling: np.ndarray) -> None:
    disc = np.zeros((19, 19), np.float32)
    cv2.circle(disc, (9, 9), 9, 1.0, -1)
    frame = grey(someone(scene, THERE, disc / disc.sum()))
    assert drawn_out(frame, beside(frame, sibling)).score < load_rule().answer_from


def test_a_frame_that_shook_is_not_judged(scene: np.ndarray, sibling: np.ndarray) -> None:
    shaken = cv2.filter2D(someone(scene, THERE), -1, level_motion(9), borderType=cv2.BORDER_REFLECT_101)
    frame = grey(shaken)
    found = change(quarter(frame), quarter(sibling))
    assert found is not None
    assert not found.is_worth_a_look
    assert windows(frame, found) == []
    assert drawn_out(frame, found).score == float("-inf")


def test_nothing_is_judged_where_too_little_changed(scene: np.ndarray, sibling: np.ndarray) -> None:
    frame = grey(someone(scene, THERE, level_motion(SPREAD_PX)))
    found = beside(frame, sibling)
    assert windows(frame, replace(found, changed=np.zeros_like(found.changed))) == []
    assert windows(frame, replace(found, same_at_edges=0.1)) == []
    assert windows(frame, replace(found, same=np.zeros_like(found.same))) == []  # no telling whether it shook


def test_changed_parts_without_detail_are_passed_over(scene: np.ndarray, sibling: np.ndarray) -> None:
    frame = grey(someone(scene, THERE, level_motion(SPREAD_PX)))
    found = beside(frame, sibling)
    plain = frame.copy()
    plain[200:1200, 100:] = 120
    rows, columns = found.changed.shape
    everywhere = np.ones((rows, columns), bool)
    assert len(windows(plain, replace(found, changed=everywhere))) < len(
        windows(frame, replace(found, changed=everywhere))
    )


def test_the_rule_is_whole() -> None:
    rule = load_rule()
    assert rule.mean.shape == rule.spread.shape == (len(CLUES),)
    assert rule.score(rule.mean) == pytest.approx(rule.coefficients[0])
    assert rule.confidence(-50.0) < 0.01 < 0.99 < rule.confidence(50.0)
    assert rule.confidence(float("-inf")) == 0.0
    assert 0.5 < rule.confidence(rule.answer_from) < 1
