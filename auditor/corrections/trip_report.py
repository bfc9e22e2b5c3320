"""The after-trip report: one self-contained page that prints well."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from importlib.resources import files
from string import Template

from auditor.corrections.trip_timeline import Segment, colour_of, timeline_svg
from auditor.wording import counted

__all__ = ["PairingUse", "TripReport", "WrongStretch", "report_html"]


@dataclass(frozen=True)
class PairingUse:
    """How much a pairing was used; ``kept`` is None where the trip was never judged."""

    name: str
    frames: int
    wrong: int
    kept: int | None


@dataclass(frozen=True)
class WrongStretch:
    """
    Frames in a row with one wrong setting.

    ``sharp_as_shot`` and ``sharp_if_right`` are frames expected to be free of visible shake, NaN where the exposure
    time is not known. Settings in mm.
    """

    body: str
    first: dt.datetime
    last: dt.datetime
    frames: int
    pairing: str
    setting_mm: float
    right_mm: float
    cause: str
    stops_lost: float
    sharp_as_shot: float
    sharp_if_right: float


@dataclass(frozen=True)
class TripReport:
    """Everything that the page says; ``where`` is empty where it should say nothing of places."""

    name: str
    first: dt.datetime
    last: dt.datetime
    frames: int
    unknown: int
    bodies: tuple[str, ...]
    uses: tuple[PairingUse, ...]
    stretches: tuple[WrongStretch, ...]
    segments: tuple[Segment, ...]
    advice: tuple[str, ...]
    where: str = ""

    @property
    def wrong(self) -> int:
        """Frames with a wrong setting."""
        return sum(stretch.frames for stretch in self.stretches)

    @property
    def sharp_lost(self) -> float:
        """Frames that the wrong settings probably cost, of those whose exposure time is known."""
        lost = (stretch.sharp_if_right - stretch.sharp_as_shot for stretch in self.stretches)
        return sum(amount for amount in lost if amount == amount)


def report_html(report: TripReport) -> str:
    """
    Return the page, with its style and its drawing inside it.

    Parameters
    ----------
    report : TripReport
        Texts in it are shown as text, whatever they hold.

    Examples
    --------
    >>> day = dt.datetime(2026, 5, 1, 9)
    >>> page = report_html(TripReport("Harbour <week>", day, day, 1, 0, ("Silver body",), (), (), (), ()))
    >>> "Harbour &lt;week&gt;" in page, "http" in page
    (True, False)
    """
    room = files("auditor.corrections")
    page = Template(room.joinpath("trip_report.html").read_text(encoding="utf-8"))
    names = [use.name for use in report.uses]
    return page.substitute(
        title=escape(report.name),
        style=room.joinpath("trip_report.css").read_text(encoding="utf-8"),
        when=escape(_span(report.first, report.last)),
        counts=escape(_counts(report)),
        where=f"<p>Where, to about a kilometre: {escape(report.where)}.</p>" if report.where else "",
        figures=_figures(report),
        timeline=timeline_svg(report.segments, names),
        uses=_uses(report),
        stretches=_stretches(report.stretches),
        advice="".join(f"<li>{escape(line)}</li>" for line in report.advice)
        or "<li>Nothing stands out. Go on like this.</li>",
    )


def _span(first: dt.datetime, last: dt.datetime) -> str:
    if first.date() == last.date():
        return f"{first:%d %B %Y}"
    return f"{first:%d %B %Y} to {last:%d %B %Y}"


def _counts(report: TripReport) -> str:
    bodies = ", ".join(report.bodies)
    unknown = f" The lens is not known for {report.unknown}." if report.unknown else ""
    return f"{counted(report.frames, 'frame')} on {bodies or 'no known body'}.{unknown}"


def _figures(report: TripReport) -> str:
    share = f"{report.wrong / report.frames:.0%} of all" if report.frames else ""
    lost = max(report.sharp_lost, 0.0)
    boxes = [
        (f"{report.wrong}", "frames with a wrong setting", share),
        (f"{len(report.stretches)}", "mistakes behind them", "each lasted until it was mended"),
        (f"{lost:.0f}", "sharp frames probably lost", "by the shake model, not counted in the pictures"),
    ]
    return "".join(
        f'<div class="figure"><b>{escape(value)}</b><span>{escape(what)}</span><small>{escape(note)}</small></div>'
        for value, what, note in boxes
    )


def _uses(report: TripReport) -> str:
    judged = any(use.kept is not None for use in report.uses)
    head = "<tr><th>Lens</th><th>Frames</th><th>Setting wrong</th>" + ("<th>Kept</th>" if judged else "") + "</tr>"
    rows = []
    for place, use in enumerate(report.uses):
        kept = f"<td>{use.kept}</td>" if judged and use.kept is not None else "<td>–</td>" if judged else ""
        swatch = f'<i style="background:{colour_of(place)}"></i>'
        rows.append(
            f"<tr><td>{swatch}{escape(use.name)}</td><td>{use.frames}</td><td>{use.wrong or '–'}</td>{kept}</tr>"
        )
    return f"<thead>{head}</thead><tbody>{''.join(rows)}</tbody>"


def _stretches(stretches: Sequence[WrongStretch]) -> str:
    if not stretches:
        return "<p>No wrong setting was found.</p>"
    return "".join(_stretch(stretch) for stretch in stretches)


def _stretch(stretch: WrongStretch) -> str:
    end = f"{stretch.last:%H:%M}" if stretch.last.date() == stretch.first.date() else f"{stretch.last:%d %b %H:%M}"
    lines = [f"Typed {stretch.setting_mm:g} mm where {stretch.right_mm:.0f} mm was right: {stretch.cause}."]
    if stretch.stops_lost == stretch.stops_lost:
        lines.append(f"It cost {stretch.stops_lost:.1f} stops of stabilisation.")
    if stretch.sharp_as_shot == stretch.sharp_as_shot:
        lines.append(
            f"Expected free of visible shake: {stretch.sharp_as_shot:.0f} of {stretch.frames}, "
            f"with the right setting {stretch.sharp_if_right:.0f}."
        )
    frames = counted(stretch.frames, "frame")
    heading = f"{stretch.first:%d %b, %H:%M}–{end}: {stretch.pairing}, {frames} on {stretch.body}"
    return f"<article><h3>{escape(heading)}</h3><p>{escape(' '.join(lines))}</p></article>"
