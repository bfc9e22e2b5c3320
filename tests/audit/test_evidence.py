from __future__ import annotations

import numpy as np
import pytest

from auditor.audit.evidence import add_evidence
from auditor.audit.trips import add_trip
from auditor.model.log import parse_log
from auditor.model.settings import Settings, Trips, parse_settings
from tests.kits import small_kit, some_frames

KIT = small_kit()


def evidence(rows: list[dict[str, object]], log: str = "", settings: Settings | None = None):  # type: ignore[no-untyped-def]
    return add_evidence(some_frames(rows), KIT, parse_log(log, KIT).rows, settings or Settings())


def test_a_body_is_matched_by_model_whatever_the_case_and_narrowed_by_make() -> None:
    found = evidence(
        [
            {"model": "SILVERLINE 2"},
            {"model": "Silverline 20"},
            {"model": "Nightline 1", "make": "nightline"},
            {"model": "Nightline 1", "make": "Other"},
            {"model": None},
        ]
    )
    assert found["body"].fillna("-").tolist() == ["one", "-", "two", "-", "-"]


def test_a_serial_number_tells_two_bodies_of_one_model_apart() -> None:
    bodies = tuple(KIT.bodies[0].model_copy(update={"id": i, "serial": s}) for i, s in (("a", "01"), ("b", "02")))
    frames = some_frames([{"body_serial_number": "02"}, {"body_serial_number": "01"}, {}])
    found = add_evidence(frames, KIT.model_copy(update={"bodies": bodies}), (), Settings())
    assert found["body"].fillna("-").tolist() == ["b", "a", "-"]


def test_names_are_matched_and_an_aperture_means_contacts() -> None:
    found = evidence(
        [
            {"lens_model": "Vesper 25mm f1.8", "f_number": 2.8},
            {"lens_model": "orla50 "},
            {"lens_model": "Somebody's 12-40", "f_number": 4.0},
            {},
        ]
    )
    assert found["contact_lens"].fillna("-").tolist() == ["vesper-25", "-", "-", "-"]
    assert found["listed_lens"].fillna("-").tolist() == ["-", "orla-50", "-", "-"]
    assert found["has_contacts"].tolist() == [True, False, True, False]


def test_a_name_that_two_lenses_share_names_neither() -> None:
    lenses = tuple(lens.model_copy(update={"exif_names": ("MF",)}) for lens in KIT.lenses[:2])
    found = add_evidence(some_frames([{"lens_model": "MF"}]), KIT.model_copy(update={"lenses": lenses}), (), Settings())
    assert found["listed_lens"].isna().all()


def test_the_typed_value_is_taken_from_where_the_body_keeps_it() -> None:
    found = evidence(
        [
            {"focal_length_mm": 50.0},
            {"focal_length_mm": 25.0, "lens_model": "VESPER 25mm F1.8", "f_number": 2.0},
            {"model": "Nightline 1", "make": "Nightline", "lens_model": "HALE85", "focal_length_mm": 1.0},
            {"model": "Nightline 1", "make": "Nightline", "lens_model": "two 35 and 70"},
            {"model": "Nightline 1", "make": "Nightline"},
        ]
    )
    assert found["recorded_setting_mm"].tolist() == pytest.approx([50.0, np.nan, 85.0, np.nan, np.nan], nan_ok=True)


def test_a_body_that_records_nothing_has_no_recorded_setting() -> None:
    bodies = (KIT.bodies[0].model_copy(update={"setting_recorded_in": "none"}),)
    frames = some_frames([{"focal_length_mm": 50.0}])
    found = add_evidence(frames, KIT.model_copy(update={"bodies": bodies}), (), Settings())
    assert found["recorded_setting_mm"].isna().all()


LOG = """start,end,body,lens,adapter,support,stabiliser,focus_distance_m
2026-05-02 10:00,,one,orla-50,m42-plain,hand,on,
2026-05-02 12:00,2026-05-02 12:30,one,hale-85,m42-plain,tripod,off,2.5
2026-05-02 23:30,,one,orla-50,m42-reducer,,,
"""


@pytest.mark.parametrize(
    ("at", "row"),
    [
        ("2026-05-02 09:59:59", -1),
        ("2026-05-02 10:00:00", 0),
        ("2026-05-02 11:59:59", 0),
        ("2026-05-02 12:00:00", 1),
        ("2026-05-02 12:30:59", 1),  # a time noted to the minute means the whole minute
        ("2026-05-02 12:31:00", -1),  # after its end a row does not hold, nor the one before it again
        ("2026-05-03 03:59:00", 2),  # the shooting day goes on after midnight
        ("2026-05-03 04:01:00", -1),
        (None, -1),
    ],
)
def test_a_row_holds_until_its_end_the_next_row_or_the_end_of_the_day(at: str | None, row: int) -> None:
    assert evidence([{"captured_at": at}], LOG)["log_row"].tolist() == [row]


def test_a_row_of_one_body_says_nothing_of_another() -> None:
    frame = {"captured_at": "2026-05-02 10:30", "model": "Nightline 1", "make": "Nightline"}
    assert evidence([frame], LOG)["log_row"].tolist() == [-1]


def test_the_log_s_distance_outranks_exif_s() -> None:
    rows = [
        {"captured_at": "2026-05-02 12:10", "subject_distance_m": 9.0},
        {"captured_at": "2026-05-02 10:10", "subject_distance_m": 9.0},
    ]
    found = evidence(rows, LOG)
    assert found["focus_distance_m"].tolist() == [2.5, 9.0]
    assert found["support"].tolist() == ["tripod", "hand"]
    assert found["stabiliser_on"].tolist() == [False, True]


def test_a_clock_is_put_right_before_the_log_is_asked() -> None:
    settings = parse_settings(
        '[[clocks]]\nbody = "one"\nfrom = 2026-05-02T08:00:00\nto = 2026-05-02T09:10:00\nadd_minutes = 60'
    )
    rows = [{"captured_at": "2026-05-02 09:10"}, {"captured_at": "2026-05-02 09:11"}]
    assert evidence(rows, LOG, settings)["log_row"].tolist() == [0, -1]


def test_no_frames_and_no_log_are_no_error() -> None:
    assert len(evidence([])) == 0
    assert evidence([{"captured_at": "2026-05-02 10:00"}])["log_row"].tolist() == [-1]


def test_trips_are_split_by_pauses_and_named_by_days() -> None:
    found = evidence([{"captured_at": at} for at in ("2026-05-01 20:00", "2026-05-03 07:59", "2026-05-09 10:00", None)])
    assert add_trip(found, Trips(gap_hours=36))["trip"].fillna("-").tolist() == [
        "2026-05-01",
        "2026-05-01",
        "2026-05-09",
        "-",
    ]
    named = parse_settings('[[trips.named]]\nname = "Isles"\nfrom = 2026-05-03\nto = 2026-05-03').trips
    assert add_trip(found, named)["trip"].fillna("-").tolist() == ["2026-05-01", "Isles", "2026-05-09", "-"]


def test_trips_do_not_depend_on_the_order_of_frames() -> None:
    found = evidence([{"captured_at": at} for at in ("2026-05-09 10:00", "2026-05-01 20:00")])
    assert add_trip(found, Trips())["trip"].tolist() == ["2026-05-09", "2026-05-01"]
