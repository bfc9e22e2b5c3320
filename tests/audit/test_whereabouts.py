"""Where frames lie: distances held to published ones, places gathered as a photographer would."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.audit.whereabouts import distance_km, whereabouts_of
from auditor.model.settings import NamedPlace
from auditor.model.whereabouts import Whereabouts, sentence

HARBOUR = NamedPlace(name="Old harbour", latitude_deg=46.21, longitude_deg=-11.62, radius_km=2.0)


# The README of the library haversine 2.3.1: Lyon to Paris and to New York, on a sphere of 6371.0088 km.
@pytest.mark.published
@pytest.mark.parametrize(
    ("other", "published_km"), [((48.8567, 2.3508), 392.21725956), ((40.7033962, -74.2351462), 6163.43638211)]
)
def test_distances_that_another_library_prints(other: tuple[float, float], published_km: float) -> None:
    assert float(distance_km(45.7597, 4.8422, *other)) == pytest.approx(published_km, rel=2e-6)


def test_distances_known_by_hand() -> None:
    quarter = np.pi / 2 * 6371.0
    assert float(distance_km(0, 0, 90, 123)) == pytest.approx(quarter)
    assert float(distance_km(0, 0, 0, 180)) == pytest.approx(2 * quarter)
    assert float(distance_km(12.5, 7.0, 12.5, 7.0)) == 0
    assert float(distance_km(60, 10, 60, 11)) == pytest.approx(quarter / 90 / 2, rel=1e-4), "cos 60° is a half"


def found(places: list[tuple[float, float]], *named: NamedPlace) -> list[tuple[str, int, int]]:
    north, east = np.array(places).T
    group = np.zeros(len(places), dtype=np.int64)
    told = whereabouts_of(group, north, east, named)
    return [(place.called, place.frames, place.within_km) for place in told.get(0, ())]


def test_frames_near_each_other_are_one_place_and_far_ones_another() -> None:
    places = [(46.21, -11.62)] * 3 + [(46.25, -11.62)] * 2 + [(46.5, -11.62)]
    assert found(places) == [("46.21° N 11.62° W", 5, 5), ("46.50° N 11.62° W", 1, 0)]


def test_across_the_date_line_is_near() -> None:
    assert found([(0.5, 179.99), (0.5, 179.99), (0.5, -179.98)]) == [("0.50° N 179.99° E", 3, 4)]


def test_the_photographers_names_come_first_and_the_nearest_wins() -> None:
    inner = HARBOUR.model_copy(update={"name": "Quay", "latitude_deg": 46.22, "radius_km": 0.5})
    again = HARBOUR.model_copy(update={"latitude_deg": 47.0})
    places = [(46.21, -11.62), (46.2, -11.62), (46.22, -11.62), (47.0, -11.62), (46.3, -11.62)]
    assert found(places, HARBOUR, inner, again) == [
        ("Old harbour", 3, 88),
        ("46.30° N 11.62° W", 1, 0),
        ("Quay", 1, 0),
    ]


def test_a_place_counts_what_rounding_may_have_moved_out_of_it() -> None:
    # 2.67 km away when rounded, 2 km and less before: 46.2249 would be 1.66 km, 46.2251 is written as 46.23, 2.2 km.
    assert found([(46.23, -11.62)], HARBOUR) == [("Old harbour", 1, 3)]
    assert found([(46.24, -11.62)], HARBOUR) == [("46.24° N 11.62° W", 1, 0)]


def test_groups_are_kept_apart_and_frames_without_place_or_group_left_out() -> None:
    nan = float("nan")
    group = np.array([0, 0, 2, 2, -1, 2])
    north, east = np.array([1.0, nan, -33.86, 1.0, 5.0, -33.86]), np.array([1.0, 2.0, 151.2, nan, 5.0, 151.2])
    told = whereabouts_of(group, north, east)
    assert {key: [(place.called, place.frames) for place in places] for key, places in told.items()} == {
        0: [("1.00° N 1.00° E", 1)],
        2: [("33.86° S 151.20° E", 2)],
    }
    assert whereabouts_of(np.zeros(2, dtype=np.int64), np.full(2, nan), np.full(2, nan), [HARBOUR]) == {}
    assert whereabouts_of(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0)) == {}


def test_every_corner_of_the_world_comes_back_as_it_was() -> None:
    for north in (-90.0, -0.01, 0.0, 90.0):
        for east in (-179.99, -0.01, 0.0, 180.0):
            [place] = whereabouts_of(np.array([7]), np.array([north]), np.array([east]))[7]
            assert (place.latitude_deg, place.longitude_deg) == (north, east)


def test_many_places_are_told_shortly() -> None:
    places = [Whereabouts("", float(number), 0.0, number, 10 - number) for number in range(1, 8)]
    told = sentence(places)
    assert told.startswith("1.00° N 0.00° E (9 frames, within 1 km); ")
    assert told.endswith("; 2 more places (7 frames)")
    assert sentence(places[:6]).endswith("; 1 more place (4 frames)")
    assert sentence([Whereabouts("Quay", 1.0, 0.0, 3, 1)], 1) == "Quay (1 frame); not recorded for 1 frame"


def test_a_long_journey_takes_no_time() -> None:
    rng = np.random.default_rng(3)
    frames = 200_000
    north, east = rng.uniform(40, 50, frames).round(2), rng.uniform(-20, -10, frames).round(2)
    told = whereabouts_of(np.arange(frames) % 50, north, east, [HARBOUR])
    assert sum(place.frames for places in told.values() for place in places) == frames
