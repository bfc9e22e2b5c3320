from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.filters import Filters, filters_from_search, narrowed, search_of

words = st.lists(st.text(min_size=1, max_size=12), unique=True, max_size=3).map(tuple)


@given(
    st.builds(Filters, trip=words, lens=words, cause=words, since=st.none() | st.dates(), until=st.none() | st.dates())
)
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
