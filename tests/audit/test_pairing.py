from __future__ import annotations

import pytest

from auditor.audit.evidence import add_evidence
from auditor.audit.pairing import CONFIDENCE, infer_pairings
from auditor.model.kit import parse_kit
from auditor.model.log import parse_log
from auditor.model.settings import Settings
from tests.kits import KIT_TEXT, small_kit, some_frames

KIT = small_kit()
LOG = """start,body,lens,adapter
2026-05-02 10:00,one,orla-50,m42-reducer
2026-05-02 11:00,one,hale-85,
2026-05-02 12:00,one,,
"""


def inferred(row: dict[str, object], log: str = "", kit=KIT):  # type: ignore[no-untyped-def]
    rows = parse_log(log, kit).rows
    found = infer_pairings(add_evidence(some_frames([row]), kit, rows, Settings()), kit, rows, Settings())
    return found.astype(object).where(found.notna(), None).iloc[0]


def test_a_lens_with_contacts_names_itself_and_needs_no_setting() -> None:
    found = inferred({"lens_model": "VESPER 25mm F1.8", "f_number": 2.0, "focal_length_mm": 25.0})
    assert (found.lens, found.adapter, found.pairing_evidence) == ("vesper-25", "", "contacts")
    assert found.setting_mm is None


def test_a_foreign_lens_with_contacts_is_not_known() -> None:
    found = inferred({"lens_model": "Somebody's", "f_number": 2.0, "captured_at": "2026-05-02 10:30"}, LOG)
    assert (found.lens, found.pairing_confidence) == (None, 0.0)


def test_a_name_in_the_body_s_list_names_the_lens_and_shares_among_its_adapters() -> None:
    found = inferred({"lens_model": "ORLA50"})
    assert (found.lens, found.adapter) == ("orla-50", None)
    assert found.pairing_confidence == pytest.approx(CONFIDENCE["lens-name"] / 2)


def test_the_setting_settles_which_adapter() -> None:
    found = inferred({"lens_model": "ORLA50", "focal_length_mm": 36.0})
    assert (found.adapter, found.pairing_evidence) == ("m42-reducer", "lens-name+setting")


def test_the_log_is_believed_also_against_the_setting() -> None:
    found = inferred({"captured_at": "2026-05-02 10:30", "focal_length_mm": 200.0}, LOG)
    assert (found.lens, found.adapter, found.pairing_evidence) == ("orla-50", "m42-reducer", "log")
    agreed = inferred({"captured_at": "2026-05-02 10:30", "focal_length_mm": 36.0}, LOG)
    assert agreed.pairing_evidence == "log+setting"
    assert agreed.pairing_confidence > found.pairing_confidence


def test_an_adapter_that_was_not_noted_is_shared_unless_the_setting_tells() -> None:
    found = inferred({"captured_at": "2026-05-02 11:30"}, LOG)
    assert (found.lens, found.adapter) == ("hale-85", None)
    assert inferred({"captured_at": "2026-05-02 11:30", "focal_length_mm": 85.0}, LOG).adapter == "m42-plain"


def test_the_setting_alone_tells_when_exactly_one_pairing_fits() -> None:
    found = inferred({"focal_length_mm": 85.0})
    assert (found.lens, found.adapter, found.pairing_evidence) == ("hale-85", "m42-plain", "setting")


def test_pairings_that_the_setting_cannot_tell_apart_are_not_guessed() -> None:
    # 50 mm fits the Orla on the plain adapter and the zoom on either.
    found = inferred({"focal_length_mm": 50.0})
    assert (found.lens, found.pairing_confidence) == (None, 0.0)


def test_disagreement_is_marked_and_the_fresher_source_wins() -> None:
    found = inferred({"captured_at": "2026-05-02 10:30", "lens_model": "HALE85"}, LOG)
    assert found.sources_disagree
    assert (found.lens, found.pairing_evidence) == ("orla-50", "log")
    assert found.pairing_confidence < CONFIDENCE["log"]


def test_a_log_row_without_a_lens_says_nothing_of_the_lens() -> None:
    assert inferred({"captured_at": "2026-05-02 12:30"}, LOG).lens is None


def test_the_logged_setting_is_used_where_exif_has_none() -> None:
    log = "start,body,lens,adapter,setting_mm\n2026-05-02 10:00,one,orla-50,m42-plain,50\n"
    assert inferred({"captured_at": "2026-05-02 10:30"}, log).setting_mm == 50.0
    assert inferred({"captured_at": "2026-05-02 10:30", "focal_length_mm": 85.0}, log).setting_mm == 85.0


def test_a_lens_sold_before_the_day_cannot_have_made_the_frame() -> None:
    sold = KIT_TEXT.replace('exif_names = ["HALE85"]', "sold = 2026-01-01")
    kit = parse_kit(sold)
    assert inferred({"focal_length_mm": 85.0, "captured_at": "2026-05-02 10:00"}, kit=kit).lens is None
    assert inferred({"focal_length_mm": 85.0, "captured_at": "2025-05-02 10:00"}, kit=kit).lens == "hale-85"
    assert inferred({"focal_length_mm": 85.0, "captured_at": "2026-01-01 10:00"}, kit=kit).lens == "hale-85"
    assert inferred({"focal_length_mm": 85.0}, kit=kit).lens == "hale-85"


def test_a_frame_of_no_known_body_has_no_pairing() -> None:
    assert inferred({"model": "Else", "focal_length_mm": 85.0}).lens is None
