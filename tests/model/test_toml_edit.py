"""Changing single values of the user's files."""

from __future__ import annotations

import pytest

from auditor.model.kit import parse_kit
from auditor.model.settings import parse_settings
from auditor.model.toml_edit import with_entry_values, with_table_values
from tests.kits import KIT_TEXT


def test_everything_else_stays_as_it_is():
    text = "# mine\n" + KIT_TEXT.replace("stabiliser_stops = 5.0", "stabiliser_stops = 5.0   # the maker's", 1)
    changed = with_entry_values(text, "bodies", "one", {"stabiliser_stops": 4.2})
    assert changed == text.replace(
        "stabiliser_stops = 5.0   # the maker's", "stabiliser_stops = 4.2   # the maker's", 1
    )


def test_a_measured_table_is_added():
    changed = with_entry_values(KIT_TEXT, "lenses", "hale-85", {"breathing": [[1.5, 91.0], [3.0, 88.0]]})
    assert parse_kit(changed).lens("hale-85").breathing == ((1.5, 91.0), (3.0, 88.0))


def test_a_table_is_changed_or_added():
    assert parse_settings(with_table_values("", "hand", {"exponent": 0.7})).hand.exponent == 0.7
    assert with_table_values("[hand] # me\nexponent = 0.8 # H\n", "hand", {"exponent": 0.7}) == (
        "[hand] # me\nexponent = 0.7 # H\n"
    )


def test_an_entry_that_is_not_there():
    with pytest.raises(KeyError):
        with_entry_values(KIT_TEXT, "bodies", "three", {"stabiliser_stops": 4.2})
