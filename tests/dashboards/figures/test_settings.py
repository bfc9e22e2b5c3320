from __future__ import annotations

import pandas as pd

from dashboards.figures.settings import verdict_chart
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
