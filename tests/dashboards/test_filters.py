from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.filterbar import in_words
from dashboards.filters import Filters, filters_from_search, narrowed, search_of
from tests.dashboards.desks import three_row_desk

words = st.lists(st.text(min_size=1, max_size=12), unique=True, max_size=3).map(tuple)


minutes = st.datetimes().map(lambda when: when.replace(second=0, microsecond=0))
ends = st.none() | st.dates() | minutes


@given(st.builds(Filters, trip=words, lens=words, cause=words, since=ends, until=ends))
def test_an_address_reopens_the_same_view(filters: Filters) -> None:
    assert filters_from_search(search_of(filters)) == filters


@pytest.mark.parametrize("search", [None, "", "?", "?nothing=1", "?since=yesterday&until=2026-13-40", "?lens="])
def test_what_says_nothing_narrows_nothing(search: str | None) -> None:
    assert filters_from_search(search).is_empty


def test_a_value_given_twice_counts_once() -> None:
    assert filters_from_search("?lens=a&lens=b&lens=a").lens == ("a", "b")


def test_narrowing_changes_only_what_is_named() -> None:
    before = Filters(trip=("Harbour week",), since=dt.date(2026, 5, 1))
    assert narrowed(before, lens=("orla-50",)) == Filters(
        trip=("Harbour week",), lens=("orla-50",), since=dt.date(2026, 5, 1)
    )


def test_a_flood_of_keys_is_not_an_address_of_ours() -> None:
    assert filters_from_search("?" + "&".join(f"lens={n}" for n in range(1000))).is_empty


def test_a_time_narrows_to_the_minute_and_a_day_to_the_day() -> None:
    desk = three_row_desk()
    at = dt.datetime(2026, 5, 2, 14, 20)
    for since, until, left in (
        (at, at, 1),
        (at + dt.timedelta(minutes=1), None, 0),
        (None, at - dt.timedelta(minutes=1), 1),
        (at.date(), at.date(), 1),
        (None, at.date(), 2),
    ):
        assert desk.mask(Filters(since=since, until=until)).sum() == left
    assert in_words(desk, Filters(since=at)) == "2026-05-02 14:20 to …"
