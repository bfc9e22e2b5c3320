"""Numbers of the season report in words: counts, shares, money, days."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

__all__ = ["day_span", "listed", "money", "share", "tenths"]


def listed(names: Sequence[str]) -> str:
    """Return names as a sentence lists them."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def share(part: int, whole: int) -> str:
    """Return a share in whole per cent, a dash of nothing."""
    return f"{part / whole:.0%}" if whole else "–"


def tenths(value: float) -> str:
    """Return a number to a tenth, or that it is not known."""
    return f"{value:.1f}" if math.isfinite(value) else "not known"


def money(value: float, currency: object, digits: int = 0) -> str:
    """Return a sum, a dash where it is not known."""
    if not math.isfinite(value):
        return "–"
    return f"{value:,.{digits}f}" + (f" {currency}" if isinstance(currency, str) else "")


def day_span(first: pd.Timestamp, last: pd.Timestamp) -> str:
    """Return the days from the first to the last."""
    if first.date() == last.date():
        return f"{first.day} {first:%b}"
    if first.month == last.month:
        return f"{first.day} to {last.day} {last:%b}"
    return f"{first.day} {first:%b} to {last.day} {last:%b}"
