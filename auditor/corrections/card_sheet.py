"""Sheets to print: the cards of a kit, and the plan of a setting test; and the cards as a table."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from html import escape
from importlib import resources
from typing import Literal

import pandas as pd

from auditor.model.cards import CAUTION, ApertureLine, Card, Figure, SettingLine, ShutterLine
from auditor.model.cards import distance_words as distance
from auditor.model.cards import shutter_words as shutter

__all__ = ["Paper", "card_sheet", "card_table", "sheet"]

Paper = Literal["a4", "a5"]

_MARGINS = {"a4": "10mm", "a5": "8mm"}


def sheet(title: str, body: str, *, paper: Paper, caution: str, day: dt.date) -> str:
    """
    Return a whole HTML document that prints on one paper size; nothing in it comes from elsewhere.

    Examples
    --------
    >>> "size: A5" in sheet("Cards", "<p>…</p>", paper="a5", caution="Test it.", day=dt.date(2026, 5, 1))
    True
    """
    style = resources.files("auditor.corrections").joinpath("card_sheet.css").read_text(encoding="utf-8")
    page = f"@page {{ size: {paper.upper()}; margin: {_MARGINS[paper]}; }}"
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{escape(title)}</title>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>\n{page}\n{style}</style>\n</head>\n"
        f'<body class="{paper}">\n<header><h1>{escape(title)}</h1><p>{day.isoformat()}</p></header>\n'
        f'<p class="caution">{escape(caution)}</p>\n{body}\n</body>\n</html>\n'
    )


def card_sheet(cards: Sequence[Card], *, paper: Paper, day: dt.date) -> str:
    """
    Return the cards as an HTML document to print.

    Parameters
    ----------
    cards : sequence of Card
        Those with contacts are named in one line: there is nothing to type.
    paper : {"a4", "a5"}
    day : date
        Printed on it.
    """
    typed = [card for card in cards if not card.contacts]
    told = [card for card in cards if card.contacts]
    parts = ['<main class="cards">', *(_card(card) for card in typed), "</main>"]
    if told:
        names = "; ".join(f"{_through(card)} on {card.body}" for card in told)
        parts.append(f"<footer>Nothing to type, the lens tells the body: {escape(names)}.</footer>")
    parts.append(
        "<footer>Small figures: nine in ten lie between. ± is the error that costs half a stop. Shutter times: by "
        "hand, far and still subject, judged near the centre. * stopped down past the diffraction limit.</footer>"
    )
    return sheet("What to type, how slow to go", "\n".join(parts), paper=paper, caution=CAUTION, day=day)


def _through(card: Card) -> str:
    return f"{card.lens} + {card.adapter}" if card.adapter else card.lens


def _card(card: Card) -> str:
    short, long = card.focal_mm
    focal = f"{short:.3g} mm" if short == long else f"{short:.3g}–{long:.3g} mm"
    under = " · ".join(part for part in (card.adapter or "no adapter", card.body, focal) if part)
    notes = "".join(f"<li>{escape(note)}</li>" for note in card.notes)
    return "\n".join(
        [
            f'<section class="card" id="{escape(card.pairing)}">',
            f'<h2>{escape(card.lens)}</h2><p class="under">{escape(under)}</p>',
            f'<div class="tables"><div class="typed">{_settings(card.settings)}</div>',
            f'<div class="times">{_shutters(card.shutters)}</div><div class="depth">{_apertures(card)}</div></div>',
            f'<ul class="notes">{notes}</ul>' if notes else "",
            "</section>",
        ]
    )


def _table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    head = "".join(f"<th>{heading}</th>" for heading in headings)
    body = "".join("<tr>" + "".join(cells) + "</tr>" for cells in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _cell(text: str, kind: str = "") -> str:
    return f'<td class="{kind}">{text}</td>' if kind else f"<td>{text}</td>"


def _number(value: float, digits: int = 0) -> str:
    return "–" if math.isnan(value) else f"{value:.{digits}f}"


def _settings(lines: Sequence[SettingLine]) -> str:
    rows = [
        (
            _cell(distance(line.distance_m)),
            _cell(f"{line.type_mm:g}", "type"),
            _cell(f"± {_number(line.exact_mm, 1)}"),
            _cell(f'{line.right.value:.1f} <span class="range">{line.right.low:.0f}–{line.right.high:.0f}</span>'),
        )
        for line in lines
    ]
    return "<h3>Type</h3>" + _table(("Focus at", "mm", "½ stop", "right, mm"), rows)


def _time(time: Figure) -> str:
    if math.isnan(time.value):
        return "–"
    return f'{shutter(time.value)} <span class="range">{shutter(time.low)}–{shutter(time.high)}</span>'


def _shutters(lines: Sequence[ShutterLine]) -> str:
    if not lines:
        return ""
    rows = [
        (
            _cell(f"{line.share:.0%}"),
            _cell(_time(line.off)),
            _cell(_time(line.on)),
            _cell(f"{_number(line.frames)} <span class='range'>burst {_number(line.frames_in_burst)}</span>"),
        )
        for line in lines
    ]
    return "<h3>Slowest by hand</h3>" + _table(("sharp", "stabiliser off", "on", "frames for one, 95 %"), rows)


def _far(metres: float) -> str:
    return f"{metres:.2f} m" if metres < 9.995 else distance(metres)


def _apertures(card: Card) -> str:
    lines: Sequence[ApertureLine] = card.apertures
    if not lines or math.isnan(card.tolerance_um):
        return ""
    rows = [
        (
            _cell(f"f/{line.f_number:g}"),
            _cell(f"{line.near_m:.2f}–{_far(line.far_m)}"),
            _cell(distance(line.hyperfocal_m) + (" *" if line.is_diffracted else "")),
        )
        for line in lines
    ]
    limit = f"diffraction from f/{card.diffraction_f_number:.0f}"
    heading = f"<h3>Depth at {distance(card.focus_m)} · {limit}</h3>"
    return heading + _table(("ring", "sharp from–to", "hyperfocal"), rows)


def card_table(cards: Sequence[Card]) -> pd.DataFrame:
    """
    Return the cards as a table, one row a distance of a pairing; the shutter times stand in each row of it.

    Names are words of the user's own: write the table through `auditor.corrections.tables`.
    """
    rows: list[dict[str, object]] = []
    for card in cards:
        shared = {**_head(card), **_shutter_cells(card.shutters)}
        rows += [{**shared, **_setting_cells(line)} for line in card.settings or (None,)]
    return pd.DataFrame(rows)


def _head(card: Card) -> dict[str, object]:
    return {
        "pairing": card.pairing,
        "lens": card.lens,
        "adapter": card.adapter,
        "body": card.body,
        "effective_focal_mm": card.focal_mm[0],
        "tolerance_um": card.tolerance_um,
        "diffraction_f_number": card.diffraction_f_number,
        "notes": " ".join(card.notes),
    }


def _setting_cells(line: SettingLine | None) -> dict[str, float]:
    unknown = float("nan")
    if line is None:
        names = ("focus_distance_m", "type_mm", "right_setting_mm", "right_setting_low_mm", "right_setting_high_mm")
        return dict.fromkeys((*names, "half_stop_mm", "magnification"), unknown)
    return {
        "focus_distance_m": line.distance_m,
        "type_mm": line.type_mm,
        "right_setting_mm": line.right.value,
        "right_setting_low_mm": line.right.low,
        "right_setting_high_mm": line.right.high,
        "half_stop_mm": line.exact_mm,
        "magnification": line.magnification,
    }


def _shutter_cells(lines: Sequence[ShutterLine]) -> dict[str, float]:
    cells: dict[str, float] = {}
    for line in lines:
        share = f"{100 * line.share:.0f}"
        for name, time in (("off", line.off), ("on", line.on)):
            cells[f"exposure_{share}_percent_{name}_s"] = time.value
            cells[f"exposure_{share}_percent_{name}_low_s"] = time.low
            cells[f"exposure_{share}_percent_{name}_high_s"] = time.high
        cells[f"frames_at_{share}_percent"] = line.frames
    return cells
