from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from dashboards.desk import Desk, desk_of
from dashboards.filters import Filters
from dashboards.runs import mounted_runs, trips_at_a_glance, wrong_stretches
from tests.dashboards.desks import KIT, audit_table, empty_desk, frames_table, season_desk, three_row_desk

NOON = dt.datetime(2026, 5, 2, 12)
WRONG = {"setting_mm": 50.0, "right_setting_mm": 35.5, "setting_verdict": "too-long", "stops_lost": 2.0}
RIGHT = {"setting_mm": 85.0, "right_setting_mm": 85.0, "setting_verdict": "right", "stops_lost": 0.0}


def desk_with(*frames: dict[str, Any]) -> Desk:
    """Frames a minute apart, in the order given, stored in the reverse order."""
    rows, audited = [], []
    for number, frame in enumerate(frames):
        path = f"{number}.jpg"
        rows.append({"path": path, "captured_at": NOON + dt.timedelta(minutes=number)})
        audited.append({"path": path, "body": "one", "trip": "T", "adapter": "", **frame})
    return desk_of(frames_table(rows[::-1]), audit_table(audited), KIT)


def test_neighbours_with_the_same_lens_and_setting_are_one_run() -> None:
    orla, hale = {"lens": "orla-50", **WRONG}, {"lens": "hale-85", **RIGHT}
    runs = mounted_runs(desk_with(orla, orla, hale, hale, hale, orla), Filters())
    assert runs["lens"].tolist() == ["orla-50", "hale-85", "orla-50"]
    assert runs["frames"].tolist() == [2, 3, 1]
    assert runs["first"].tolist() == [NOON + dt.timedelta(minutes=n) for n in (0, 2, 5)]
    assert runs["last"].tolist() == [NOON + dt.timedelta(minutes=n) for n in (1, 4, 5)]
    assert runs["first_at"].tolist() == [0, 2, 5]
    assert runs["lost_in_all"].tolist() == [4.0, 0.0, 2.0]


@pytest.mark.parametrize("change", [{"setting_mm": 85.0}, {"adapter": "m42-plain"}, {"trip": "U"}, {"body": "two"}])
def test_a_change_of_anything_that_matters_ends_a_run(change: dict[str, Any]) -> None:
    orla = {"lens": "orla-50", **WRONG}
    assert len(mounted_runs(desk_with(orla, orla | change), Filters())) == 2


def test_two_bodies_shot_in_turns_keep_their_own_runs() -> None:
    one, two = {"lens": "orla-50", **WRONG}, {"lens": "brook-28", "body": "two", **RIGHT}
    runs = mounted_runs(desk_with(one, two, one, two), Filters())
    assert runs["frames"].tolist() == [2, 2]
    assert sorted(runs[["first_at", "last_at"]].to_numpy().tolist()) == [[0, 2], [1, 3]]


def test_runs_hold_every_frame_with_a_time() -> None:
    desk = season_desk(500)
    runs = mounted_runs(desk, Filters())
    assert runs["frames"].sum() == 500
    assert mounted_runs(three_row_desk(), Filters())["frames"].sum() == 2


def test_the_hour_that_comes_twice_is_two_runs() -> None:
    """Orla until summer time ends at three, then Hale from two again; the offsets tell."""
    rows, audited = [], []
    for number in range(120):
        is_later = number >= 60
        taken = dt.datetime(2026, 10, 25, 2) + dt.timedelta(minutes=number % 60, seconds=20 * is_later)
        path = f"{number:03}.jpg"
        rows.append({"path": path, "captured_at": taken, "offset_minutes": 60 if is_later else 120})
        lens = {"lens": "hale-85", **RIGHT} if is_later else {"lens": "orla-50", **WRONG}
        audited.append({"path": path, "body": "one", "trip": "T", "adapter": "", **lens})
    runs = mounted_runs(desk_of(frames_table(rows), audit_table(audited), KIT), Filters())
    assert runs["lens"].tolist() == ["orla-50", "hale-85"]
    assert runs[["first_at", "last_at"]].to_numpy().tolist() == [[0, 59], [60, 119]]
    untold = [row | {"offset_minutes": None} for row in rows]
    assert len(mounted_runs(desk_of(frames_table(untold), audit_table(audited), KIT), Filters())) == 120
    same = [row | {"lens": "orla-50", **WRONG} for row in audited]
    [run] = mounted_runs(desk_of(frames_table(rows), audit_table(same), KIT), Filters()).to_dict("records")
    assert (run["first"], run["last"]) == (dt.datetime(2026, 10, 25, 2), dt.datetime(2026, 10, 25, 2, 59, 20))


def test_the_costliest_stretch_comes_first() -> None:
    short = {"lens": "hale-85", **WRONG, "stops_lost": 3.0}
    long = {"lens": "orla-50", **WRONG}
    stretches = wrong_stretches(desk_with(short, long, long, {"lens": "hale-85", **RIGHT}), Filters())
    assert stretches["lens"].tolist() == ["orla-50", "hale-85"]


def test_the_forgotten_setting_of_the_season_is_named_first() -> None:
    stretch = wrong_stretches(season_desk(), Filters()).iloc[0]
    assert (stretch["trip"], stretch["lens"], stretch["setting_mm"]) == ("Moor in the rain", "orla-50", 50.0)


def test_trips_count_their_frames() -> None:
    trips = trips_at_a_glance(season_desk(500), Filters())
    assert trips["trip"].tolist() == ["Cousin's wedding", "Market day", "Moor in the rain", "Harbour week"]
    assert trips["frames"].sum() == 500
    assert trips.set_index("trip").loc["Cousin's wedding", "judged"] == 0


def test_nothing_has_no_runs() -> None:
    assert mounted_runs(empty_desk(), Filters()).empty
    assert wrong_stretches(empty_desk(), Filters()).empty
    assert trips_at_a_glance(empty_desk(), Filters()).empty
