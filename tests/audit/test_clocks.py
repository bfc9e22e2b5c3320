"""Offsets put into simulated archives are found, right clocks are left alone, and nothing is applied."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from auditor.audit.clocks import ClockOffset, find_clock_offsets, offset_sentence
from auditor.audit.evidence import add_evidence
from auditor.audit.trips import add_trip
from auditor.model.settings import Settings, parse_settings
from tests.benchmarks.pairing.kits import make_kit
from tests.benchmarks.pairing.photographer import Habits, World, make_world
from tests.kits import small_kit, some_frames


def _evidence(world: World, *, slow_minutes: float = 0.0, settings: Settings | None = None) -> pd.DataFrame:
    settings = settings or Settings()
    frames = world.frames.assign(captured_at=world.frames["captured_at"] - pd.Timedelta(minutes=slow_minutes))
    evidence = add_trip(add_evidence(frames, world.kit, world.log, settings), settings.trips)
    return evidence.assign(setting_mm=evidence["recorded_setting_mm"])


@pytest.fixture(scope="module")
def world() -> World:
    return make_world(11, make_kit(np.random.default_rng(11)), coverage=0.9, habits=Habits(), trips=2, frames=1600)


@pytest.mark.parametrize("minutes", [60.0, -120.0, 420.0, 25.0])
def test_a_slow_or_fast_clock_is_found_in_every_trip(world: World, minutes: float) -> None:
    evidence = _evidence(world, slow_minutes=minutes)
    before = evidence.copy()
    found = find_clock_offsets(evidence, world.kit, world.log)
    assert len(found) == 2
    for offset in found:
        assert offset.add_minutes == pytest.approx(minutes, abs=5)
        assert offset.agrees_then > offset.agrees_now
    pd.testing.assert_frame_equal(evidence, before)


def test_a_right_clock_is_left_alone(world: World) -> None:
    assert find_clock_offsets(_evidence(world), world.kit, world.log) == ()


def test_the_correction_that_is_proposed_silences_the_report(world: World) -> None:
    offset = find_clock_offsets(_evidence(world, slow_minutes=60.0), world.kit, world.log)[0]
    lines = offset_sentence(offset).split("\n")[2:]
    settings = parse_settings("\n".join(line.strip() for line in lines))
    left = find_clock_offsets(_evidence(world, slow_minutes=60.0, settings=settings), world.kit, world.log)
    assert offset.trip not in {other.trip for other in left}


def test_a_few_rows_prove_nothing(world: World) -> None:
    assert find_clock_offsets(_evidence(world, slow_minutes=60.0), world.kit, world.log[:4]) == ()


def test_bodies_set_to_two_zones_are_told() -> None:
    rows = [{"captured_at": f"2026-05-02 10:{minute:02d}", "offset_minutes": 120} for minute in range(5)]
    rows += [
        {
            "captured_at": f"2026-05-02 09:{minute:02d}",
            "offset_minutes": 60,
            "model": "Nightline 1",
            "make": "Nightline",
        }
        for minute in range(3)
    ]
    kit, settings = small_kit(), Settings()
    evidence = add_trip(add_evidence(some_frames(rows), kit, (), settings), settings.trips).assign(setting_mm=np.nan)
    (found,) = find_clock_offsets(evidence, kit, ())
    assert (found.body, found.against, found.add_minutes, found.compared) == ("two", "one", 60.0, 3)
    assert "different offsets from UTC" in offset_sentence(found)


def test_a_fast_clock_in_words() -> None:
    moment = pd.Timestamp("2026-05-01 09:00:00.5").to_pydatetime()
    text = offset_sentence(ClockOffset("one", "log", "May", -60, 0.1, 0.9, 10, moment, moment))
    assert '"one" seems 60 min fast against the log (1 of 10 rows fit now, 9 then)' in text
    assert "to = 2026-05-01T09:00:01" in text
