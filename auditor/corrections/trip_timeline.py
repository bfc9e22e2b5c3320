"""The report's drawing: what was on each body through each day, as SVG."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from auditor.wording import counted

__all__ = ["Segment", "colour_of", "timeline_svg"]

# Told apart by people with any of the common colour deficiencies: B. Wong, Points of view: Color blindness,
# Nature Methods 8 (2011) 441 (from memory), darkened or lightened where more than seven are needed.
_COLOURS = (
    "#0072b2", "#e69f00", "#009e73", "#cc79a7", "#56b4e9", "#d55e00", "#b8a800",
    "#004a75", "#8f6200", "#00614a", "#8a4a6e", "#8fd0f5",
)  # fmt: skip

_NOT_KNOWN = "#c4c4c4"
_WIDTH, _LEFT, _ROW, _BAR = 960.0, 150.0, 40.0, 22.0
_DAY_BEGINS = dt.timedelta(hours=4)


@dataclass(frozen=True)
class Segment:
    """A pairing on a body, without a break, with one verdict. ``pairing`` is empty where it is not known."""

    body: str
    pairing: str
    first: dt.datetime
    last: dt.datetime
    frames: int
    wrong: bool


def colour_of(place: int) -> str:
    """
    Return the colour of the pairing at a place of the list.

    Examples
    --------
    >>> colour_of(0) == colour_of(12)
    True
    """
    return _COLOURS[place % len(_COLOURS)]


def timeline_svg(segments: Sequence[Segment], names: Sequence[str]) -> str:
    """
    Draw a band for each day and body; a wrong setting is hatched, so that it shows without colour.

    Parameters
    ----------
    segments : sequence of Segment
    names : sequence of str
        Pairings in the order of their colours.
    """
    if not segments:
        return "<p>No frame of this trip has a usable time.</p>"
    rows = sorted({_row(segment) for segment in segments})
    hours = [_hour(segment.first, segment) for segment in segments] + [
        _hour(segment.last, segment) for segment in segments
    ]
    start, end = int(min(hours)), max(int(max(hours)) + 1, int(min(hours)) + 2)
    height = _ROW * len(rows) + 34
    scale = (_WIDTH - _LEFT - 26) / (end - start)
    parts = [_grid(start, end, scale, height)]
    for number, (day, body) in enumerate(rows):
        top = _ROW * number + 8
        label = f"{day:%d %b} · {body}"
        parts.append(f'<text x="0" y="{top + 15:.0f}" class="row">{escape(label)}</text>')
        parts += [_band(segment, names, (start, scale, top)) for segment in segments if _row(segment) == (day, body)]
    return (
        f'<svg viewBox="0 0 {_WIDTH:.0f} {height:.0f}" role="img" aria-label="What was on, day by day">'
        '<defs><pattern id="wrong" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<rect width="2.4" height="6" fill="#111"/><rect x="2.4" width="1.2" height="6" fill="#fff"/></pattern></defs>'
        + "".join(parts)
        + "</svg>"
    )


def _row(segment: Segment) -> tuple[dt.date, str]:
    """Shooting day and body."""
    return (segment.first - _DAY_BEGINS).date(), segment.body


def _hour(moment: dt.datetime, segment: Segment) -> float:
    """Hours since midnight of the segment's shooting day; after midnight it goes on past 24."""
    midnight = dt.datetime.combine(_row(segment)[0], dt.time())
    return min((moment - midnight).total_seconds() / 3600, 28.0)


def _grid(start: int, end: int, scale: float, height: float) -> str:
    step = 1 if end - start <= 14 else 2
    lines = []
    for hour in range(start, end + 1, step):
        x = _LEFT + (hour - start) * scale
        lines.append(f'<line x1="{x:.1f}" y1="2" x2="{x:.1f}" y2="{height - 24:.0f}" class="grid"/>')
        lines.append(f'<text x="{x:.1f}" y="{height - 8:.0f}" class="hour">{hour % 24}:00</text>')
    return "".join(lines)


def _band(segment: Segment, names: Sequence[str], where: tuple[int, float, float]) -> str:
    start, scale, top = where
    x = _LEFT + (_hour(segment.first, segment) - start) * scale
    width = max((_hour(segment.last, segment) - _hour(segment.first, segment)) * scale, 2.0)
    fill = colour_of(list(names).index(segment.pairing)) if segment.pairing in names else _NOT_KNOWN
    box = f'x="{x:.1f}" y="{top:.0f}" width="{width:.1f}" height="{_BAR:.0f}"'
    verdict = ", setting wrong" if segment.wrong else ""
    span = f"{segment.first:%H:%M}–{segment.last:%H:%M}"
    told = f"{segment.pairing or 'lens not known'}, {span}, {counted(segment.frames, 'frame')}{verdict}"
    hatch = f'<rect {box} fill="url(#wrong)" stroke="#111" stroke-width="1"/>' if segment.wrong else ""
    return f'<g><title>{escape(told)}</title><rect {box} fill="{fill}"/>{hatch}</g>'
