from __future__ import annotations

import pandas as pd

from dashboards.figures.keep_rates import keep_rate_chart, keep_rate_steps

COLUMNS = ["name", "frames", "judged", "kept", "keep_rate", "low", "high"]


def rates(*rows: tuple[object, ...]) -> pd.DataFrame:
    return pd.DataFrame(list(rows), columns=COLUMNS)


def test_dots_stand_at_the_rate_in_per_cent_and_whiskers_end_at_the_interval() -> None:
    (dots,) = keep_rate_chart(rates(("Orla", 10, 8, 2, 0.25, 0.1, 0.55))).data
    assert list(dots.x) == [25.0]
    assert round(dots.x[0] + dots.error_x.array[0], 6) == 55.0
    assert round(dots.x[0] - dots.error_x.arrayminus[0], 6) == 10.0


def test_hover_tells_the_counts_and_the_axis_the_unit() -> None:
    figure = keep_rate_chart(rates(("Orla", 10, 8, 2, 0.25, 0.1, 0.55)))
    assert "2 kept of 8 judged frames" in figure.data[0].customdata[0]
    assert "%" in figure.layout.xaxis.title.text


def test_the_first_row_is_drawn_on_top() -> None:
    figure = keep_rate_chart(rates(("A", 9, 9, 3, 0.33, 0.1, 0.6), ("B", 5, 5, 1, 0.2, 0.1, 0.6)))
    assert [name.strip() for name in figure.data[0].y] == ["B", "A"]


def test_nothing_judged_is_said() -> None:
    nothing = keep_rate_chart(rates(("Orla", 10, 0, 0, float("nan"), float("nan"), float("nan"))))
    assert not nothing.data
    assert "No frame here was judged" in nothing.layout.annotations[0].text


def test_a_name_is_text_and_not_markup() -> None:
    figure = keep_rate_chart(rates(("<a href='x'>Orla</a>", 10, 8, 2, 0.25, 0.1, 0.55)))
    assert "<a" not in figure.data[0].y[0] + figure.data[0].customdata[0]


def test_steps_stand_in_their_order_with_a_titled_scale() -> None:
    figure = keep_rate_steps(rates(("f/2", 9, 9, 3, 1 / 3, 0.1, 0.6), ("f/4", 4, 0, 0, None, None, None)), "f-number")
    assert list(figure.data[0].x) == ["f/2"]
    assert figure.layout.xaxis.title.text == "f-number"
    assert "%" in figure.layout.yaxis.title.text
    assert "No judged frame" in keep_rate_steps(rates(), "f-number").layout.annotations[0].text
