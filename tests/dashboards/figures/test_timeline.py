from __future__ import annotations

import pandas as pd

from dashboards.figures.timeline import MOST_RUNS, timeline_chart

RUNS = pd.DataFrame(
    {
        "first": pd.to_datetime(["2026-05-01 10:00", "2026-05-01 11:00", "2026-05-02 09:00"]),
        "last": pd.to_datetime(["2026-05-01 10:30", "2026-05-01 12:00", "2026-05-02 09:01"]),
        "first_at": [0, 10, 30],
        "last_at": [9, 29, 31],
        "frames": [10, 20, 2],
        "lens": ["orla-50", None, "orla-50"],
        "mounted": ["Orla + <reducer>", "Not known", "Orla + <reducer>"],
        "body_name": ["Silver body"] * 3,
        "setting_verdict": ["right", None, "too-long"],
        "setting_mm": [50.0, None, 50.0],
        "right_setting_mm": [50.0, None, 35.5],
    }
)


def test_a_bar_is_as_wide_as_its_run_has_frames() -> None:
    bars = {trace.name: trace for trace in timeline_chart(RUNS).data}
    assert (list(bars["Right"].base), list(bars["Right"].x)) == ([0], [10])
    assert (list(bars["Too long"].base), list(bars["Too long"].x)) == ([30], [2])
    assert list(bars["Cannot tell"].x) == [20]


def test_days_are_marked_where_they_begin() -> None:
    axis = timeline_chart(RUNS).layout.xaxis
    assert list(zip(axis.tickvals, axis.ticktext, strict=True)) == [(0, "1 May"), (30, "2 May")]


def test_what_is_not_known_is_the_lowest_line() -> None:
    assert "Not known" in timeline_chart(RUNS).layout.yaxis.categoryarray[0]


def test_hover_tells_time_count_and_setting_as_text() -> None:
    told = timeline_chart(RUNS).data[0].customdata[0]
    for words in ("2 May 09:00 to 09:01", "2 frames", "Set to 50 mm, right 35.5 mm", "&lt;reducer&gt;"):
        assert words in told


def test_nothing_and_too_much_are_said() -> None:
    assert "No frame here has a time" in timeline_chart(RUNS.head(0)).layout.annotations[0].text
    many = pd.concat([RUNS] * MOST_RUNS, ignore_index=True)
    assert "choose a trip" in timeline_chart(many).layout.annotations[0].text
