from __future__ import annotations

import pandas as pd

from dashboards.figures.settings import cause_chart, lens_chart, typed_chart, verdict_chart
from dashboards.theme import PATTERNS, VERDICT_COLOURS

VERDICTS = pd.DataFrame(
    {
        "start": pd.to_datetime(["2026-05-02", "2026-05-02", "2026-04-30", "2026-05-02"]),
        "period": ["2 May", "2 May", "30 Apr", "2 May"],
        "setting_verdict": ["right", "too-long", "right", "brand-new"],
        "frames": [30, 10, 5, 60],
    }
)


def test_one_trace_a_verdict_and_periods_in_order_of_time() -> None:
    figure = verdict_chart(VERDICTS)
    assert [trace.name for trace in figure.data] == ["Too long", "Right", "Brand new"]
    assert list(figure.layout.xaxis.categoryarray) == ["30 Apr", "2 May"]
    assert sum(sum(trace.y) for trace in figure.data) == VERDICTS["frames"].sum()


def test_hover_tells_count_and_share() -> None:
    assert verdict_chart(VERDICTS).data[0].customdata[0] == "<b>2 May</b><br>Too long: 10 frames of 100 (10 %)"


def test_no_frame_with_a_time_is_said() -> None:
    assert "No frame here has a time" in verdict_chart(VERDICTS.head(0)).layout.annotations[0].text


def test_wrong_verdicts_differ_by_hatching_as_well_as_colour() -> None:
    assert len({PATTERNS[verdict] for verdict in ("right", "too-short", "too-long", "unknown")}) == 4
    assert len(set(VERDICT_COLOURS.values())) == len(VERDICT_COLOURS)


LENSES = pd.DataFrame(
    {
        "name": ["Orla", "Orla", "Hale"],
        "setting_verdict": ["too-long", "right", "right"],
        "frames": [1, 3, 5],
        "share": [0.25, 0.75, 1.0],
    }
)


def test_lens_bars_are_shares_with_the_worst_lens_on_top() -> None:
    figure = lens_chart(LENSES)
    too_long, right = figure.data
    assert list(too_long.x) == [25.0]
    assert "1 frame of 4 (25 %)" in too_long.customdata[0]
    assert [name.strip() for name in figure.layout.yaxis.categoryarray] == ["Hale", "Orla"]
    assert sum(right.x) == 175.0
    assert "No frame" in lens_chart(LENSES.head(0)).layout.annotations[0].text


def test_causes_are_in_words_with_their_cost() -> None:
    causes = pd.DataFrame({"setting_cause": ["carried-over", "new-kind"], "frames": [4, 1], "stops_lost": [1.5, None]})
    (bars,) = cause_chart(causes).data
    assert [name.strip() for name in bars.y] == ["New kind", "Left from the lens before"]
    assert "4 frames<br>median cost 1.5 stops" in bars.customdata[1]
    assert "No wrong setting" in cause_chart(causes.head(0)).layout.annotations[0].text


def test_typed_marks_differ_by_shape_and_grow_with_frames() -> None:
    pairs = pd.DataFrame(
        {
            "setting_mm": [50.0, 35.0, 85.0],
            "right_setting_mm": [36.0, 36.0, 85.0],
            "setting_verdict": ["too-long", "right", "right"],
            "name": ["Orla", "Orla", "Hale"],
            "frames": [5, 20, 80],
        }
    )
    line, too_long, right = typed_chart(pairs).data
    assert list(line.x) == list(line.y)
    assert too_long.marker.symbol != right.marker.symbol
    assert list(right.marker.size) == [19.0, 30.0]  # area over the smallest mark grows with the count
    assert "set to 50 mm, right 36 mm<br>5 frames" in too_long.customdata[0]
    assert "No frame here has both" in typed_chart(pairs.head(0)).layout.annotations[0].text
