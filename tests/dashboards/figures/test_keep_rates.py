from __future__ import annotations

import pandas as pd

from dashboards.figures.keep_rates import keep_rate_chart, keep_rate_steps, kept_and_sharp_chart
from dashboards.sharp_rates import FIELDS

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


SHARP = ["sharp", "sharp_judged", "sharp_rate", "sharp_low", "sharp_high"]


def with_sharp(*rows: tuple[object, ...]) -> pd.DataFrame:
    return pd.DataFrame(list(rows), columns=[*COLUMNS, *SHARP])


def test_sharp_stands_beside_kept_with_its_own_mark_and_legend() -> None:
    figure = keep_rate_chart(
        with_sharp(
            ("Orla", 10, 8, 2, 0.25, 0.1, 0.55, 9, 9, 1.0, 0.7, 1.0),
            ("Hale", 5, 0, 0, None, None, None, 3, 4, 0.75, 0.3, 0.95),
        )
    )
    kept, sharp = figure.data
    assert (kept.name, sharp.name, kept.showlegend) == ("Kept", "Sharp", True)
    assert kept.marker.symbol != sharp.marker.symbol
    # Hale was never judged, and still has a place for its other rate.
    assert [name.strip() for name in kept.y] == ["Orla"]
    assert [name.strip() for name in sharp.y] == ["Hale", "Orla"]
    assert [name.strip() for name in figure.layout.yaxis.categoryarray] == ["Hale", "Orla"]
    assert figure.layout.xaxis.range[1] > 100  # a mark at 100 % is not cut
    assert "9 sharp of 9 frames whose blur is told" in sharp.customdata[1]
    assert figure.layout.xaxis.title.text == "kept, sharp, %"


def test_where_nothing_is_judged_the_sharp_rate_stands_alone() -> None:
    rows = with_sharp(("f/2", 5, 0, 0, None, None, None, 1, 1, 1.0, 0.2, 1.0))
    (sharp,) = keep_rate_chart(rows).data
    assert (sharp.name, sharp.showlegend) == ("Sharp", False)
    assert "1 sharp of 1 frame whose blur is told" in sharp.customdata[0]
    figure = keep_rate_steps(rows, "f-number")
    assert [series.name for series in figure.data] == ["Sharp"]
    assert figure.layout.yaxis.title.text == "sharp, %"


def test_the_four_fields_fill_each_bar_and_no_two_look_alike() -> None:
    fields = pd.DataFrame([("<i>Orla</i>", 5, 1, 3, 1, 10)], columns=["name", *FIELDS, "both"])
    figure = kept_and_sharp_chart(fields, FIELDS)
    assert sum(bar.x[0] for bar in figure.data) == 100
    assert len({(bar.marker.color, bar.marker.pattern.shape) for bar in figure.data}) == 4
    assert "Sharp, not kept: 3 of 10 frames" in figure.data[2].customdata[0]
    assert "<i>" not in figure.data[0].y[0]
    assert "No frame here" in kept_and_sharp_chart(fields.head(0), FIELDS).layout.annotations[0].text
