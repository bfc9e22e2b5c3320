"""
Small charts as SVG for pages that are printed: no script, every mark with its words, no colour without a pattern.

Lengths are in the drawing's own units; a page scales the whole.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from html import escape
from typing import NamedTuple

__all__ = ["INKS", "PATTERNS", "Bar", "Interval", "calendar", "intervals", "stacks"]

WIDTH = 720
_LEFT = 190
_ROW = 23
_INK, _QUIET, _RULE, _PLAIN = "#2b2a27", "#6b665d", "#ddd5c5", "#2f7f86"

INKS: Mapping[str, str] = {
    "right": _PLAIN,
    "too-short": "#b5760f",
    "too-long": "#a8506f",
    "unknown": "#8a8479",
    "not-needed": "#cfc8ba",
}
"""Colours of the verdicts; each has a pattern too, so that none is told by its colour alone."""

PATTERNS = (
    '<svg width="0" height="0" aria-hidden="true" focusable="false"><defs>'
    '<pattern id="too-short" width="6" height="6" patternUnits="userSpaceOnUse">'
    f'<rect width="6" height="6" fill="{INKS["too-short"]}"/>'
    '<path d="M0 6L6 0" stroke="#fff" stroke-width="1"/></pattern>'
    '<pattern id="too-long" width="6" height="6" patternUnits="userSpaceOnUse">'
    f'<rect width="6" height="6" fill="{INKS["too-long"]}"/>'
    '<path d="M0 6L6 0M0 0L6 6" stroke="#fff" stroke-width="1"/></pattern>'
    '<pattern id="unknown" width="6" height="6" patternUnits="userSpaceOnUse">'
    f'<rect width="6" height="6" fill="{INKS["unknown"]}"/><circle cx="3" cy="3" r="1" fill="#fff"/></pattern>'
    "</defs></svg>"
)
"""Hatchings that the charts use; once on a page, before them."""


class Bar(NamedTuple):
    """One bar: its name, and the size of each part in order."""

    name: str
    parts: Mapping[str, int]


class Interval(NamedTuple):
    """One rate with its interval, 0–1, and the words beside it."""

    name: str
    rate: float
    low: float
    high: float
    words: str


def _svg(height: float, says: str, marks: Sequence[str]) -> str:
    inner = "".join(marks)
    return (
        f'<svg class="chart" viewBox="0 0 {WIDTH} {height:g}" role="img" aria-label="{escape(says)}">'
        f"<title>{escape(says)}</title>{inner}</svg>"
    )


def _text(x: float, y: float, words: str, *, anchor: str = "start", ink: str = _INK, size: int = 12) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{ink}" font-size="{size}">{escape(words)}</text>'
    )


def _line(x1: float, y1: float, x2: float, y2: float, ink: str = _RULE, width: float = 1) -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{ink}" stroke-width="{width:g}"/>'


def _short(words: str, most: int = 30) -> str:
    return words if len(words) <= most else words[: most - 1] + "…"


def stacks(bars: Sequence[Bar], words: Mapping[str, str], *, says: str, height: int = 130) -> str:
    """
    Draw upright bars whose parts stand on each other, with a legend and a scale of counts.

    Parameters
    ----------
    bars : sequence of Bar
        In order, also empty ones.
    words : mapping
        Part to its words in the legend, the lowest part first; each names a pattern or a colour of ``INKS``.
    says : str
        What the chart shows, for those who do not see it.
    height : int
        Of the bars alone.

    Examples
    --------
    >>> words = {"right": "right", "too-short": "too short"}
    >>> drawn = stacks([Bar("May", {"right": 3, "too-short": 1})], words, says="Settings by month")
    >>> drawn.count("<rect"), "May, too short: 1" in drawn
    (4, True)
    """
    top, left, foot = 34, 44, 26
    most = max((sum(bar.parts.values()) for bar in bars), default=0) or 1
    step = _round_step(most)
    ceiling = step * math.ceil(most / step)
    marks = []
    for tick in range(0, ceiling + 1, step):
        y = top + height * (1 - tick / ceiling)
        marks += [_line(left, y, WIDTH, y), _text(left - 8, y + 4, f"{tick}", anchor="end", ink=_QUIET, size=11)]
    pitch = (WIDTH - left) / max(len(bars), 1)
    wide = min(pitch * 0.62, 54)
    for number, bar in enumerate(bars):
        x, below = left + pitch * (number + 0.5), 0
        for part, said in words.items():
            size = bar.parts.get(part, 0)
            if size:
                tall = height * size / ceiling
                y = top + height * (1 - below / ceiling) - tall
                marks.append(_part(x - wide / 2, y, wide, tall, part, f"{bar.name}, {said}: {size}"))
            below += size
        marks.append(_text(x, top + height + 18, bar.name, anchor="middle", ink=_QUIET, size=11))
    x = float(left)
    for part, said in words.items():
        marks += [_part(x, 4, 14, 14, part, said), _text(x + 20, 15.5, said)]
        x += 40 + 6.6 * len(said)
    return _svg(top + height + foot, says, marks)


def _part(x: float, y: float, wide: float, tall: float, part: str, says: str) -> str:
    fill = f"url(#{part})" if f'id="{part}"' in PATTERNS else INKS[part]
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{tall:.1f}" fill="{fill}">'
        f"<title>{escape(says)}</title></rect>"
    )


def _round_step(most: int) -> int:
    """Return a round step that gives at most five lines."""
    power: int = 10 ** max(0, math.floor(math.log10(most / 5)) if most > 5 else 0)
    return next((step for step in (power, 2 * power, 5 * power) if most / step <= 5), 10 * power)


def intervals(rows: Sequence[Interval], *, says: str) -> str:
    """
    Draw a dot and its interval a row, on a scale of per cent.

    Parameters
    ----------
    rows : sequence of Interval
    says : str
        What the chart shows, for those who do not see it.

    Examples
    --------
    >>> "Orla 50" in intervals([Interval("Orla 50", 0.5, 0.4, 0.6, "12 of 24")], says="Keep rates")
    True
    """
    top, right = 22, 150
    ceiling = min(1.0, math.ceil(max((row.high for row in rows), default=1.0) * 10) / 10)
    width = WIDTH - _LEFT - right
    bottom = top + _ROW * len(rows)

    def at(rate: float) -> float:
        return _LEFT + width * rate / ceiling

    marks = []
    for tick in range(0, round(ceiling * 100) + 1, 10 if ceiling <= 0.6 else 20):
        marks += [_line(at(tick / 100), top, at(tick / 100), bottom)]
        marks += [_text(at(tick / 100), top - 8, f"{tick} %", anchor="middle", ink=_QUIET, size=11)]
    for number, row in enumerate(rows):
        y = top + _ROW * (number + 0.5)
        marks += [
            _text(_LEFT - 12, y + 4, _short(row.name), anchor="end"),
            _line(at(row.low), y, at(row.high), y, _PLAIN, 2.5),
            _line(at(row.low), y - 4, at(row.low), y + 4, _PLAIN, 2),
            _line(at(row.high), y - 4, at(row.high), y + 4, _PLAIN, 2),
            _dot(at(row.rate), y, f"{row.name}: {row.words}"),
            _text(WIDTH - right + 14, y + 4, row.words, ink=_QUIET, size=11),
        ]
    return _svg(bottom + 6, says, marks)


def _dot(x: float, y: float, says: str) -> str:
    title = f"<title>{escape(says)}</title>"
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5.5" fill="{_PLAIN}" stroke="#fff">{title}</circle>'


def _square(x: float, y: float, size: tuple[float, float], shade: float, says: str) -> str:
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{size[0]:.1f}" height="{size[1]:.1f}" rx="2" fill="{_PLAIN}" '
        f'fill-opacity="{shade:.2f}"><title>{escape(says)}</title></rect>'
    )


def calendar(rows: Mapping[str, Sequence[int]], columns: Sequence[str], *, says: str) -> str:
    """
    Draw a table of counts in which a fuller square means more.

    Parameters
    ----------
    rows : mapping
        Name to one count a column.
    columns : sequence of str
    says : str
        What the chart shows, for those who do not see it.

    Examples
    --------
    >>> drawn = calendar({"Orla 50": [0, 12]}, ["Apr", "May"], says="Frames")
    >>> ">12<" in drawn, ">0<" in drawn
    (True, False)
    """
    top = 24
    most = max((count for counts in rows.values() for count in counts), default=0) or 1
    pitch = (WIDTH - _LEFT) / max(len(columns), 1)
    marks = [
        _text(_LEFT + pitch * (place + 0.5), top - 9, name, anchor="middle", ink=_QUIET, size=11)
        for place, name in enumerate(columns)
    ]
    for number, (name, counts) in enumerate(rows.items()):
        y = top + _ROW * number
        marks += [_line(0, y, WIDTH, y), _text(_LEFT - 12, y + _ROW / 2 + 4.5, _short(name), anchor="end")]
        for place, count in enumerate(counts):
            if count:
                x = _LEFT + pitch * place
                shade = 0.1 + 0.6 * math.sqrt(count / most)  # never so dark that the count could not be read on it
                marks += [
                    _square(x + 2, y + 3, (pitch - 4, _ROW - 6), shade, f"{name}, {columns[place]}: {count}"),
                    _text(x + pitch / 2, y + _ROW / 2 + 4.5, f"{count}", anchor="middle", size=11),
                ]
    return _svg(top + _ROW * len(rows) + 4, says, marks)
