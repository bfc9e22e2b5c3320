from __future__ import annotations

from dashboards.app import turn_to
from dashboards.thumbnails import key_of
from tests.dashboards.desks import season_desk, three_row_desk
from tests.dashboards.test_app import text_of


def shown(desk: object, place: int, more: str = "") -> str:
    return text_of(turn_to(desk, "/frame", f"?at={key_of(desk, place)}{more}")[0])  # type: ignore[arg-type]


def test_what_was_recorded_stands_beside_what_was_right() -> None:
    told = shown(three_row_desk(), 1)
    for words in (
        "b.jpg",
        "50 mm",
        "35.5 mm",
        "Too long",
        "Orla 50 mm f/1.4",
        "M42 reducer",
        "3.2 stops",
        "1/15 s",
        "1 of 2",
    ):
        assert words in told


def test_a_frame_without_anything_known_says_so() -> None:
    told = shown(three_row_desk(), 2)
    assert "Not known" in told
    assert "nan" not in told.lower()
    assert "NaT" not in told


def test_the_next_one_is_the_next_of_the_view() -> None:
    desk = season_desk(300)
    laid = turn_to(desk, "/frame", f"?at={key_of(desk, int(desk.flagged[0]))}&verdict=too-long")[0]
    assert "The next one" in text_of(laid)
    assert "The one before" not in text_of(laid)
    assert "verdict=too-long" in str(laid)


def test_a_frame_that_is_not_flagged_can_be_looked_at() -> None:
    assert "Nothing about this frame is flagged" in shown(three_row_desk(), 0)


def test_an_old_link_says_so() -> None:
    for search in ("", "?at=", "?at=0-0000", "?at=<script>"):
        assert "not here" in text_of(turn_to(three_row_desk(), "/frame", search)[0])
