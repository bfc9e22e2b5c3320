"""Where a trip was: in the list, in the report only when asked, from what the frames themselves recorded."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from auditor.cli import main
from auditor.model.settings import NamedPlace
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.tripping import list_trips, trip_report


@pytest.fixture
def workspace(sample_workspace: Path) -> Workspace:
    return open_workspace(sample_workspace)


def test_the_list_tells_where_each_trip_was(workspace: Workspace) -> None:
    told = {trip.name: [(place.called, place.frames) for place in trip.places] for trip in list_trips(workspace)}
    assert told == {
        "Ice-out at Ellow": [("47.05° N 14.30° W", 24)],
        "Lantern nights": [("Skerra", 33), ("46.26° N 11.44° W", 10)],
        "Vell hills": [],
        "Clocks back in Oskerry": [("44.52° N 13.08° W", 40)],
    }
    assert [trip.unplaced for trip in list_trips(workspace)] == [120, 181, 134, 76]


def test_a_place_takes_its_name_from_the_settings(workspace: Workspace) -> None:
    ellow = NamedPlace(name="Ellow <quay>", latitude_deg=47.1, longitude_deg=-14.3, radius_km=8)
    settings = workspace.settings.model_copy(update={"places": (ellow,)})
    renamed = Workspace(**{**vars(workspace), "settings": settings})
    assert [place.called for place in list_trips(renamed)[0].places] == ["Ellow <quay>"]


def test_the_report_says_where_only_when_it_is_asked_to(
    sample_workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report, command = tmp_path / "trip.html", ["trips", "Lantern nights", str(sample_workspace), "--report"]
    assert main([*command, str(report)]) == 0
    assert "Skerra" not in report.read_text()
    assert "46.2" not in report.read_text()
    assert main([*command, str(report), "--places"]) == 0
    assert "Where, to about a kilometre: Skerra (33 frames); 46.26° N 11.44° W" in report.read_text()
    assert "It says where, to about a kilometre." in capsys.readouterr().out
    other = ["trips", "Vell hills", str(sample_workspace), "--report", str(report), "--places"]
    assert main(other) == 0
    assert "Where" not in report.read_text().replace("Where the setting was wrong", "")
    assert "No frame tells where it was made." in capsys.readouterr().out


def test_the_list_for_a_person_and_for_a_program(sample_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trips", str(sample_workspace)]) == 0
    said = capsys.readouterr().out
    assert "Lantern nights: Skerra (33 frames); 46.26° N 11.44° W (10 frames); not recorded for 181 frames.\n" in said
    assert "Vell hills:" not in said
    assert main(["trips", "Lantern nights", str(sample_workspace), "--json"]) == 0
    [trip] = json.loads(capsys.readouterr().out)["trips"]
    assert [place["name"] for place in trip["places"]] == ["Skerra", None]
    assert trip["places"][1]["latitude_deg"] == 46.26
    assert trip["frames_without_place"] == 181


def test_the_night_in_which_summer_time_ends_is_told_in_order(workspace: Workspace) -> None:
    report = trip_report(workspace, "Clocks back in Oskerry")
    black = [segment for segment in report.segments if segment.body == "Black body"]
    assert all(segment.first <= segment.last for segment in black)
    assert sum(segment.frames for segment in black) == 40
    night = [segment for segment in black if segment.first.day == 25 and segment.first.hour < 4]
    clock = [f"{segment.first:%H:%M}" for segment in night]
    assert clock != sorted(clock), "02:23 of winter time comes after 02:32 of summer time"
    assert clock[-1] == "02:23"


def test_a_report_without_places_by_name(workspace: Workspace) -> None:
    assert trip_report(workspace, "Lantern nights").where == ""
    assert trip_report(workspace, "Lantern nights", places=True).where.startswith("Skerra (33 frames)")
