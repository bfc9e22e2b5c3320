"""Judged frames as trials of a hand, and what a fit says in words."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from auditor.audit.calibration import hand_prior, hand_trials, hand_words
from auditor.audit.card import body_tolerance_um
from auditor.model.kit import parse_kit
from auditor.model.pairings import pairing_of
from auditor.model.settings import Tolerance
from auditor.shake.estimates import Estimate, HandFit
from tests.kits import KIT_TEXT, small_kit

USUAL = {
    "body": "one", "lens": "orla-50", "adapter": "m42-plain", "trip": "one day", "drive_mode": None, "kept": True,
    "exposure_time_s": 1 / 60, "support": "hand", "subject": None, "flash_fired": False, "setting_mm": 50.0,
    "right_setting_mm": 50.0, "right_setting_low_mm": 50.0, "right_setting_high_mm": 57.0, "residual": 0.06,
    "has_contacts": False, "focal_length_mm": 50.0, "pairing_confidence": 0.99, "magnification": 0.0,
    "image_width_px": 5184, "image_height_px": 3888,
}  # fmt: skip


def _frames(*rows: dict) -> pd.DataFrame:
    at = pd.Timestamp("2026-05-01 10:00")
    made = pd.DataFrame([{**USUAL, "at": at + pd.Timedelta(minutes=k), **row} for k, row in enumerate(rows)])
    return made.astype({"body": "str", "lens": "str", "adapter": "str", "support": "str", "subject": "str"})


def _trials(*rows: dict, kit=None):
    return hand_trials(_frames(*rows), kit or small_kit(), Tolerance(), "one")


def test_usable_frames_become_trials():
    found = _trials(
        {"setting_mm": 45.0}, {"residual": 1.0, "kept": False}, {"has_contacts": True, "setting_mm": np.nan}
    )
    assert found.left_out == {}
    trials = found.trials
    assert trials.setting_error[[0, 2]] == pytest.approx([0.1, 0.0])
    assert np.isnan(trials.setting_error[1])
    assert trials.kept.tolist() == [True, False, True]
    assert trials.tolerance_um == pytest.approx([body_tolerance_um(small_kit().bodies[0], Tolerance())] * 3)
    assert len(set(trials.burst)) == 3


# Every reason, one frame each.
REASONS = [
    ({"kept": None}, "never judged"),
    ({"exposure_time_s": np.nan}, "exposure time not known"),
    ({"lens": None}, "lens or adapter not known"),
    ({"pairing_confidence": 0.5}, "lens or adapter not known"),
    ({"support": "tripod"}, "not held by hand"),
    ({"subject": "walking"}, "subject moved"),
    ({"subject": "2.5"}, "subject moved"),
    ({"flash_fired": True}, "flash"),
    ({"right_setting_mm": np.nan}, "right setting not known"),
    ({"right_setting_high_mm": 90.0}, "right setting not known"),
    ({"has_contacts": True, "focal_length_mm": np.nan}, "right setting not known"),
    ({"setting_mm": np.nan}, "what was typed is not known"),
    ({"magnification": 0.5}, "closer than rotation alone explains"),
]


@pytest.mark.parametrize(("row", "reason"), REASONS)
def test_what_is_left_out_is_counted_with_its_reason(row, reason):
    found = _trials({}, row)
    assert found.left_out == {reason: 1}
    assert found.trials.count == 1


def test_each_frame_is_left_out_once():
    assert sum(_trials({"kept": None, "support": "tripod", "flash_fired": True}).left_out.values()) == 1


def test_measured_reasons_to_reject():
    rows = [
        {"blur_kind": "missed-focus", "kept": False},
        {"blur_kind": "missed-focus", "kept": True},
        {"blur_kind": "subject-moved"},
        {"blur_kind": None},
    ]
    assert _trials(*rows).left_out == {"rejected for its focus": 1, "subject moved": 1}


def test_a_body_without_known_stops_gives_only_frames_with_it_off():
    kit = parse_kit(KIT_TEXT.replace("stabiliser_stops = 5.0\n", "", 1))
    assert _trials({}, {"residual": 1.0}, kit=kit).left_out == {"the body's stops are not in the kit": 1}


def test_other_bodies_are_not_asked():
    assert _trials({"body": "two"}, {}).trials.count == 1


def test_frames_close_in_time_are_a_burst():
    at = pd.Timestamp("2026-05-01 10:00")
    times = [at + pd.Timedelta(seconds=s) for s in (0, 0.3, 0.6, 10)]
    trials = _trials(*({"at": time} for time in times)).trials
    assert np.unique(trials.burst, return_counts=True)[1].tolist() == [3, 1]


def test_one_of_each_burst_is_not_a_keep_rate():
    at = pd.Timestamp("2026-05-01 10:00")
    rows = [
        {"at": at + pd.Timedelta(minutes=burst, seconds=0.3 * k), "kept": k == 0}
        for burst in range(20)
        for k in range(4)
    ]
    alone = [{"at": at + pd.Timedelta(hours=5 + k)} for k in range(5)]
    found = _trials(*rows, *alone)
    assert found.singles_only
    assert found.trials.count == 5
    assert found.left_out == {"one of each burst was chosen": 80}


def test_picture_size_may_be_unknown():
    found = hand_trials(
        _frames({"image_width_px": np.nan, "image_height_px": np.nan}), small_kit(), Tolerance(blur_px=2.0), "one"
    )
    assert found.trials.tolerance_um[0] == pytest.approx(14.48, abs=0.01)


def test_frames_without_a_magnification_column():
    frames = _frames({}).drop(columns="magnification")
    assert hand_trials(frames, small_kit(), Tolerance(), "one").trials.count == 1


def test_prior_of_a_body():
    prior = hand_prior(small_kit().bodies[0])
    assert prior.stops == 4.0
    assert prior.crop == pytest.approx(43.27 / 21.72, abs=0.01)
    bare = parse_kit(KIT_TEXT.replace("sensor_mm = [17.4, 13.0]\n", "").replace("stabiliser_stops = 5.0\n", "", 1))
    assert (hand_prior(bare.bodies[0]).stops, hand_prior(bare.bodies[0]).crop) == (0.0, 1.0)


def _fit(**told: bool) -> HandFit:
    def estimate(name: str) -> Estimate:
        return Estimate(1.0, 0.5, 2.0, told.get(name, True))

    names = ("shake_mrad", "exponent", "spread_stops", "stops", "stabilised_mrad", "other_keep")
    return HandFit(
        **{name: estimate(name) for name in names}, frames=100, stabilised=int(told.get("on", True)) * 80, off=20,
        burst_correlation=0.0, effective_frames=100.0, confidence=0.9,
    )  # fmt: skip


def test_words_say_what_cannot_be_told_and_what_would_settle_it():
    body = small_kit().bodies[0]
    plain = " ".join(hand_words(_fit(), body))
    assert "cannot tell" not in plain
    declined = " ".join(hand_words(_fit(stops=False), body, (pairing_of(small_kit(), "one", "hale-85", "m42-plain"),)))
    assert "The frames cannot tell the stops" in declined
    assert "stabiliser off" in declined
    assert "hale-85" in declined
    assert "mainly what was believed before" in declined


def test_words_for_the_rest():
    body = small_kit().bodies[0]
    assert "by itself" in " ".join(hand_words(_fit(shake_mrad=False), body))
    assert "too few" in " ".join(hand_words(_fit(shake_mrad=False, stabilised_mrad=False), body))
    assert "wider range" in " ".join(hand_words(_fit(exponent=False), body))
    assert "stops of" not in " ".join(hand_words(_fit(on=False, stops=False), body))
