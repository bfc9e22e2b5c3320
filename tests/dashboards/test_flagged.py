from __future__ import annotations

import itertools

from dashboards.filters import Filters
from dashboards.flagged import flagged_frames
from tests.dashboards.desks import empty_desk, season_desk, three_row_desk


def test_flagged_frames_are_given_by_the_block() -> None:
    desk = season_desk(500)
    whole = flagged_frames(desk, Filters(), 0, 500)
    assert whole.attrs["total"] == len(whole) == (desk.frames["flags"].notna()).sum()
    parts = [flagged_frames(desk, Filters(), start, start + 40)["path"].tolist() for start in range(0, len(whole), 40)]
    assert list(itertools.chain.from_iterable(parts)) == whole["path"].tolist()
    assert flagged_frames(desk, Filters(), -5, -1).empty


def test_reason_names_what_was_typed_what_was_right_and_the_cost() -> None:
    reason = flagged_frames(three_row_desk(), Filters(), 0, 1)["reason"].iloc[0]
    for told in ("50 mm", "35.5 mm", "too long", "without the adapter's factor", "3.2 stops", "80 %"):
        assert told in reason


def test_an_empty_desk_has_nothing_flagged() -> None:
    assert flagged_frames(empty_desk(), Filters(), 0, 100).empty
