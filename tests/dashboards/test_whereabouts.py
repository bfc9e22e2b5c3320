from __future__ import annotations

from pathlib import Path

import pytest

from dashboards.app import create_app, turn_to
from dashboards.desk import Desk, desk_of
from dashboards.filters import Filters
from dashboards.thumbnails import key_of
from dashboards.watched import workspace_desk
from dashboards.whereabouts import frame_place, places_by_trip, shortly
from tests.dashboards.desks import (
    KIT,
    THREE_AUDITED,
    THREE_FRAMES,
    audit_table,
    empty_desk,
    frames_table,
    season_desk,
    three_row_desk,
)
from tests.dashboards.test_app import text_of


@pytest.fixture
def placed_desk() -> Desk:
    frames = [
        row | place
        for row, place in zip(THREE_FRAMES, [{"latitude_deg": -33.86, "longitude_deg": 151.2}, {}, {}], strict=True)
    ]
    return desk_of(frames_table(frames), audit_table(THREE_AUDITED), KIT)


def test_a_trip_is_where_its_frames_were(placed_desk: Desk) -> None:
    places, without = places_by_trip(placed_desk, Filters())["Harbour week"]
    assert [(place.called, place.frames) for place in places] == [("33.86° S 151.20° E", 1)]
    assert without == 1, "the frame without a trip does not count"
    assert shortly(places) == "33.86° S 151.20° E"
    assert (frame_place(placed_desk, 0), frame_place(placed_desk, 1)) == ("33.86° S 151.20° E", "")


def test_without_any_position_nothing_is_said_of_places() -> None:
    for desk in (three_row_desk(), empty_desk(), season_desk(300)):
        assert places_by_trip(desk, Filters()) == {}
        page = text_of(turn_to(desk, "/", "")[0])
        assert "Where it was" not in page
        assert "with its places" not in page


def test_the_evening_tells_where_one_trip_was(placed_desk: Desk) -> None:
    page = text_of(turn_to(placed_desk, "/", "")[0])
    assert "33.86° S 151.20° E (1 frame); not recorded for 1 frame." in page


def test_the_evening_tells_where_each_trip_was_and_the_photographers_names(sample_workspace: Path) -> None:
    desk = workspace_desk(sample_workspace)()
    page = text_of(turn_to(desk, "/", "")[0])
    assert "Skerra; 46.26° N 11.44° W" in page
    assert "47.05° N 14.30° W" in page
    one = turn_to(desk, "/", "?trip=Lantern+nights")[0]
    assert "Skerra (33 frames); 46.26° N 11.44° W (10 frames); not recorded for 181 frames." in text_of(one)
    assert "/paper/trip.html?trip=Lantern+nights&places=yes" in str(one)
    place = next(at for at in range(len(desk)) if frame_place(desk, at).startswith("Skerra"))
    assert "Skerra, 46.21° N 11.62° W" in text_of(turn_to(desk, "/frame", f"?at={key_of(desk, place)}")[0])


def test_what_is_printed_tells_places_only_when_asked(sample_workspace: Path) -> None:
    client = create_app(workspace_desk(sample_workspace)).server.test_client()
    address = "/paper/trip.html?trip=Lantern+nights"
    assert "Skerra" not in client.get(address).text
    assert "Skerra" not in client.get(f"{address}&places=no").text
    assert "Skerra (33 frames)" in client.get(f"{address}&places=yes").text


def test_no_table_that_is_taken_away_holds_a_place(sample_workspace: Path) -> None:
    client = create_app(workspace_desk(sample_workspace)).server.test_client()
    for table in ("trips", "frames-worth-a-look", "mounted", "wrong-stretches"):
        taken = client.get(f"/table/{table}.csv").text
        assert "Skerra" not in taken
        assert "latitude" not in taken
        assert "46.2" not in taken
