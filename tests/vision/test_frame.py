"""Decisions on pictures with known blur, on the real shaken clock, and "cannot tell" where nothing can be told."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
import skimage

from auditor.readers.pixels import read_pixels
from auditor.vision.frame import first_look, measure, needs_second_look, second_look, shake_trace
from auditor.vision.kind import ANSWER_FROM, KINDS, Decision, Rule, decide, features, load_rules, shares
from auditor.vision.looks import blocks_to_look_at, look
from tests.vision.pictures import disc, squares, swept


def measured(picture: np.ndarray):
    grey = np.clip(np.round(picture), 0, 255).astype(np.uint8)
    half = cv2.resize(grey, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    first = first_look(half)
    second = second_look(grey, 1.0, first) if needs_second_look(first) else None
    return measure(first, second)


def noisy(picture: np.ndarray) -> np.ndarray:
    return picture + np.random.default_rng(1).normal(0, 1.5, picture.shape)


def test_the_clock_of_scikit_image_is_called_shake_along_the_horizontal() -> None:
    clock = cv2.imread(str(Path(skimage.__file__).parent / "data" / "clock_motion.png"), cv2.IMREAD_GRAYSCALE)
    found = measured(clock.astype(np.float32))
    assert found.kind == "shake"
    assert found.confidence >= ANSWER_FROM
    assert min(found.direction_deg, 180 - found.direction_deg) < 10


def test_the_clock_turned_is_called_shake_along_the_vertical() -> None:
    clock = cv2.imread(str(Path(skimage.__file__).parent / "data" / "clock_motion.png"), cv2.IMREAD_GRAYSCALE)
    found = measured(np.rot90(clock).astype(np.float32))
    assert found.kind == "shake"
    assert found.direction_deg == pytest.approx(90, abs=10)


def test_one_scene_sharp_out_of_focus_and_shaken(real_photos: Path) -> None:
    # Real blur, not put in: the photographs t1-*.jpg, on which nothing was fitted.
    found = {}
    for name in ("sharp", "defocus", "shake"):
        grey = cv2.imread(str(real_photos / f"t1-{name}.jpg"), cv2.IMREAD_GRAYSCALE)
        found[name] = measured(grey.astype(np.float32))
    assert found["sharp"].kind == "sharp"
    assert found["defocus"].kind == "missed-focus"
    assert found["shake"].kind in ("shake", "unknown")  # its trails are thin bright lines, crisp across
    assert found["sharp"].edge_width_px < 2 < found["defocus"].edge_width_px
    assert found["shake"].raw_edges < 0.8 * found["sharp"].raw_edges  # what the scene's comparison rests on


def test_a_shaken_frame_is_not_taken_for_one_whose_subject_moved(real_photos: Path) -> None:
    # Read from its file the same photograph is called shake at half size and sharp at full size, and its leaves are
    # drawn out in places: all of it is, and no part moved.
    half, full = (read_pixels(real_photos / "t1-shake.jpg", "jpeg", reduced=step) for step in (2, 1))
    first = first_look(half.grey, half.scale)
    second = second_look(full.grey, full.scale, first)
    assert decide(first, full_size=False).kind == "shake"
    assert measure(first, second).kind in ("shake", "unknown")


@pytest.mark.parametrize(
    ("halfway", "said"), [("shake", "unknown"), ("missed-focus", "unknown"), ("sharp", "subject-moved")]
)
def test_no_subject_moved_where_a_look_calls_all_of_it_blurred(
    halfway: str, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def decided(_look: object, *, full_size: bool) -> Decision:
        kind = "sharp" if full_size else halfway
        return Decision(kind, 0.9, tuple(0.9 if one == kind else 0.05 for one in KINDS))

    monkeypatch.setattr("auditor.vision.frame.decide", decided)
    monkeypatch.setattr("auditor.vision.frame.has_moving_subject", lambda *_, **__: True)
    nothing = look([np.zeros((300, 400), np.uint8)], 2.0)
    assert measure(nothing, nothing).kind == said


def test_drawn_squares_sharp_and_soft() -> None:
    sharp, soft = measured(noisy(squares(1024))), measured(noisy(squares(1024, disc(11))))
    assert sharp.kind == "sharp"
    assert soft.kind == "missed-focus"
    assert sharp.edge_width_px < 2.0
    assert soft.edge_width_px > 6.0
    assert sharp.sharp_fraction > 0.5


def test_drawn_squares_shaken() -> None:
    found = measured(noisy(squares(1024, swept(18))))
    assert found.kind == "shake"
    assert min(found.direction_deg, 180 - found.direction_deg) < 5


@pytest.mark.parametrize(
    "picture", [np.full((900, 1200), 140.0), np.tile(np.linspace(20, 230, 1200), (900, 1)), np.zeros((40, 30))]
)
def test_walls_skies_and_specks_cannot_be_told(picture: np.ndarray) -> None:
    found = measured(noisy(picture))
    assert found.kind == "unknown"
    assert np.isnan(found.edge_width_px)
    assert np.isnan(found.direction_deg)
    assert found.confidence == 0.0


def test_direction_needs_two_witnesses_and_length_a_third() -> None:
    shaken = look([np.clip(squares(1024, swept(18)), 0, 255).astype(np.uint8)])
    sure = Decision("shake", 0.99, (0.0, 0.99, 0.01))
    direction, length = shake_trace(sure, shaken)
    assert min(direction, 180 - direction) < 5
    assert np.isnan(length) or length == pytest.approx(18, abs=2)
    assert np.isnan(shake_trace(Decision("sharp", 0.99, ()), shaken)).all()
    still = look([np.clip(squares(1024), 0, 255).astype(np.uint8)])
    assert np.isnan(shake_trace(sure, still)).all()


def test_large_pictures_are_looked_at_in_blocks_where_their_edges_are() -> None:
    picture = np.full((2560, 3584), 128, np.uint8)
    picture[512:1280, 1024:1792] = squares()
    first = first_look(np.ascontiguousarray(picture[::2, ::2]))
    blocks = blocks_to_look_at(picture, first)
    assert len(blocks) <= 16
    assert all(block.shape == (512, 512) for block in blocks)
    assert sum(int((block != 128).any()) for block in blocks) >= 2
    assert look(blocks).edges[0].crispest > 0.3


def test_rules_are_whole() -> None:
    for rule in load_rules().values():
        assert rule.mean.shape == rule.spread.shape == (7,)
        assert rule.coefficients.shape == (8, len(KINDS))
        assert (rule.spread > 0).all()


def test_shares_sum_to_one_and_follow_the_coefficients() -> None:
    rule = Rule(np.array([1.0]), np.array([2.0]), np.array([[0.0, 0.0, 0.0], [1.0, 0.0, -1.0]]))
    low, high = shares(rule, np.array([-1.0])), shares(rule, np.array([3.0]))
    assert low.sum() == pytest.approx(1.0)
    # One spread above the mean: odds e^1 : 1 : e^-1.
    assert high == pytest.approx(np.exp([1.0, 0.0, -1.0]) / np.exp([1.0, 0.0, -1.0]).sum())
    assert low == pytest.approx(high[::-1])
    assert shares(rule, np.array([1e9])) == pytest.approx(np.exp([4.0, 0, -4]) / np.exp([4.0, 0, -4]).sum())


def test_too_few_edges_give_no_features_and_no_decision() -> None:
    nothing = look([np.full((300, 400), 90, np.uint8)])
    assert features(nothing) is None
    assert decide(nothing, full_size=False) == Decision("unknown", 0.0, ())
