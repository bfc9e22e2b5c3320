from __future__ import annotations

from pathlib import Path

from dashboards.app import turn_to
from dashboards.watched import workspace_desk
from tests.dashboards.desks import three_row_desk
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
