"""What the pages are narrowed to. It lives in the address, so that a link opens the same view again."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, fields
from urllib.parse import parse_qs, urlencode

__all__ = ["NOT_KNOWN", "NO_ADAPTER", "Filters", "day_of", "filters_from_search", "narrowed", "rest_of", "search_of"]

NOT_KNOWN = "_"
"""Stands for an empty value in addresses and choices; no id in a kit can be written like this."""

NO_ADAPTER = "."
"""Stands for a lens that sits on the body without an adapter."""
_MOST_VALUES = 400


@dataclass(frozen=True)
class Filters:
    """
    What the pages are narrowed to; an empty field does not narrow.

    ``since`` and ``until`` are days or, from a link to a stretch of frames, times to the minute; both are included.

    Examples
    --------
    >>> Filters(lens=("orla-50",)).is_empty
    False
    """

    trip: tuple[str, ...] = ()
    body: tuple[str, ...] = ()
    lens: tuple[str, ...] = ()
    adapter: tuple[str, ...] = ()
    verdict: tuple[str, ...] = ()
    cause: tuple[str, ...] = ()
    rating: tuple[str, ...] = ()
    since: dt.date | None = None
    until: dt.date | None = None

    @property
    def is_empty(self) -> bool:
        """Whether all frames are shown."""
        return self == Filters()


def _day(values: list[str]) -> dt.date | None:
    try:
        text = values[0]
        if len(text) == len("2026-05-01"):
            return dt.date.fromisoformat(text)
        return dt.datetime.fromisoformat(text).replace(second=0, microsecond=0, tzinfo=None)
    except (IndexError, ValueError):
        return None  # a day that is none does not narrow: an old or mistyped link still opens


def day_of(when: dt.date) -> dt.date:
    """Return the day of an end of the filters, which may be a time."""
    return when.date() if isinstance(when, dt.datetime) else when


def filters_from_search(search: str | None) -> Filters:
    """
    Read the filters out of the part of an address after the path.

    Parameters
    ----------
    search : str or None
        Such as ``?lens=orla-50&since=2026-05-01``; a key may come several times. Unknown keys are
        left alone.

    Returns
    -------
    Filters
        With each value once, in the order of the address.

    Examples
    --------
    >>> filters_from_search("?lens=orla-50&lens=hale-85&since=2026-05-01").lens
    ('orla-50', 'hale-85')
    """
    try:
        query = parse_qs((search or "").removeprefix("?"), keep_blank_values=False, max_num_fields=_MOST_VALUES)
    except ValueError:
        return Filters()  # too many to have been chosen by hand: not an address of ours
    several = {
        field.name: tuple(dict.fromkeys(query.get(field.name, ())))
        for field in fields(Filters)
        if field.name not in {"since", "until"}
    }
    return Filters(**several, since=_day(query.get("since", [])), until=_day(query.get("until", [])))


def rest_of(search: str | None) -> dict[str, str]:
    """
    Return what an address says besides the filters, the first of each key.

    Examples
    --------
    >>> rest_of("?lens=orla-50&at=12-0f")
    {'at': '12-0f'}
    """
    own = {field.name for field in fields(Filters)}
    try:
        query = parse_qs((search or "").removeprefix("?"), max_num_fields=_MOST_VALUES)
    except ValueError:
        return {}
    return {key: values[0] for key, values in query.items() if key not in own}


def search_of(filters: Filters, extra: Mapping[str, str] | None = None) -> str:
    """
    Write filters as the part of an address after the path; empty when nothing is narrowed.

    Parameters
    ----------
    filters : Filters
    extra : mapping of str to str, optional
        Further keys of one page.

    Returns
    -------
    str

    Examples
    --------
    >>> search_of(Filters(lens=("orla-50",), since=dt.date(2026, 5, 1)))
    '?lens=orla-50&since=2026-05-01'
    >>> search_of(Filters(since=dt.datetime(2026, 5, 1, 14, 20)))
    '?since=2026-05-01T14%3A20'
    >>> search_of(Filters())
    ''
    """
    pairs = [(field.name, value) for field in fields(Filters) for value in _values(getattr(filters, field.name))]
    pairs += list((extra or {}).items())
    return f"?{urlencode(pairs)}" if pairs else ""


def _values(value: tuple[str, ...] | dt.date | None) -> tuple[str, ...]:
    if value is None:
        return ()
    if isinstance(value, tuple):
        return value
    return (value.isoformat(timespec="minutes") if isinstance(value, dt.datetime) else value.isoformat(),)


def narrowed(filters: Filters, **fields_to: tuple[str, ...] | dt.date | None) -> Filters:
    """
    Return filters with some fields set to other values.

    Examples
    --------
    >>> narrowed(Filters(trip=("Harbour week",)), lens=("orla-50",)).lens
    ('orla-50',)
    """
    known = {field.name: getattr(filters, field.name) for field in fields(Filters)}
    return Filters(**(known | fields_to))
