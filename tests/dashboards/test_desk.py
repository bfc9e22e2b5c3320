from __future__ import annotations

import datetime as dt

import numpy as np
import pyarrow as pa
import pytest

from auditor.model.tables import AUDIT, FRAMES
from dashboards.desk import COLUMNS, desk_of
from dashboards.filters import NO_ADAPTER, NOT_KNOWN, Filters
from tests.dashboards.desks import (
    KIT,
    THREE_AUDITED,
    THREE_FRAMES,
    audit_table,
    empty_desk,
    frames_table,
    season_desk,
    three_row_desk,
)


def test_frames_and_audit_meet_by_key_in_any_order() -> None:
    turned = desk_of(frames_table(THREE_FRAMES), audit_table(THREE_AUDITED[::-1]), KIT)
    straight = three_row_desk()
    for column in COLUMNS:
        assert turned.frames[column].astype("str").tolist() == straight.frames[column].astype("str").tolist()


def test_a_frame_not_audited_yet_stays_with_nothing_known() -> None:
    desk = desk_of(frames_table(THREE_FRAMES), audit_table(THREE_AUDITED[:1]))
    assert desk.frames["path"].tolist() == ["harbour/a.jpg", "harbour/b.jpg", "harbour/c.jpg"]
    assert desk.frames["lens"].isna().tolist() == [False, True, True]
    assert desk.frames["exposure_time_s"].iloc[1] == pytest.approx(1 / 15)


def test_an_audit_row_without_a_frame_adds_no_row() -> None:
    assert len(desk_of(frames_table(THREE_FRAMES[:1]), audit_table(THREE_AUDITED))) == 1


@pytest.mark.parametrize(
    ("filters", "paths"),
    [
        (Filters(), "abc"),
        (Filters(lens=("orla-50",)), "ab"),
        (Filters(lens=(NOT_KNOWN,)), "c"),
        (Filters(lens=(NOT_KNOWN, "orla-50")), "abc"),
        (Filters(lens=("no-such-lens",)), ""),
        (Filters(adapter=("m42-reducer",)), "b"),
        (Filters(adapter=(NO_ADAPTER,)), ""),
        (Filters(verdict=("too-long",)), "b"),
        (Filters(verdict=("too-long", "right"), body=("one",)), "ab"),
        (Filters(cause=("adapter-factor-left-out",)), "b"),
        (Filters(rating=("3",)), "a"),
        (Filters(rating=("0", NOT_KNOWN)), "bc"),
        (Filters(rating=("<script>",)), ""),
        (Filters(since=dt.date(2026, 5, 2)), "b"),
        (Filters(until=dt.date(2026, 5, 1)), "a"),
        (Filters(since=dt.date(2026, 5, 1), until=dt.date(2026, 5, 2)), "ab"),
        (Filters(trip=("Harbour week",)), "ab"),
    ],
)
def test_filters_leave_what_they_name(filters: Filters, paths: str) -> None:
    left = three_row_desk().rows(filters, ["path"])["path"]
    assert [path[-5] for path in left] == list(paths)


def test_flagged_frames_come_worst_first() -> None:
    desk = three_row_desk()
    assert desk.flagged.tolist() == [1, 2]  # a setting too long ranks before a missing time
    assert desk.flagged_places(Filters(lens=(NOT_KNOWN,))).tolist() == [2]


def test_within_one_flag_the_likelier_blur_comes_first() -> None:
    desk = season_desk(400)
    frames = desk.frames.iloc[desk.flagged]
    longest = frames[frames["flags"].astype("str").str.startswith("setting-too-long")]
    assert len(longest) > 5
    assert np.all(np.diff(longest["blur_probability"]) <= 0)


def test_choices_are_what_occurs_by_name_and_trips_by_time() -> None:
    desk = season_desk(400)
    assert [choice["label"] for choice in desk.choices("trip")] == [
        "Cousin's wedding", "Market day", "Moor in the rain", "Harbour week",
    ]  # fmt: skip
    assert {"value": NO_ADAPTER, "label": "No adapter"} in desk.choices("adapter")
    assert desk.choices("lens")[-1] == {"value": NOT_KNOWN, "label": "Not known"}


def test_names_of_stacked_adapters_are_joined() -> None:
    assert three_row_desk().name("adapter", "m42-plain+m42-reducer") == "M42 plain + M42 reducer 0.71×"


def test_an_empty_store_is_a_desk_too() -> None:
    desk = empty_desk()
    assert len(desk) == 0
    assert desk.span is None
    assert desk.trips == ()
    assert desk.flagged.tolist() == []


def test_views_are_held_but_not_for_ever() -> None:
    desk = three_row_desk()
    for number in range(60):
        desk.mask(Filters(lens=(f"lens-{number}",)))
    assert len(desk._masks) <= 16


def test_tables_in_several_pieces_are_read_whole() -> None:
    frames = pa.concat_tables([frames_table(THREE_FRAMES[:1]), frames_table(THREE_FRAMES[1:])])
    audit = pa.concat_tables([audit_table(THREE_AUDITED[:2]), audit_table(THREE_AUDITED[2:])])
    assert desk_of(frames, audit).frames["setting_verdict"].tolist() == ["right", "too-long", "unknown"]
    assert frames.schema.equals(FRAMES)
    assert audit.schema.equals(AUDIT)
