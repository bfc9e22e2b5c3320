"""The words and numbers on the screen: verdicts, causes and flags as a photographer would say them."""

from __future__ import annotations

import html
import math
import re
from collections.abc import Hashable, Mapping
from types import MappingProxyType

import pandas as pd

from auditor.model.flags import CAUSES as CAUSE_CLAUSES
from auditor.model.flags import FLAGS

__all__ = [
    "BLUR_KINDS",
    "BLUR_VERDICTS",
    "CAUSES",
    "DASH",
    "VERDICTS",
    "count_of",
    "days",
    "exposure",
    "for_chart",
    "millimetres",
    "moment",
    "percent",
    "reason",
    "said",
    "spread",
    "stops",
    "unbroken",
]

VERDICTS: Mapping[str, str] = MappingProxyType(
    {
        "right": "Right",
        "too-short": "Too short",
        "too-long": "Too long",
        "unknown": "Cannot tell",
        "not-needed": "Not needed",
    }
)

CAUSES: Mapping[str, str] = MappingProxyType(
    {
        "carried-over": "Left from the lens before",
        "adapter-factor-left-out": "Adapter's factor left out",
        "equivalent-entered": "35 mm equivalent typed",
        "long-end-of-zoom": "Zoom's long end typed",
        "digit-slip": "Slip of a digit",
        "unexplained": "No cause found",
    }
)

BLUR_VERDICTS: Mapping[str, str] = MappingProxyType(
    {"unlikely": "Unlikely", "likely": "Likely", "unknown": "Cannot tell"}
)

BLUR_KINDS: Mapping[str, str] = MappingProxyType(
    {
        "sharp": "Sharp",
        "shake": "Blurred by shake",
        "missed-focus": "Focus missed",
        "subject-moved": "Subject moved",
        "unknown": "Cannot tell",
    }
)

_FLAG_REASONS: Mapping[str, str] = MappingProxyType({flag.name: flag.reason for flag in FLAGS})

_TOLD_BY_THE_SETTING = frozenset({"setting-too-long", "setting-too-short", "shake-likely"})

DASH = "–"
_NUMBER_AND_UNIT = re.compile(r"(\d) (%|mm|s\b|stops?)")


def said(words: Mapping[str, str], key: object) -> str:
    """
    Return a key in words; a key without words of its own is shown plainly, never hidden.

    Examples
    --------
    >>> said(VERDICTS, "too-long")
    'Too long'
    >>> said(VERDICTS, "quite-new"), said(VERDICTS, None)
    ('Quite new', '–')
    """
    if not isinstance(key, str) or not key:
        return DASH
    return words.get(key, key.replace("-", " ").capitalize())


def for_chart(text: str) -> str:
    """
    Make text harmless in a chart, whose labels read a little HTML.

    Examples
    --------
    >>> for_chart("<b>Orla</b> & Hale")
    '&lt;b&gt;Orla&lt;/b&gt; &amp; Hale'
    """
    return html.escape(text, quote=False)


def millimetres(value: float | None) -> str:
    """
    Return a focal length or a setting, to a tenth only where it matters.

    Examples
    --------
    >>> millimetres(35.5), millimetres(50.0), millimetres(135.2), millimetres(None)
    ('35.5 mm', '50 mm', '135 mm', '–')
    """
    if value is None or not math.isfinite(value):
        return DASH
    rounded = round(float(value), 1 if value < 100 else 0)
    return f"{rounded:g} mm"


def percent(share: float | None, digits: int = 0) -> str:
    """
    Return a proportion in per cent.

    Examples
    --------
    >>> percent(0.256), percent(float("nan"))
    ('26 %', '–')
    """
    return DASH if share is None or not math.isfinite(share) else f"{100 * share:.{digits}f} %"


def spread(low: float, high: float) -> str:
    """
    Return an interval of a proportion in per cent.

    Examples
    --------
    >>> spread(0.25, 0.37), spread(float("nan"), float("nan"))
    ('25 to 37 %', '–')
    """
    return f"{100 * low:.0f} to {percent(high)}" if math.isfinite(low) and math.isfinite(high) else DASH


def stops(value: float | None) -> str:
    """
    Return stops to a tenth.

    Examples
    --------
    >>> stops(1.26), stops(0.02)
    ('1.3 stops', 'under 0.1 stop')
    """
    if value is None or not math.isfinite(value):
        return DASH
    if abs(value) < 0.05:
        return "under 0.1 stop"
    return f"{value:.1f} stop" if round(value, 1) == 1.0 else f"{value:.1f} stops"


def exposure(seconds: float | None) -> str:
    """
    Return an exposure time as photographers write it.

    Examples
    --------
    >>> exposure(1 / 60), exposure(0.5), exposure(2.0), exposure(None)
    ('1/60 s', '0.5 s', '2 s', '–')
    """
    if seconds is None or not math.isfinite(seconds) or seconds <= 0:
        return DASH
    return f"1/{1 / seconds:.0f} s" if seconds < 0.3 else f"{seconds:.2g} s"


def count_of(number: int, thing: str, things: str = "") -> str:
    """
    Return a count with its noun.

    Examples
    --------
    >>> count_of(1, "frame"), count_of(12400, "frame")
    ('1 frame', '12 400 frames')
    """
    noun = thing if number == 1 else (things or f"{thing}s")
    return f"{number:,}".replace(",", " ") + f" {noun}"


def unbroken(text: str) -> str:
    r"""
    Keep numbers and their units on one line.

    Examples
    --------
    >>> unbroken("41 % of 50 mm").split(" ")
    ['41\xa0%', 'of', '50\xa0mm']
    """
    return _NUMBER_AND_UNIT.sub("\\1\u00a0\\2", text)


def days(first: pd.Timestamp, last: pd.Timestamp) -> str:
    """
    Return a span of days.

    Examples
    --------
    >>> days(pd.Timestamp("2026-05-01 09:00"), pd.Timestamp("2026-05-04 20:00"))
    '1 to 4 May 2026'
    >>> days(pd.Timestamp("2026-05-01"), pd.Timestamp("2026-05-01"))
    '1 May 2026'
    """
    end = f"{last.day} {last:%B %Y}"
    if first.date() == last.date():
        return end
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {end}"
    return f"{first.day} {first:%B}{'' if first.year == last.year else f' {first.year}'} to {end}"


def moment(when: pd.Timestamp, after: pd.Timestamp | None = None) -> str:
    """
    Return a time to the minute; without its day where that is the day of another time before it.

    Examples
    --------
    >>> noon = pd.Timestamp("2026-05-02 12:04:31")
    >>> moment(noon), moment(noon + pd.Timedelta(hours=1), noon)
    ('2 May 12:04', '13:04')
    """
    clock = f"{when:%H:%M}"
    return clock if after is not None and when.date() == after.date() else f"{when.day} {when:%b} {clock}"


def reason(frame: Mapping[Hashable, object], *, with_cost: bool = True) -> str:
    """
    Say in a sentence or three why a frame is worth a look.

    Parameters
    ----------
    frame : mapping
        One row with the columns of the audit; ``flags`` joined by +.
    with_cost : bool
        Leave it out where the numbers stand beside the sentence.

    Returns
    -------
    str
        What was recorded, what would have been right, how it came about and what it cost.

    Examples
    --------
    >>> reason({"setting_verdict": "too-long", "setting_mm": 50.0, "right_setting_mm": 35.5,
    ...         "setting_cause": "adapter-factor-left-out", "stops_lost": 1.4, "blur_probability": 0.62})
    "Set to 50 mm, right was 35.5 mm: 41 % too long; it is the lens's own focal length, without the adapter's factor.
    It cost about 1.4 stops, chance of shake blur 62 %."
    """
    parts = [_setting_sentence(frame), _cost_sentence(frame) if with_cost else "", *_flag_sentences(frame)]
    if not any(parts):  # flagged for its blur alone
        parts.append(_FLAG_REASONS["shake-likely"])
    return " ".join(part for part in parts if part)


def _float(frame: Mapping[Hashable, object], column: str) -> float | None:
    value = frame.get(column)
    if value is None or value is pd.NA or not isinstance(value, (int, float)):
        return None
    return float(value) if math.isfinite(value) else None


def _setting_sentence(frame: Mapping[Hashable, object]) -> str:
    verdict = frame.get("setting_verdict")
    if verdict not in {"too-short", "too-long"}:
        return ""
    typed, right = _float(frame, "setting_mm"), _float(frame, "right_setting_mm")
    if typed is None or right is None:
        return f"The stabiliser's setting was {said(VERDICTS, verdict).lower()}."
    off = percent(abs(typed / right - 1))
    direction = str(verdict).replace("-", " ")
    cause = CAUSE_CLAUSES.get(str(frame.get("setting_cause")), "")
    told = f"Set to {millimetres(typed)}, right was {millimetres(right)}: {off} {direction}"
    return f"{told}; {cause}." if cause else f"{told}."


def _cost_sentence(frame: Mapping[Hashable, object]) -> str:
    lost, blur = _float(frame, "stops_lost"), _float(frame, "blur_probability")
    cost = f"it cost about {stops(lost)}" if lost is not None and lost >= 0.05 else ""
    chance = f"chance of shake blur {percent(blur)}" if blur is not None else ""
    both = ", ".join(part for part in (cost, chance) if part)
    return f"{both[0].upper()}{both[1:]}." if both else ""


def _flag_sentences(frame: Mapping[Hashable, object]) -> list[str]:
    flags = str(frame.get("flags") or "").split("+")
    others = [flag for flag in flags if flag and flag not in _TOLD_BY_THE_SETTING]
    return [_FLAG_REASONS.get(flag, f"{said({}, flag)}.") for flag in others]
