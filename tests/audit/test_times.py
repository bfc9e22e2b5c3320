"""The order of shooting where local time leaps, and what may not be moved."""

from __future__ import annotations

import datetime as dt
import zoneinfo

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.audit.bursts import find_bursts
from auditor.audit.causes import add_pairing_before
from auditor.audit.clocks import find_clock_offsets
from auditor.audit.evidence import add_evidence
from auditor.audit.scenes import add_scene
from auditor.audit.sequence.timeline import lay_out
from auditor.audit.times import shortest_pauses, steady_times, trusted_offsets
from auditor.audit.trips import add_trip
from auditor.model.settings import Clock, Settings, Trips
from auditor.pipeline.auditing import audit_frames
from tests.kits import small_kit, some_frames

# The rules of the zones are those of the time zone database (IANA), as Python's zoneinfo reads them.
PARIS, NEW_YORK, TOKYO = (zoneinfo.ZoneInfo(name) for name in ("Europe/Paris", "America/New_York", "Asia/Tokyo"))
Moments = npt.NDArray[np.datetime64]


def shot(zone: zoneinfo.ZoneInfo, first: str, count: int, every_s: float) -> tuple[Moments, npt.NDArray[np.float64]]:
    """Return local times and offsets of frames at even steps from a moment in UTC."""
    moments = [dt.datetime.fromisoformat(f"{first}+00:00") + dt.timedelta(seconds=every_s * at) for at in range(count)]
    local = [moment.astimezone(zone) for moment in moments]
    at = np.array([moment.replace(tzinfo=None) for moment in local], dtype="datetime64[us]")
    offsets = [moment.utcoffset() or dt.timedelta() for moment in local]
    return at, np.array([offset.total_seconds() / 60 for offset in offsets])


def steady(at: Moments, offset: npt.NDArray[np.float64]) -> Moments:
    return steady_times(at, offset, np.zeros(len(at), dtype=np.int64))


def seconds(times: Moments) -> npt.NDArray[np.float64]:
    return np.asarray(np.diff(times).astype(np.int64) / 1e6)


# Directive 2000/84/EC, article 3: summer time ends at 1 a.m. UTC on the last Sunday of October.
@pytest.mark.published
def test_summer_time_ends_when_the_directive_says() -> None:
    at, offset = shot(PARIS, "2026-10-25T00:30:00", 61, 60)
    assert offset[:30].tolist() == [120.0] * 30
    assert offset[30:].tolist() == [60.0] * 31
    assert str(at[29])[:16] == "2026-10-25T02:59"
    assert str(at[30])[:16] == "2026-10-25T02:00"


@pytest.mark.parametrize(
    ("zone", "first"), [(PARIS, "2026-10-24T22:00:00"), (NEW_YORK, "2026-11-01T03:00:00")], ids=["Paris", "New York"]
)
@pytest.mark.parametrize("every_s", [7, 60, 600, 3000])
def test_the_repeated_hour_is_in_order_and_the_rest_is_as_it_was(
    zone: zoneinfo.ZoneInfo, first: str, every_s: int
) -> None:
    at, offset = shot(zone, first, 6 * 3600 // every_s, every_s)
    assert (seconds(at) < 0).sum() == 1
    put = steady(at, offset)
    pauses = seconds(put)
    assert (pauses > 0).all()
    assert (pauses >= min(every_s / 2, 600) - 1e-5).all()
    assert (pauses <= every_s + 1e-5).all()
    moved = np.abs((put - at).astype(np.int64)) / 60e6
    assert moved.max() <= 30.1, "half an hour at most"
    turn = int(np.flatnonzero(seconds(at) < 0)[0])
    far = np.abs(np.arange(len(at)) - turn) * every_s > 3700
    assert (put[far] == at[far]).all()


def test_only_what_was_shot_twice_by_the_clock_is_moved_where_the_pause_is_long() -> None:
    # Tokyo to New York, thirteen hours back, and from 17:00 in the air: 16:00 to 17:00 in Tokyo, then from 16:00 again.
    tokyo, tokyo_offset = shot(TOKYO, "2026-07-10T05:00:00", 18, 600)
    later, later_offset = shot(NEW_YORK, "2026-07-10T20:00:37", 18, 600)
    at, offset = np.concatenate([tokyo, later]), np.concatenate([tokyo_offset, later_offset])
    assert (seconds(at) < 0).sum() == 1
    put = steady(at, offset)
    assert (seconds(put) > 0).all()
    assert seconds(put)[17] >= 600, "time to change anything"
    assert int((put != at).sum()) <= 2 * 12, "two hours, six frames each"
    assert (put[:8] == tokyo[:8]).all()


def test_east_bound_and_in_spring_nothing_needs_moving() -> None:
    for zone, first in ((PARIS, "2026-03-29T00:00:00"), (NEW_YORK, "2026-03-08T06:00:00")):
        at, offset = shot(zone, first, 120, 60)
        assert len(set(offset)) == 2
        assert (steady(at, offset) == at).all()
    east = np.concatenate(
        [shot(NEW_YORK, "2026-07-10T12:00:00", 9, 600)[0], shot(PARIS, "2026-07-10T22:00:00", 9, 60)[0]]
    )
    assert (steady(east, np.repeat([-240.0, 120.0], 9)) == east).all()


def test_a_body_without_offsets_and_one_of_many_zones_keep_their_times() -> None:
    at, offset = shot(PARIS, "2026-10-25T00:00:00", 120, 60)
    assert (steady(at, np.full(120, np.nan)) == at).all()
    assert (steady(at, np.where(np.arange(120) == 70, np.nan, offset)) == at).all(), "one frame beside it does not tell"
    day, _ = shot(PARIS, "2026-10-20T08:00:00", 120, 300)
    rng = np.random.default_rng(5)
    assert (steady(day, rng.choice([60.0, 120.0], 120)) == day).all(), "offsets that make no sense"


def test_copies_with_an_offset_of_their_own_are_not_a_repeated_hour() -> None:
    at, _ = shot(PARIS, "2026-07-10T08:00:00", 50, 60)
    twice = np.concatenate([at, at])
    assert (steady(twice, np.repeat([120.0, 60.0], 50)) == twice).all()


def test_frames_far_away_may_lack_an_offset_and_other_bodies_do_not_matter() -> None:
    at, offset = shot(PARIS, "2026-10-25T00:00:00", 120, 60)
    earlier = np.array(["2026-10-20T12:00", "NaT"], dtype="datetime64[us]")
    all_at = np.concatenate([earlier, at, at])
    all_offset = np.concatenate([[np.nan, np.nan], offset, np.full(120, np.nan)])
    body = np.repeat([0, 0, 1], [2, 120, 120])
    put = steady_times(all_at, all_offset, body)
    assert (put[122:] == at).all()
    assert put[0] == all_at[0]
    assert np.isnat(put[1])
    assert (seconds(put[2:122]) > 0).all()
    assert (steady_times(all_at, all_offset, np.full(242, -1)) == all_at)[2:].all(), "of no known body"


@given(st.integers(0, 2**32 - 1), st.integers(2, 60))
def test_whatever_the_offsets_no_frame_leaves_the_table(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    at = np.datetime64("2026-10-25T00:00", "us") + rng.integers(0, 20_000, count).astype("timedelta64[s]")
    offset = rng.choice([60.0, 120.0, -300.0, np.nan], count, p=[0.4, 0.4, 0.1, 0.1])
    put = steady(at, offset)
    assert not np.isnat(put).any()
    assert np.abs((put - at).astype(np.int64)).max() <= 8 * 3600 * 1_000_000


# ---- trips ----------------------------------------------------------------------------------------------------------


def trips_of(rows: list[tuple[str, int | None]], gap_hours: float = 36) -> list[str]:
    frames = some_frames([{"captured_at": at, "offset_minutes": offset} for at, offset in rows])
    return add_trip(frames.assign(at=frames["captured_at"]), Trips(gap_hours=gap_hours))["trip"].tolist()


def test_a_leap_of_the_clock_does_not_split_a_trip() -> None:
    spring = [("2026-03-28 10:00", 60), ("2026-03-29 22:30", 120)]
    assert len(set(trips_of(spring))) == 1, "35.5 hours, 36.5 by the clock"
    assert len(set(trips_of([(at, None) for at, _ in spring]))) == 2, "nobody can know"
    east = [("2026-07-10 10:00", -240), ("2026-07-12 01:00", 120)]
    assert len(set(trips_of(east))) == 1, "33 hours, 39 by the clock"
    assert len(set(trips_of([("2026-07-10 10:00", 120), ("2026-07-12 01:00", 120)]))) == 2
    west = [("2026-10-25 01:30", 120), ("2026-10-25 02:30", 120), ("2026-10-25 02:10", 60)]
    assert set(trips_of(west, gap_hours=0.6)) != set(), "and nothing is lost on the way west"


def test_two_bodies_of_two_zones_do_not_split_a_trip() -> None:
    rows = [(f"2026-07-10 {hour:02}:{minute:02}", offset) for hour in (9, 10) for minute, offset in ((0, 540), (20, 0))]
    assert len(set(trips_of(rows, gap_hours=2))) == 1


def test_pauses_by_the_shorter_of_both_clocks() -> None:
    at = np.array(["2026-03-29T01:00", "2026-03-29T03:30", "2026-03-29T04:00"], dtype="datetime64[us]")
    minutes = shortest_pauses(at, np.array([60.0, 120.0, np.nan])) / np.timedelta64(1, "m")
    assert minutes.tolist() == [90.0, 30.0]


# ---- what orders frames ---------------------------------------------------------------------------------------------


@pytest.fixture
def night() -> pd.DataFrame:
    """Two hours over the end of summer time, a frame a minute: Orla 50 until it ends, then Hale 85, typed right."""
    at, offset = shot(PARIS, "2026-10-25T00:00:00", 120, 60)
    rows = [
        {"captured_at": moment, "offset_minutes": int(minutes), "focal_length_mm": 50.0 if minutes == 120 else 85.0}
        for moment, minutes in zip(at, offset, strict=True)
    ]
    return some_frames(rows)


def test_the_sequence_model_sees_one_lens_change(night: pd.DataFrame) -> None:
    kit, settings = small_kit(), Settings()
    evidence = add_trip(add_evidence(night, kit, (), settings), settings.trips)
    laid = lay_out(evidence.assign(setting_mm=evidence["recorded_setting_mm"], confirmed=-1, day="x"))
    token = [laid.tokens[at].setting_mm for at in laid.token]
    assert token == [50.0] * 60 + [85.0] * 60
    assert (np.diff(laid.begin_s) > 0).all()
    without = evidence.drop(columns="steady_at").assign(
        setting_mm=evidence["recorded_setting_mm"], confirmed=-1, day="x"
    )
    assert (np.diff([lay_out(without).tokens[at].setting_mm for at in lay_out(without).token]) != 0).sum() > 50


def test_the_audit_shows_the_cameras_time_and_knows_the_order(night: pd.DataFrame) -> None:
    shuffled = night.sample(frac=1, random_state=3)
    audited = audit_frames(shuffled, small_kit(), (), Settings()).loc[night.index]
    assert audited["captured_at"].equals(night["captured_at"])
    assert (audited["at"] == night["captured_at"]).all()
    assert audited["lens"].tolist() == ["orla-50"] * 60 + ["hale-85"] * 60
    assert audited["lens_before"].isna()[:60].all()
    assert (audited["lens_before"][60:] == "orla-50").all()
    known = add_pairing_before(
        audited.drop(columns=["lens_before", "adapter_before", "setting_before_mm", "steady_at"])
    )
    assert (known["lens_before"] == "hale-85").any(), "by local time the lenses alternate"


def test_bursts_and_scenes_in_the_repeated_hour(night: pd.DataFrame) -> None:
    at, offset = shot(PARIS, "2026-10-25T00:59:50", 20, 1.0)
    rows = [{"captured_at": moment, "offset_minutes": int(minutes)} for moment, minutes in zip(at, offset, strict=True)]
    frames = some_frames(rows, body_serial_number="1").assign(body="one")
    other = at[:10] - np.timedelta64(3_600_000_000, "us") + np.timedelta64(500_000, "us")
    assert find_bursts(frames).tolist() == [0] * 20
    # A body without offsets, its frames between those of the second pass by the clock.
    lone = some_frames([{"captured_at": moment} for moment in other], body_serial_number="2").assign(body="two")
    assert len(set(find_bursts(pd.concat([frames, lone], ignore_index=True)))) == 2
    picture = np.tile(np.arange(0, 256, 8, dtype=np.uint8), (32, 1))
    scenes = add_scene(frames, [picture] * 20)["scene"]
    assert scenes.nunique() == 2, "where the clock went back, nobody knows the pause: a new scene"
    assert (scenes[:10] == scenes[0]).all()
    assert (scenes[10:] == scenes[10]).all()


def test_a_corrected_clock_recorded_the_offset_of_a_wrong_one(night: pd.DataFrame) -> None:
    clock = Clock(
        body="one", first=dt.datetime(2026, 10, 25, 2, 30), last=dt.datetime(2026, 10, 25, 2, 59), add_minutes=5
    )
    evidence = add_evidence(night, small_kit(), (), Settings(clocks=(clock,)))
    offset = trusted_offsets(evidence)
    assert int(np.isnan(offset).sum()) == 60
    assert (evidence["steady_at"] == evidence["at"]).all()
    assert np.isnan(trusted_offsets(evidence.drop(columns="offset_minutes"))).all()
    assert not np.isnan(trusted_offsets(evidence.drop(columns="captured_at"))).any()


# ---- two bodies -----------------------------------------------------------------------------------------------------


def clocks_of(
    one: tuple[Moments, npt.NDArray[np.float64]], two: tuple[Moments, npt.NDArray[np.float64]]
) -> list[object]:
    rows = []
    for (at, offset), model in ((one, "Silverline 2"), (two, "Nightline 1")):
        rows += [
            {"captured_at": moment, "offset_minutes": int(minutes), "model": model, "make": "Nightline"}
            for moment, minutes in zip(at, offset, strict=True)
        ]
    kit, settings = small_kit(), Settings()
    evidence = add_trip(add_evidence(some_frames(rows), kit, (), settings), settings.trips).assign(setting_mm=np.nan)
    return [(found.body, found.add_minutes, found.compared) for found in find_clock_offsets(evidence, kit, ())]


def test_two_bodies_that_both_followed_the_end_of_summer_time_are_not_accused() -> None:
    most_before, most_after = shot(PARIS, "2026-10-24T12:00:00", 200, 600), shot(PARIS, "2026-10-24T23:00:00", 90, 600)
    assert clocks_of(most_before, most_after) == []


def test_a_body_that_stayed_at_summer_time_is_told_for_the_frames_it_concerns() -> None:
    right = shot(PARIS, "2026-10-24T12:00:00", 200, 600)
    stayed_at, _ = shot(PARIS, "2026-10-24T15:00:00", 30, 600)
    morning, offset = shot(PARIS, "2026-10-25T08:00:00", 12, 600)
    stayed = (
        np.concatenate([stayed_at, morning + np.timedelta64(3600, "s")]),
        np.append(np.full(30, 120.0), offset + 60),
    )
    assert clocks_of(right, stayed) == [("two", -60.0, 12)]
