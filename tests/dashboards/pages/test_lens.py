from __future__ import annotations

from pathlib import Path

from dashboards.app import turn_to
from dashboards.filters import Filters
from dashboards.sharp_rates import FIELDS, kept_and_sharp_by_lens
from dashboards.watched import workspace_desk
from dashboards.words import percent
from tests.dashboards.desks import season_desk, three_row_desk
from tests.dashboards.test_app import text_of


def test_all_lenses_lead_to_their_own_pages() -> None:
    laid = turn_to(three_row_desk(), "/lenses", "")[0]
    assert "Choose one" in text_of(laid)
    assert "/lenses?lens=orla-50" in str(laid)


def test_a_lens_has_its_name_its_settings_and_its_frames() -> None:
    told = text_of(turn_to(three_row_desk(), "/lenses", "?lens=orla-50")[0])
    for words in ("Orla 50 mm f/1.4", "2 frames", "M42 reducer", "Adapter's factor left out", "35.5 mm"):
        assert words in told


def test_what_is_not_known_says_what_would_help() -> None:
    assert "a row in the shoot log would" in text_of(turn_to(three_row_desk(), "/lenses", "?lens=_")[0])


def test_a_measured_lens_shows_its_settings_close_up(sample_workspace: Path) -> None:
    told = text_of(turn_to(workspace_desk(sample_workspace)(), "/lenses", "?lens=orla-50")[0])
    assert "Its setting close up, as measured" in told
    assert "measured 51.6 mm" in told


def test_a_lens_has_its_four_fields_of_kept_and_sharp() -> None:
    desk = season_desk(500, measured=True)
    laid = turn_to(desk, "/lenses", "?lens=orla-50")[0]
    (one,) = kept_and_sharp_by_lens(desk, Filters(lens=("orla-50",))).to_dict("records")
    told = text_of(laid)
    for field in FIELDS:
        assert f"{one[field]} ({percent(one[field] / one['both'])})" in told
    assert f"Both judged and told are {one['both']} frames" in told
    assert "/table/kept-and-sharp.csv?lens=orla-50" in str(laid)


def test_a_lens_that_was_never_measured_says_so() -> None:
    told = text_of(turn_to(three_row_desk(), "/lenses", "?lens=orla-50")[0])
    assert "No frame of it was both judged and measured" in told
    assert "Run steadykeep measure" in told
