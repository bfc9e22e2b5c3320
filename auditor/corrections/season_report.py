"""The season report: a year in lenses, settings, keep rates and costs, as one page that needs nothing else."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from importlib import resources

import pandas as pd

from auditor.corrections.charts import PATTERNS, Bar, Interval, calendar, intervals, stacks
from auditor.corrections.season_words import day_span, listed, money, share, tenths
from auditor.model.flags import cause_sentence
from auditor.wording import counted

__all__ = ["MONTHS", "Season", "season_html"]

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

_VERDICTS = {
    "right": "right",
    "too-short": "too short",
    "too-long": "too long",
    "unknown": "not known",
    "not-needed": "not needed",
}


@dataclass(frozen=True)
class Season:
    """
    A year of photographs, counted.

    Attributes
    ----------
    year : int
    frames, judged, kept, wrong, blur_likely : int
        Frames: all, in trips that were judged, kept, with a wrong setting, with shake likely.
    stops_lost : float
        Median over the frames with a wrong setting, NaN where there is none. [stop]
    bodies : tuple of str
        Names.
    lenses : DataFrame
        One row a lens, the most used first: ``name, frames, judged, kept, keep_rate, low, high, wrong, price, currency,
        years, keeper_price``; ``low`` and ``high`` are the 95 % interval, ``years`` those owned until the season's end,
        ``keeper_price`` a year's share of the price over the season's keepers. Missing where not known. Also
        `auditor.audit.sharp_frames.SHARP_COLUMNS`.
    use : dict
        Lens to its frames in each month.
    verdicts : tuple of dict
        Each month's frames by verdict.
    causes : DataFrame
        ``setting_cause, frames, stops_lost`` (median), the most frequent first.
    trips : DataFrame
        ``name, first, last, frames, wrong, judged, kept``, in order of time.
    left_out : dict
        Frames that are in no rate, by reason.
    plan : tuple of (str, str, tuple of str)
        Each lens still owned with its verdict and the reasons in words, over all years.
    plan_caution : str
        What to do before acting on it.
    """

    year: int
    frames: int
    judged: int
    kept: int
    wrong: int
    blur_likely: int
    stops_lost: float
    bodies: tuple[str, ...]
    lenses: pd.DataFrame
    use: Mapping[str, Sequence[int]]
    verdicts: Sequence[Mapping[str, int]]
    causes: pd.DataFrame
    trips: pd.DataFrame
    left_out: Mapping[str, int]
    plan: Sequence[tuple[str, str, Sequence[str]]] = ()
    plan_caution: str = ""


def season_html(season: Season) -> str:
    """
    Return the report: one HTML document, with its style and charts inside and nothing fetched.

    Parameters
    ----------
    season : Season
        Text in it is shown as text, whatever it holds.
    """
    style = resources.files("auditor.corrections").joinpath("season_report.css").read_text(encoding="utf-8")
    sections = "".join(
        f"<section><h2>{title}</h2>{body}</section>" for title, make in _SECTIONS.items() if (body := make(season))
    )
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>The season {season.year}</title>\n<style>\n{style}</style>\n</head>\n<body>\n{PATTERNS}\n"
        f"<main><h1>The season {season.year}</h1>{_opening(season)}{sections}{_FOOT}</main>\n</body>\n</html>\n"
    )


_FOOT = (
    "<footer>Made by steadykeep from what the frames, the log and the kit tell. A rate is not proof: a lens that was "
    "used in the dark keeps less than one used at noon. Try a change in what you type or carry before a job that "
    "matters.</footer>"
)


def _opening(season: Season) -> str:
    trips, lenses = len(season.trips), len(season.lenses)
    first = f"{counted(season.frames, 'frame')} on {counted(trips, 'trip')}, with {counted(lenses, 'lens', 'lenses')}"
    lead = f"{first} on {listed(season.bodies)}." if season.bodies else f"{first}."
    boxes = [
        (f"{season.kept:,}", f"kept, of {season.judged:,} that were judged"),
        (f"{season.kept / season.judged:.0%}" if season.judged else "–", "keep rate over all lenses"),
        (f"{season.wrong:,}", f"frames with a wrong setting, {share(season.wrong, season.frames)} of all"),
        (f"{season.blur_likely:,}", "frames on which shake is likely"),
    ]
    if math.isfinite(season.stops_lost):
        boxes.insert(3, (f"{season.stops_lost:.1f}", "stops of stabiliser lost where it was wrong (median)"))
    told = "".join(f"<div><b>{escape(figure)}</b><span>{escape(words)}</span></div>" for figure, words in boxes)
    return f'<p class="lead">{escape(lead)}</p><div class="figures">{told}</div>'


def _months(season: Season) -> range:
    """Return the months from the first to the last with a frame."""
    used = [month for month, counts in enumerate(season.verdicts) if sum(counts.values())]
    return range(used[0], used[-1] + 1) if used else range(0)


def _use(season: Season) -> str:
    months = _months(season)
    rows = {name: [counts[month] for month in months] for name, counts in season.use.items()}
    if not rows:
        return ""
    drawn = calendar(rows, [MONTHS[month] for month in months], says="Frames by lens and month")
    return _note("Frames by lens and month.") + _wide(drawn)


def _keeping(season: Season) -> str:
    judged = season.lenses[season.lenses["judged"] > 0]
    if judged.empty:
        return _note("No frame of this season was judged, so there is no keep rate.")
    left = "; ".join(f"{counted(count, 'frame')}: {reason}" for reason, count in season.left_out.items())
    words = (
        "Share of the judged frames that was kept; the line is where the true rate lies with 95 % confidence, frames "
        "of one burst weighed by how alike they are. Lines that overlap say that the lenses cannot be told apart."
    )
    drawn = _rates(judged, ("kept", "judged", "keep_rate", "low", "high"), says="Keep rate by lens")
    return _note(words + (f" Left out: {left}." if left else "")) + drawn


def _sharp(season: Season) -> str:
    told = season.lenses[season.lenses["sharp_judged"] > 0]
    if told.empty:
        return ""
    never, unknown = int(season.lenses["never_measured"].sum()), int(season.lenses["sharp_unknown"].sum())
    words = (
        "Share of the frames that the pixels call sharp, of those of which they say anything "
        f"({counted(unknown, 'frame')} cannot be told, {counted(never, 'frame')} never measured). An estimate: about "
        "one answer in twenty is wrong, and blur under about 6 px often passes. A sharp frame may be dull, a kept one "
        f"soft: {int(told['left_sharp'].sum())} were sharp but not kept, {int(told['kept_soft'].sum())} kept but soft."
    )
    columns = ("sharp", "sharp_judged", "sharp_rate", "sharp_burst_low", "sharp_burst_high")
    return _note(words) + _rates(told, columns, says="Share of sharp frames by lens")


def _rates(lenses: pd.DataFrame, columns: tuple[str, str, str, str, str], *, says: str) -> str:
    """Draw rates with their intervals, the highest first; columns of hits, trials, rate and both ends."""
    hits, trials, rate, low, high = columns
    rows = [
        Interval(row["name"], row[rate], row[low], row[high], f"{row[hits]} of {row[trials]}, {row[rate]:.0%}")
        for row in lenses.sort_values(rate, ascending=False).to_dict("records")
    ]
    return _wide(intervals(rows, says=says))


def _settings(season: Season) -> str:
    months = _months(season)
    if not months:
        return ""
    bars = [Bar(MONTHS[month], season.verdicts[month]) for month in months]
    drawn = stacks(bars, _VERDICTS, says="Frames by month and verdict on the setting")
    table = _table(
        ["How it came about", "Frames", "Stops lost"],
        [
            [
                cause_sentence(row["setting_cause"]) or str(row["setting_cause"]),
                str(row["frames"]),
                tenths(row["stops_lost"]),
            ]
            for row in season.causes.to_dict("records")
        ],
    )
    return (
        _note("What was typed for the stabiliser against what each lens needed, frames a month.") + _wide(drawn) + table
    )


def _trips(season: Season) -> str:
    return _table(
        ["Trip", "Days", "Frames", "Setting wrong", "Kept", "Keep rate"],
        [
            [
                str(row["name"]),
                day_span(row["first"], row["last"]),
                str(row["frames"]),
                f"{row['wrong']} ({share(row['wrong'], row['frames'])})",
                f"{row['kept']} of {row['judged']}" if row["judged"] else "never judged",
                share(row["kept"], row["judged"]),
            ]
            for row in season.trips.to_dict("records")
        ],
    )


def _costs(season: Season) -> str:
    rows = [
        [
            str(row["name"]),
            str(row["frames"]),
            share(row["wrong"], row["frames"]),
            str(row["kept"]) if row["judged"] else "never judged",
            money(row["price"], row["currency"]),
            tenths(row["years"]),
            money(row["keeper_price"], row["currency"], digits=2),
        ]
        for row in season.lenses.to_dict("records")
    ]
    words = (
        "What a keeper cost: the price spread over the years owned, divided by the keepers of this season. It knows "
        "nothing of what the lens would fetch, nor of the picture that only this lens could make."
    )
    headings = ["Lens", "Frames", "Setting wrong", "Kept", "Price", "Years owned", "A keeper"]
    return _note(words) + _table(headings, rows)


def _plan(season: Season) -> str:
    if not season.plan:
        return ""
    lenses = "".join(
        f"<dt>{escape(name)}: <strong>{escape(verdict)}</strong></dt>"
        + "".join(f"<dd>{escape(reason)}</dd>" for reason in reasons)
        for name, verdict, reasons in season.plan
    )
    words = f"Which lenses to keep, over all years and not this season alone. {season.plan_caution}"
    return _note(words.strip()) + f'<dl class="plan">{lenses}</dl>'


_SECTIONS: Mapping[str, Callable[[Season], str]] = {
    "Which lens, when": _use,
    "What was kept": _keeping,
    "What was sharp": _sharp,
    "Settings": _settings,
    "Trips": _trips,
    "What it cost": _costs,
    "What to keep": _plan,
}
"""Heading to what stands under it; a section without anything to say is left out."""


def _note(words: str) -> str:
    return f'<p class="note">{escape(words)}</p>'


def _wide(inner: str) -> str:
    """Let what is wide scroll by itself on a phone."""
    return f'<div class="scroll">{inner}</div>'


def _table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    if not rows:
        return ""
    head = "".join(f'<th scope="col">{escape(heading)}</th>' for heading in headings)
    body = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows)
    return _wide(f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>")
