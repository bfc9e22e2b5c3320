"""Moments, clocks and shake."""

from __future__ import annotations

import datetime as dt
import math
from itertools import combinations
from statistics import median

import pytest

from sample_library.cast import load_cast
from sample_library.shots import residual, take_shots
from sample_library.story import load_story
from tests.sample_library.conftest import Scenario


def test_a_seed_gives_the_same_shots_and_another_gives_others() -> None:
    story, cast = load_story(), load_cast()

    assert take_shots(story, cast, 7) == take_shots(story, cast, 7)
    assert take_shots(story, cast, 7) != take_shots(story, cast, 8)


def test_no_lens_or_adapter_is_on_two_bodies_at_once(scenario: Scenario) -> None:
    spans: dict[str, tuple[str, set[str], dt.datetime, dt.datetime]] = {}
    for shot in scenario.shots:
        segment, at = shot.segment, shot.taken_at
        begin = spans[segment.id][2] if segment.id in spans else at
        spans[segment.id] = (segment.body, {segment.lens, segment.adapter} - {""}, min(begin, at), at)
    for one, other in combinations(spans.values(), 2):
        if one[0] != other[0] and one[1] & other[1]:
            assert one[3] < other[2] or other[3] < one[2], one[1] & other[1]


def test_frames_of_a_burst_follow_each_other_closely(scenario: Scenario) -> None:
    bursts: dict[tuple[str, int], list[dt.datetime]] = {}
    for shot in scenario.shots:
        if shot.segment.support == "hand":
            bursts.setdefault((shot.segment.id, shot.burst), []).append(shot.taken_at)

    assert max(len(times) for times in bursts.values()) >= 3
    assert all((times[-1] - times[0]).total_seconds() < 4 for times in bursts.values())


# Directive 2000/84/EC, articles 2 and 3: summer time ends on the last Sunday of October at 01:00 UTC; in 2026 that
# is the 25th. The country is invented and keeps the same rule.
def test_the_hour_that_comes_twice(scenario: Scenario) -> None:
    night = [shot for shot in scenario.shots if shot.segment.id == "osk-doubled-hour"]

    assert {shot.offset_minutes for shot in night} == {120, 60}
    before = [shot.taken_at for shot in night if shot.offset_minutes == 120]
    after = [shot.taken_at for shot in night if shot.offset_minutes == 60]
    assert max(before) < dt.datetime(2026, 10, 25, 3)
    assert dt.datetime(2026, 10, 25, 2) <= min(after) < dt.datetime(2026, 10, 25, 3)


def test_the_silver_body_is_an_hour_fast_on_the_last_sunday_only(scenario: Scenario) -> None:
    for shot in scenario.shots:
        fast = shot.segment.body == "one" and shot.taken_at.date() == dt.date(2026, 10, 25)
        assert shot.clock_at - shot.taken_at == dt.timedelta(hours=1 if fast else 0)


@pytest.mark.parametrize(("setting", "share"), [(85.0, 2**-4.0), (0.0, 1.0), (170.0, math.hypot(1, 2 * 2**-4.0))])
def test_residual_at_its_known_points(setting: float, share: float) -> None:
    # Five stops at H = 0.8 leave 2^(-0.8·5); a setting of 0 corrects nothing; twice too long misses by as much as off.
    assert residual(setting, 85.0, 5.0) == pytest.approx(share, rel=1e-12)


def test_the_median_trace_of_the_forgotten_setting_is_what_the_hand_and_the_setting_leave() -> None:
    """Rayleigh's median is σ·sqrt(2 ln 2); over many seeds the drawn traces must come to it."""
    story, cast = load_story(), load_cast()
    ratios = []
    for seed in range(8):
        for shot in take_shots(story, cast, seed):
            if shot.segment.id == "forgotten-setting":
                left = math.hypot(1 - 50 / shot.right_mm, 50 / shot.right_mm * 2**-4.0)
                sigma_um = shot.right_mm * left * 0.29 * (60 / shot.shutter) ** 0.8
                ratios.append(shot.shake_um / sigma_um)

    # 496 draws whose logarithms spread by about 0.6: the median is known within 0.07 at three standard errors.
    assert median(ratios) == pytest.approx(math.sqrt(2 * math.log(2)), rel=0.11)


def test_file_numbers_count_on_and_names_are_unique(scenario: Scenario) -> None:
    assert len({shot.path for shot in scenario.shots}) == len(scenario.shots)
    stems = [
        shot.path.rsplit("/", 1)[1] for shot in scenario.shots if shot.segment.body == "one" and "SLV_" in shot.path
    ]
    assert stems == sorted(stems)
