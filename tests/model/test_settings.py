from __future__ import annotations

import datetime as dt
from importlib import resources
from pathlib import Path

import pytest

from auditor.errors import SettingsError, WorkspaceError
from auditor.model.settings import Settings, load_settings, parse_settings
from auditor.model.workspace import open_workspace
from tests.kits import KIT_TEXT


def refusal(text: str) -> str:
    with pytest.raises(SettingsError) as refused:
        parse_settings(text)
    return str(refused.value)


def test_every_key_may_be_left_out() -> None:
    assert parse_settings("") == Settings()


def test_the_template_says_what_the_defaults_are() -> None:
    text = resources.files("auditor.model").joinpath("templates", "settings.toml").read_text(encoding="utf-8")
    assert parse_settings(text) == Settings()


def test_every_line_of_the_template_says_what_it_does() -> None:
    text = resources.files("auditor.model").joinpath("templates", "settings.toml").read_text(encoding="utf-8")
    plain = [line for line in text.splitlines() if line and not line.startswith(("#", "["))]
    assert plain
    assert [line for line in plain if "#" not in line] == []


def test_the_contract_s_example_is_read() -> None:
    settings = parse_settings("""
[archives]
main = "/photos/2026"
[keep]
rule = "rating"
rating_at_least = 1
[trips]
gap_hours = 36
[[trips.named]]
name = "Harbour week"
from = 2026-05-01
to = 2026-05-04
[[clocks]]
body = "one"
from = 2026-05-01T00:00:00
to = 2026-05-03
add_minutes = 60
""")
    assert settings.trips.named[0].last_day == dt.date(2026, 5, 4)
    assert settings.clocks[0].last == dt.datetime(2026, 5, 3)


def test_places_are_named_and_wrong_ones_refused() -> None:
    [place] = parse_settings('[[places]]\nname = "Old harbour"\nlatitude_deg = 46\nlongitude_deg = -11.62\n').places
    assert (place.name, place.latitude_deg, place.longitude_deg, place.radius_km) == ("Old harbour", 46.0, -11.62, 2.0)
    said = refusal(
        '[[places]]\nlatitude_deg = 91\nlongitude_deg = "7 W"\nradius_km = 0\nradius_m = 3\n[[place]]\nname = "x"\n'
    )
    assert 'unknown table [place] (did you mean "places"?)' in said
    assert "places[0]: name is missing" in said
    assert "latitude_deg = 91 should be less than or equal to 90; such as latitude_deg = 46.21" in said
    assert 'longitude_deg = "7 W" should be a number' in said
    assert "radius_km = 0 should be greater than 0" in said
    assert "unknown key 'radius_m' (did you mean \"radius_km\"?)" in said
    assert "beginning with [[places]]" in refusal("[places]\nname = 'x'")


def test_every_problem_comes_at_once() -> None:
    message = refusal("""
[keeps]
[archives]
main = 5
[keep]
rule = "ratings"
rating_at_least = 9
[tolerance]
blur_um = 10
blur_px = 2
[trips]
gap_hour = 36
[[trips.named]]
name = "Harbour week"
from = 2026-05-04
to = 2026-05-01
[[clocks]]
body = "one"
from = 2026-05-04
to = 2026-05-01
add_minutes = 5
""")
    for part in (
        'unknown table [keeps] (did you mean "keep"?)',
        "[archives]: main = 5",
        '[keep]: rule = "ratings"',
        "[keep]: rating_at_least = 9",
        "blur_um and blur_px are both given",
        "unknown key 'gap_hour' (did you mean \"gap_hours\"?)",
        "trips.named[0]: to = 2026-05-01 is before from = 2026-05-04",
        "clocks[0]: to = 2026-05-01 00:00:00 is before from",
    ):
        assert part in message


@pytest.mark.parametrize("text", ["archives = 1", "trips = 1", "clocks = 1", "[trips]\nnamed = 1", "keep = 1"])
def test_a_table_of_the_wrong_form_is_refused(text: str) -> None:
    assert "should " in refusal(text)


def test_archives_are_taken_from_where_the_file_lies(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text('[archives]\nmain = "photos"\n')
    assert load_settings(tmp_path / "settings.toml").archives == {"main": str(tmp_path / "photos")}


def workspace(folder: Path, kit: str = KIT_TEXT, settings: str = "") -> Path:
    (folder / "kit.toml").write_text(kit)
    (folder / "settings.toml").write_text(settings)
    return folder


def test_a_folder_without_a_kit_is_no_workspace(tmp_path: Path) -> None:
    with pytest.raises(WorkspaceError, match="steadykeep init"):
        open_workspace(tmp_path)


def test_problems_of_two_files_come_in_one_message(tmp_path: Path) -> None:
    with pytest.raises(WorkspaceError) as refused:
        open_workspace(workspace(tmp_path, KIT_TEXT.replace("factor = 0.71", "factor = -1"), "[kep]"))
    assert "m42-reducer" in str(refused.value)
    assert "[kep]" in str(refused.value)


def test_a_clock_of_no_body_is_refused(tmp_path: Path) -> None:
    clock = '[[clocks]]\nbody = "three"\nfrom = 2026-05-01\nto = 2026-05-02\nadd_minutes = 1'
    with pytest.raises(WorkspaceError, match='body "three" is not in the kit'):
        open_workspace(workspace(tmp_path, settings=clock))


def test_log_and_settings_may_be_absent(tmp_path: Path) -> None:
    (tmp_path / "kit.toml").write_text(KIT_TEXT)
    opened = open_workspace(tmp_path)
    assert opened.log.rows == ()
    assert opened.store == tmp_path / "store"
    assert opened.archives == {}


def test_an_archive_behind_a_url_is_for_the_index_alone(tmp_path: Path) -> None:
    opened = open_workspace(workspace(tmp_path, settings='[archives]\nnear = "photos"\nfar = "memory://photos"'))
    assert opened.archives == {"near": tmp_path / "photos"}
    assert opened.archive_places == {"near": str(tmp_path / "photos"), "far": "memory://photos"}
