"""What a photographer would expect of the answer, on archives small enough to reason out."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from auditor.audit.sequence.pairings import CAUSE_COLUMNS, habit_lines
from auditor.model.answers import Answer
from auditor.model.kit import parse_kit
from auditor.model.settings import Habits
from tests.audit.sequence.archives import paired, said, shots
from tests.kits import KIT_TEXT, small_kit

HALE = "hale-85|m42-plain"
ORLA = "orla-50|m42-plain"


def test_thirty_frames_with_a_forgotten_setting_do_not_outvote_one_log_row() -> None:
    rows = shots("2026-05-02 10:00", 20, 85.0) + shots("2026-05-02 10:09", 30, 85.0)
    log = "2026-05-02 09:59,,one,hale-85,m42-plain,,\n2026-05-02 10:08,,one,orla-50,m42-plain,,\n"
    found = paired(rows, log)
    assert said(found) == [HALE] * 20 + [ORLA] * 30
    assert found.frames["likely_cause"].tolist()[20:] == ["carried-over"] * 30
    wrong = found.frames[list(CAUSE_COLUMNS.values())].sum(axis=1)
    assert (wrong[:20] < 0.5).all()
    assert (wrong[20:] > 0.5).all()


def test_a_log_that_is_two_minutes_late_does_not_move_the_change() -> None:
    rows = shots("2026-05-02 10:00", 20, 85.0) + shots("2026-05-02 10:09", 30, 50.0)
    log = "2026-05-02 10:02,,one,hale-85,m42-plain,,\n2026-05-02 10:11,,one,orla-50,m42-plain,,\n"
    assert said(paired(rows, log)) == [HALE] * 20 + [ORLA] * 30


def test_a_change_that_was_not_noted_shows_in_the_typed_value() -> None:
    rows = (
        shots("2026-05-02 10:00", 20, 85.0) + shots("2026-05-02 10:09", 30, 50.0) + shots("2026-05-02 10:30", 9, 85.0)
    )
    log = "2026-05-02 09:59,,one,hale-85,m42-plain,,\n"
    assert said(paired(rows, log)) == [HALE] * 20 + [ORLA] * 30 + [HALE] * 9


def test_a_lens_is_not_changed_within_a_burst() -> None:
    # The row falls into a burst: the change belongs to the pause after it.
    rows = shots("2026-05-02 10:00", 10, 85.0) + shots("2026-05-02 10:04", 12, 85.0, every_s=0.5)
    rows += shots("2026-05-02 10:06", 12, 85.0)
    log = "2026-05-02 09:59,,one,hale-85,m42-plain,,\n2026-05-02 10:04:03,,one,orla-50,m42-plain,,\n"
    assert len(set(said(paired(rows, log))[10:22])) == 1


def test_a_row_for_another_subject_is_no_change() -> None:
    rows = shots("2026-05-02 10:00", 60, 85.0)
    log = "2026-05-02 09:59,,one,hale-85,m42-plain,,\n2026-05-02 10:08,,one,hale-85,m42-plain,,\n"
    found = paired(rows, log)
    assert said(found) == [HALE] * 60
    assert found.frames["pairing_confidence"].min() > 0.9


def test_a_setting_put_right_later_tells_when_the_lens_went_on() -> None:
    # Eight seconds before the value changes a burst is running: no lens was changed there, so it went on before.
    rows = shots("2026-05-02 10:00", 20, 85.0) + shots("2026-05-02 10:10", 10, 85.0, every_s=3)
    rows += shots("2026-05-02 10:10:31", 20, 50.0, every_s=3)
    assert said(paired(rows, "2026-05-02 09:59,,one,hale-85,m42-plain,,\n"))[-25:] == [ORLA] * 25


@pytest.mark.parametrize("sold_mm", [105.0, 180.0, 300.0])
def test_a_lens_that_the_kit_does_not_name_is_not_taken_for_one_of_it_set_wrong(sold_mm: float) -> None:
    rows = shots("2026-05-02 10:00", 20, 85.0) + shots("2026-05-02 10:10", 25, sold_mm)
    rows += shots("2026-05-02 10:25", 20, 85.0)
    found = paired(rows, "2026-05-02 09:59,,one,hale-85,m42-plain,,\n")
    assert said(found) == [HALE] * 20 + ["-"] * 25 + [HALE] * 20
    assert found.frames["likely_cause"].isna().all()


def test_a_forgotten_setting_is_still_a_forgotten_setting() -> None:
    # Nothing was typed: the value stands as it was, so it says nothing of a lens that the kit does not name.
    rows = shots("2026-05-02 10:00", 20, 85.0) + shots("2026-05-02 10:10", 25, 85.0)
    log = "2026-05-02 09:59,,one,hale-85,m42-plain,,\n2026-05-02 10:09,,one,orla-50,m42-plain,,\n"
    assert said(paired(rows, log)) == [HALE] * 20 + [ORLA] * 25


def test_a_frame_without_a_time_spoils_nothing_of_what_is_learnt() -> None:
    # A sequence of one frame lies beside longer ones in a batch; what pads it must not reach the sums over the batch.
    rows = [row for day in range(2, 6) for row in shots(f"2026-05-0{day} 10:00", 6 * day, 85.0)]
    rows += [row for day in range(2, 6) for row in shots(f"2026-05-0{day} 11:00", 3 * day, 50.0)]
    log = "2026-05-02 09:59,2026-05-02 10:50,one,hale-85,m42-plain,,\n2026-05-02 10:59,,one,orla-50,m42-plain,,\n"
    learning = "[trips]\ngap_hours = 10\n"
    timeless = [{"captured_at": None, "focal_length_mm": 85.0}]
    with_it, without = (paired(some, log, settings=learning) for some in (rows + timeless, rows))
    assert np.isfinite(list(with_it.habits.model_dump().values())).all()
    assert said(with_it)[: len(rows)] == said(without)
    assert "-" not in said(with_it)
    assert with_it.frames["pairing_confidence"].notna().all()


def test_a_lens_with_contacts_names_itself_and_the_old_value_outlives_it() -> None:
    rows = shots("2026-05-02 10:00", 10, 85.0)
    rows += shots("2026-05-02 10:10", 5, 25.0, lens_model="VESPER 25mm F1.8", f_number=4.0)
    rows += shots("2026-05-02 10:20", 10, 85.0)
    log = "2026-05-02 09:59,,one,hale-85,m42-plain,,\n2026-05-02 10:19,,one,orla-50,m42-plain,,\n"
    found = paired(rows, log)
    assert said(found) == [HALE] * 10 + ["vesper-25|"] * 5 + [ORLA] * 10
    assert found.frames["likely_cause"].tolist()[15:] == ["carried-over"] * 10
    assert found.frames["pairing_evidence"].tolist()[10] == "contacts"


def test_pairs_that_nothing_tells_apart_share_the_chance_and_say_so() -> None:
    twin = '[[lenses]]\nid = "cairn-50"\nname = "Cairn 50"\nfocal_mm = 50\nmount = "M42"\nclose_focus_m = 0.45\n'
    found = paired(shots("2026-05-02 10:00", 12, 50.0), kit=parse_kit(twin + KIT_TEXT)).frames
    assert (found["pairing_confidence"] < 0.55).all()
    assert found["pairing_confidence"].to_numpy() == pytest.approx(found["rival_confidence"].to_numpy(), rel=1e-6)
    assert found["pairing_evidence"].str.endswith("shared").all()
    assert {*found["lens"], *found["rival_lens"]} == {"cairn-50", "orla-50"}


def test_a_confirmed_answer_outranks_the_log_and_the_setting() -> None:
    rows = shots("2026-05-02 10:00", 20, 85.0)
    log = "2026-05-02 09:59,,one,hale-85,m42-plain,,\n"
    answer = Answer(dt.datetime(2026, 5, 2, 10), dt.datetime(2026, 5, 2, 11), "one", "orla-50", "m42-plain")
    found = paired(rows, log, answers=[answer])
    assert said(found) == [ORLA] * 20
    assert (found.frames["pairing_confidence"] > 0.999).all()
    assert found.frames["pairing_evidence"].str.contains("confirmed").all()


def test_an_answer_for_some_frames_of_a_burst_is_believed() -> None:
    rows = shots("2026-05-02 10:00", 20, 85.0, every_s=1)
    answer = Answer(dt.datetime(2026, 5, 2, 10, 0, 10), dt.datetime(2026, 5, 2, 11), "one", "orla-50", "m42-plain")
    assert said(paired(rows, answers=[answer]))[10:] == [ORLA] * 10


def test_an_answer_spreads_to_neighbouring_frames_of_the_same_stay() -> None:
    rows = shots("2026-05-02 10:00", 20, 60.0)
    middle = Answer(dt.datetime(2026, 5, 2, 10, 2), dt.datetime(2026, 5, 2, 10, 4), "one", "hale-85", "m42-reducer")
    before = paired(rows).frames["pairing_confidence"].mean()
    found = paired(rows, answers=[middle])
    assert said(found) == ["hale-85|m42-reducer"] * 20
    assert found.frames["pairing_confidence"].mean() > before


def test_a_measured_focal_ratio_finds_the_change_that_left_no_other_trace() -> None:
    rows = shots("2026-05-02 10:00", 10, 85.0) + shots("2026-05-02 10:10", 10, 85.0)
    log = "2026-05-02 09:59,,one,hale-85,m42-plain,,\n"
    overlaps = pd.DataFrame(
        {"archive": "main", "path_a": ["00009.jpg"], "path_b": ["00010.jpg"], "focal_ratio": [50 / 85],
         "focal_ratio_low": [0.57], "focal_ratio_high": [0.61], "overlap_verdict": "another", "problem": None}
    )  # fmt: skip
    assert said(paired(rows, log)) == [HALE] * 20
    found = paired(rows, log, overlaps=overlaps)
    assert said(found) == [HALE] * 10 + [ORLA] * 10
    assert "pixels" in found.frames["pairing_evidence"].tolist()[10]
    swapped = overlaps.rename(columns={"path_a": "path_b", "path_b": "path_a"}).assign(
        focal_ratio=85 / 50, focal_ratio_low=1 / 0.61, focal_ratio_high=1 / 0.57
    )
    assert said(paired(rows, log, overlaps=swapped)) == said(found)


def test_a_lens_not_owned_yet_is_not_named() -> None:
    kit = small_kit()
    lenses = tuple(
        lens.model_copy(update={"acquired": dt.date(2026, 6, 1)}) if lens.id == "orla-50" else lens
        for lens in kit.lenses
    )
    later = kit.model_copy(update={"lenses": lenses})
    early, late = shots("2026-05-02 10:00", 5, 50.0), shots("2026-07-02 10:00", 5, 50.0)
    found = said(paired([*early, *late], kit=later))
    assert "orla-50" not in "".join(found[:5])
    assert found[5:] == [ORLA] * 5


def test_frames_keep_their_place_whatever_is_missing() -> None:
    rows = [
        *shots("2026-05-02 10:00", 2, 85.0),
        {"path": "timeless.jpg", "focal_length_mm": 85.0},
        {"path": "strange.jpg", "captured_at": "2026-05-02 10:01", "model": "Unheard Of"},
        *shots("2026-05-02 09:00", 2, 85.0),
    ]
    for number, row in enumerate(rows):
        row["path"] = row.get("path", f"{number}.jpg")
    found = paired(rows, "2026-05-02 08:59,,one,hale-85,m42-plain,,\n").frames
    assert found["path"].tolist() == [row["path"] for row in rows]
    assert found["lens"].tolist()[:3] == ["hale-85"] * 3
    assert found["lens"].isna().tolist() == [False, False, False, True, False, False]
    assert found["pairing_confidence"].tolist()[3] == 0


def test_no_frames_at_all() -> None:
    found = paired([])
    assert len(found.frames) == 0
    assert found.changes == 0


def test_the_order_of_the_rows_makes_no_difference() -> None:
    rows = shots("2026-05-02 10:00", 20, 85.0) + shots("2026-05-02 10:09", 30, 85.0)
    for number, row in enumerate(rows):
        row["path"] = f"{number}.jpg"
    log = "2026-05-02 09:59,,one,hale-85,m42-plain,,\n2026-05-02 10:08,,one,orla-50,m42-plain,,\n"
    order = np.random.default_rng(3).permutation(len(rows))
    straight = paired(rows, log).frames
    mixed = paired([rows[place] for place in order], log).frames
    assert mixed["lens"].tolist() == straight["lens"].to_numpy()[order].tolist()
    assert mixed["pairing_confidence"].to_numpy() == pytest.approx(straight["pairing_confidence"].to_numpy()[order])


def test_the_hour_that_summer_time_repeats_does_not_split_a_trip() -> None:
    rows = shots("2026-10-24 20:00", 5, 85.0) + shots("2026-10-25 02:30", 5, 85.0) + shots("2026-10-25 02:10", 5, 85.0)
    found = paired(rows, "2026-10-24 19:59,,one,hale-85,m42-plain,,\n").frames
    assert set(found["trip"]) == {"2026-10-24"}


def test_habits_are_said_in_words() -> None:
    early = habit_lines(Habits(log_late_s=-30.0))
    assert early[-1] == "Its times are 30 s early, and off by 60 s on average."
