from __future__ import annotations

import pandas as pd

from dashboards.figures.weighed import fair_chart, reach_chart

FAIR = pd.DataFrame(
    {
        "name": ["Orla <50>", "Hale", "Tern"],
        "points": [8.0, -3.0, float("nan")],
        "low": [2.0, -9.0, float("nan")],
        "high": [14.0, 3.0, float("nan")],
        "verdict": ["better", "not shown to differ", "cannot be compared"],
    }
)
BANDS = pd.DataFrame({"focal": ["24-35 mm", "50-70 mm"], "keepers": [4, 6], "after": [4, 1], "lost": [0, 5]})


def test_what_cannot_be_compared_has_no_dot_and_the_first_is_on_top() -> None:
    dots = fair_chart(FAIR).data[0]
    assert list(dots.x) == [-3.0, 8.0]
    assert "<50>" not in dots.y[1]
    assert list(dots.error_x.array) == [6.0, 6.0]
    assert list(dots.error_x.arrayminus) == [6.0, 6.0]


def test_no_comparison_at_all_says_so() -> None:
    assert "Nothing can be compared" in fair_chart(FAIR.iloc[2:]).layout.annotations[0].text


def test_bars_together_are_the_keepers() -> None:
    stays, goes = reach_chart(BANDS).data
    assert [one + other for one, other in zip(stays.y, goes.y, strict=True)] == [4, 6]
    assert stays.marker.pattern.shape != goes.marker.pattern.shape


def test_no_keeper_says_so() -> None:
    assert "No keeper" in reach_chart(BANDS.iloc[:0]).layout.annotations[0].text
