from __future__ import annotations

import itertools
import re
from xml.etree import ElementTree as ET

import pytest

from auditor.corrections.charts import INKS, PATTERNS, WIDTH, Bar, Interval, calendar, intervals, stacks

SVG = "{http://www.w3.org/2000/svg}"
WORDS = {"right": "right", "too-short": "too short", "unknown": "not known"}


def drawn(chart: str) -> ET.Element:
    return ET.fromstring(chart.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))  # noqa: S314  (our own drawing)


def parts(chart: str) -> dict[str, ET.Element]:
    """Marks by the words that they bear."""
    return {mark[0].text or "": mark for mark in drawn(chart).iter() if len(mark) and mark[0].tag == f"{SVG}title"}


def test_the_parts_of_a_bar_are_as_tall_as_their_counts_and_stand_on_each_other() -> None:
    chart = stacks([Bar("May", {"right": 30, "too-short": 10}), Bar("Jun", {})], WORDS, says="s", height=200)
    right, short = parts(chart)["May, right: 30"], parts(chart)["May, too short: 10"]
    assert float(right.attrib["height"]) == pytest.approx(3 * float(short.attrib["height"]), abs=0.2)
    top_of_right = float(right.attrib["y"])
    assert float(short.attrib["y"]) + float(short.attrib["height"]) == pytest.approx(top_of_right, abs=0.11)
    assert float(right.attrib["height"]) == pytest.approx(200 * 30 / 40, abs=0.1)  # the scale ends at 40


def test_a_dot_and_its_line_stand_where_the_scale_says() -> None:
    [row] = [Interval("Orla", 0.5, 0.25, 1.0, "2 of 4")]
    chart = drawn(intervals([row], says="Rates"))
    zero, hundred = (
        float(next(text for text in chart.iter(f"{SVG}text") if text.text == f"{per_cent} %").attrib["x"])
        for per_cent in (0, 100)
    )
    dot = next(chart.iter(f"{SVG}circle"))
    assert float(dot.attrib["cx"]) == pytest.approx((zero + hundred) / 2, abs=0.1)
    whiskers = [line for line in chart.iter(f"{SVG}line") if line.attrib["stroke-width"] == "2.5"]
    assert float(whiskers[0].attrib["x1"]) == pytest.approx(zero + (hundred - zero) / 4, abs=0.1)
    assert float(whiskers[0].attrib["x2"]) == pytest.approx(hundred, abs=0.1)


def test_a_fuller_square_means_more_and_none_means_none() -> None:
    marks = parts(calendar({"Orla": [1, 0, 100]}, ["Apr", "May", "Jun"], says="Frames"))
    assert set(marks) - {"Frames"} == {"Orla, Apr: 1", "Orla, Jun: 100"}
    assert float(marks["Orla, Jun: 100"].attrib["fill-opacity"]) > float(marks["Orla, Apr: 1"].attrib["fill-opacity"])


def luminance(colour: str) -> float:
    # WCAG 2.2, "relative luminance".
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def over_white(colour: str, opacity: float) -> str:
    mixed = [round(opacity * int(colour[place : place + 2], 16) + (1 - opacity) * 255) for place in (1, 3, 5)]
    return "#" + "".join(f"{value:02x}" for value in mixed)


# WCAG 2.2, success criterion 1.4.3: text has a contrast of at least 4.5 to 1.
@pytest.mark.published
def test_a_count_can_be_read_on_the_darkest_square() -> None:
    chart = drawn(calendar({"Orla": [50]}, ["May"], says="Frames"))
    square = next(chart.iter(f"{SVG}rect"))
    count = next(text for text in chart.iter(f"{SVG}text") if text.text == "50")
    ground = luminance(over_white(square.attrib["fill"], float(square.attrib["fill-opacity"])))
    assert (ground + 0.05) / (luminance(count.attrib["fill"]) + 0.05) >= 4.5


@pytest.mark.parametrize("most", [0, 1, 5, 6, 11, 49, 99, 251, 4_999, 123_456])
def test_a_scale_has_few_round_steps_and_holds_the_tallest_bar(most: int) -> None:
    chart = drawn(stacks([Bar("May", {"right": most})], {"right": "right"}, says="s"))
    ticks = [int(text.text or "") for text in chart.iter(f"{SVG}text") if (text.text or "").isdigit()]
    assert ticks[0] == 0
    assert ticks[-1] >= most
    assert 2 <= len(ticks) <= 6
    assert len({second - first for first, second in itertools.pairwise(ticks)}) == 1
    assert str(ticks[1]).rstrip("0") in {"1", "2", "5"}


def test_nothing_to_draw_is_a_chart_all_the_same() -> None:
    for chart in (stacks([], WORDS, says="s"), intervals([], says="s"), calendar({}, [], says="s")):
        assert drawn(chart).attrib["aria-label"] == "s"


def test_text_is_text_and_a_long_name_is_cut() -> None:
    name = "<script>alert(1)</script> & a very long name of a lens"
    for chart in (
        stacks([Bar(name, {"right": 1})], WORDS, says=name),
        intervals([Interval(name, 0.5, 0.4, 0.6, name)], says=name),
        calendar({name: [1]}, [name], says=name),
    ):
        assert "<script" not in chart
        drawn(chart)
    row = drawn(intervals([Interval(name, 0.5, 0.4, 0.6, "")], says="s"))
    assert any((text.text or "").endswith("…") for text in row.iter(f"{SVG}text"))


def test_every_verdict_has_a_colour_and_the_doubtful_ones_a_pattern() -> None:
    patterned = set(re.findall(r'id="([a-z-]+)"', PATTERNS))
    assert patterned == {"too-short", "too-long", "unknown"}
    assert patterned < set(INKS)
    assert WIDTH > 0
