"""Fitting a hand: limits, what cannot be told, and simulated photographers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.shake.estimates import HandPrior
from auditor.shake.fitting import fit_hand
from auditor.shake.mixtures import mixture_quantiles, weighted_quantiles
from auditor.shake.trials import Trials
from tests.benchmarks.calibration.photographers import CROP, RATED, Photographer, draw, shoot

PRIOR = HandPrior(stops=RATED - 1.0, crop=CROP)
STEADY = Photographer(0.2, 0.8, 4.5, 0.5, 0.95, 0.3)


def _shots(who: Photographer, frames: int, seed: int, **archive) -> Trials:
    given = {"off_share": 0.2, "setting_spread": 0.0, "bursts": False, **archive}
    return shoot(who, frames, np.random.default_rng(seed), **given)


def test_a_hand_is_found_again():
    fit = fit_hand(_shots(STEADY, 3000, 1), PRIOR)
    for name, truth in (("shake_mrad", 0.2), ("exponent", 0.8), ("stops", 4.5), ("other_keep", 0.95)):
        found = getattr(fit, name)
        assert found.told, name
        assert found.low <= found.value <= found.high
        assert found.value == pytest.approx(truth, rel=0.2), name
    assert fit.off + fit.stabilised == fit.frames == 3000
    assert fit.effective_frames == pytest.approx(3000)
    assert fit.burst_correlation == 0.0


def test_more_frames_tell_more():
    wide, narrow = (fit_hand(_shots(STEADY, n, 2), PRIOR).stops for n in (300, 3000))
    assert narrow.high - narrow.low < 0.6 * (wide.high - wide.low)


def test_with_every_frame_on_and_right_the_stops_are_declined():
    fit = fit_hand(_shots(STEADY, 3000, 3, off_share=0.0), PRIOR)
    assert not fit.stops.told
    assert not fit.shake_mrad.told
    # What the stabiliser leaves is in the data, and is told.
    assert fit.stabilised_mrad.told
    assert fit.stabilised_mrad.low < 0.2 * 2.0 ** (-0.8 * 4.5) < fit.stabilised_mrad.high


def test_declined_stops_follow_the_prior_and_told_ones_do_not():
    on, mixed = _shots(STEADY, 3000, 4, off_share=0.0), _shots(STEADY, 3000, 4)
    low, high = HandPrior(stops=3.0, crop=CROP), HandPrior(stops=6.0, crop=CROP)
    assert fit_hand(on, high).stops.value - fit_hand(on, low).stops.value > 1.0
    assert fit_hand(mixed, high).stops.value - fit_hand(mixed, low).stops.value < 0.6


def test_known_wrong_settings_tell_the_stops_too():
    assert fit_hand(_shots(STEADY, 3000, 5, off_share=0.0, setting_spread=0.2), PRIOR).stops.told


def test_without_a_stabilised_frame_nothing_is_said_of_stops():
    fit = fit_hand(_shots(STEADY, 600, 6, off_share=1.0), PRIOR)
    assert not fit.stops.told
    assert not fit.stabilised_mrad.told
    assert fit.stabilised == 0
    assert fit.shake_mrad.told


def test_bursts_are_worth_less_than_their_frames():
    alike = Photographer(0.2, 0.8, 4.5, 1.2, 0.98, 1.0)
    fit = fit_hand(_shots(alike, 1500, 7, bursts=True), PRIOR)
    assert fit.burst_correlation > 0.02
    assert fit.effective_frames < 1450


def test_one_shutter_time_does_not_tell_how_shake_grows():
    trials = _shots(STEADY, 800, 8)
    same = Trials(
        np.full(800, 1 / 30), trials.right_mm, trials.tolerance_um, trials.setting_error, trials.kept, trials.burst
    )
    assert not fit_hand(same, PRIOR).exponent.told


def test_intervals_hold_the_truth_as_often_as_they_say():
    # 24 photographers × 4 parameters at 90 %; the full count is in tests/benchmarks/calibration. 96 intervals: fewer
    # than 78 would happen by chance once in a thousand.
    rng = np.random.default_rng(20261124)
    held = []
    while len(held) < 96:
        who = draw(rng)
        trials = shoot(who, 300, rng, off_share=0.2, setting_spread=0.0, bursts=True)
        if not 0.05 < trials.kept.mean() < 0.95:
            continue
        fit = fit_hand(trials, PRIOR)
        names = ("shake_mrad", "exponent", "stops", "other_keep")
        held += [getattr(fit, name).low <= getattr(who, name) <= getattr(fit, name).high for name in names]
    assert sum(held) >= 78


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_nothing_to_fit_is_refused(share):
    trials = _shots(STEADY, 100, 9)
    alike = Trials(
        trials.exposure_time_s, trials.right_mm, trials.tolerance_um, trials.setting_error,
        np.full(100, bool(share)), trials.burst,
    )  # fmt: skip
    with pytest.raises(ValueError, match="20 judged frames"):
        fit_hand(alike, PRIOR)
    with pytest.raises(ValueError, match="20 judged frames"):
        fit_hand(trials.where(np.arange(100) < 10), PRIOR)
    with pytest.raises(ValueError, match="20 judged frames"):
        fit_hand(trials.where(np.zeros(100, bool)), PRIOR)


@pytest.mark.parametrize("lacks", ["exposure_time_s", "right_mm", "tolerance_um"])
def test_a_frame_of_which_something_is_not_known_is_refused_before_it_spoils_the_fit(lacks):
    trials = _shots(STEADY, 100, 9)
    holed = getattr(trials, lacks).copy()
    holed[7] = np.nan
    with pytest.raises(ValueError, match="of every frame"):
        fit_hand(replace(trials, **{lacks: holed}), PRIOR)


def test_mixtures():
    # One normal part: ±1.2816 at 10 and 90 % (standard); two far points: each its half.
    assert mixture_quantiles([0.0], [1.0], [3.0], [0.1, 0.9]) == pytest.approx([-1.2816, 1.2816], abs=0.01)
    assert mixture_quantiles([0.0, 10.0], [0.1, 0.1], [1.0, 1.0], [0.25, 0.75]) == pytest.approx([0.0, 10.0], abs=0.02)
    assert weighted_quantiles([1.0, 2.0, 3.0], [1, 1, 1], [0.0, 0.5, 1.0], step=1.0) == pytest.approx([0.5, 2.0, 3.5])
