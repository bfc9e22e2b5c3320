"""The model's tables: states, typed values, notes, odds and links, each by a case known by hand or an order."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from auditor.audit.sequence.assemble import change_odds
from auditor.audit.sequence.clues import clue_chances
from auditor.audit.sequence.links import ratio_likelihood
from auditor.audit.sequence.notes import note_density, notes_of
from auditor.audit.sequence.states import States, states_of
from auditor.audit.sequence.timeline import Clue
from auditor.audit.sequence.typed import TYPED_CAUSES, Token, typed_values
from auditor.model.kit import Kit, parse_kit
from auditor.model.log import LogRow
from auditor.model.pairings import kit_pairings
from auditor.model.settings import Habits
from tests.kits import KIT_TEXT, small_kit


def states(kit: Kit | None = None) -> States:
    kit = kit or small_kit()
    return states_of(kit.body("one"), kit_pairings(kit))


def place(of: States, lens: str, adapter: str = "m42-plain", position: float | None = None) -> int:
    for number, state in enumerate(of.entries):
        wanted = state.pairing and (state.pairing.lens.id, state.pairing.adapter_id) == (lens, adapter)
        if wanted and (position is None or abs(state.position_mm - position) < 0.1):
            return number
    raise AssertionError(lens)


def likeliest(typed_mm: float, lens: str, adapter: str = "m42-plain", position: float | None = None) -> str:
    of = states()
    table = typed_values([Token(typed_mm)], of, Habits(), 0.1)
    return TYPED_CAUSES[int(table.by_cause[:, 0, place(of, lens, adapter, position)].argmax())]


@pytest.mark.parametrize(
    ("typed_mm", "lens", "adapter", "cause"),
    [
        (50.0, "orla-50", "m42-plain", "right"),
        (35.0, "orla-50", "m42-reducer", "right"),  # 35.5
        (36.0, "orla-50", "m42-reducer", "right"),
        (50.0, "orla-50", "m42-reducer", "adapter-factor-left-out"),
        (100.0, "orla-50", "m42-plain", "equivalent-entered"),  # crop 1.992
        (58.0, "hale-85", "m42-plain", "digit-slip"),
        (31.0, "hale-85", "m42-plain", "unexplained"),
    ],
)
def test_each_way_of_typing_is_told_by_its_value(typed_mm: float, lens: str, adapter: str, cause: str) -> None:
    assert likeliest(typed_mm, lens, adapter) == cause


def test_for_a_lens_that_the_kit_does_not_name_what_lenses_are_sold_with_is_typed() -> None:
    of = states()
    typed = typed_values([Token(mm) for mm in (105.0, 113.0, 75.0, 79.0)], of, Habits(), 0.1)
    stranger = typed.chance[:, -1]
    assert stranger[0] > 5 * stranger[1]
    assert stranger[2] > 2 * stranger[3]  # 79 is near 110 mm on the reducer
    assert of.factors == (0.71, 1.0)
    assert states_of(of.body, []).factors == (1.0,)


def test_a_lens_that_the_kit_does_not_name_shows_no_less_than_one_of_it() -> None:
    of = states()
    plain, contacts = Clue(None, False, -1, None), Clue("vesper-25", True, -1, None)
    table = clue_chances((plain, contacts), of)
    assert table[0, -1] == table[0, place(of, "hale-85")] == 1
    assert table[1, -1] < 1e-3 < table[1, place(of, "vesper-25", "")]


def test_the_long_end_is_a_mistake_only_where_the_zoom_stood_elsewhere() -> None:
    assert likeliest(70.0, "pell-35-70", position=35.0) == "long-end-of-zoom"
    assert likeliest(70.0, "pell-35-70", position=70.0) == "right"


def test_a_menu_takes_the_nearest_value_and_nothing_between() -> None:
    kit = parse_kit(KIT_TEXT.replace("flange_mm = 19.25", "setting_values_mm = [28, 40, 50]"))
    of = states(kit)
    table = typed_values([Token(40.0), Token(36.0)], of, Habits(), 0.1).by_cause[
        0, :, place(of, "orla-50", "m42-reducer")
    ]
    assert table[0] > table[1]


def test_a_sensor_that_is_not_known_makes_no_equivalent() -> None:
    of = states(parse_kit(KIT_TEXT.replace("sensor_mm = [17.4, 13.0]\n", "")))
    table = typed_values([Token(100.0)], of, Habits(), 0.1)
    assert table.by_cause[TYPED_CAUSES.index("equivalent-entered"), 0, place(of, "orla-50")] == 0


def test_a_name_in_the_list_speaks_for_its_lens() -> None:
    of = states()
    table = typed_values([Token(float("nan"), "orla-50")], of, Habits(), 0.1)
    assert table.chance[0, place(of, "orla-50")] > 10 * table.chance[0, place(of, "hale-85")]


def test_popularity_is_shared_among_positions_and_added_up_again() -> None:
    of = states()
    share = np.arange(1.0, len(of.pairings) + 1)
    share /= share.sum()
    assert of.popularity(share).sum() == pytest.approx(1)
    assert of.totals(of.popularity(share)) == pytest.approx(share)


def test_note_density_is_a_density_and_highest_within_the_pause() -> None:
    at = np.arange(-40_000.0, 40_000.0, 1.0)
    density = note_density(at, np.array(0.0), np.array(120.0), Habits())
    assert density.sum() == pytest.approx(1, abs=2e-3)
    assert 0 <= at[density.argmax()] <= 120


def test_a_note_far_too_late_is_likelier_than_one_far_too_early() -> None:
    early, late = note_density(np.array([-900.0, 1020.0]), np.array(0.0), np.array(120.0), Habits())
    assert late > 10 * early


def test_longer_pauses_are_likelier_to_hold_a_change() -> None:
    odds = change_odds(np.array([1.0, 20.0, 60.0, 600.0, 36_000.0]), Habits())
    assert (np.diff(odds) > 0).all()
    assert odds[0] < 1e-8
    assert odds[-1] < 0.7


def test_a_row_speaks_for_what_it_names_and_one_without_a_lens_for_nothing() -> None:
    of = states()
    when = dt.datetime(2026, 5, 2, 10)
    rows = [
        LogRow(2, when, "one", lens="orla-50", adapter="m42-plain"),
        LogRow(3, when, "one", lens="orla-50"),
        LogRow(4, when, "one", subject="walking"),
        LogRow(5, when, "one", lens="pell-35-70", adapter="m42-plain", focal_mm=70.0),
        LogRow(6, when, "two", lens="orla-50"),
        LogRow(7, when, "one", support="tripod", focal_mm=70.0),  # noted for the tripod: no sign of a change
    ]
    notes = notes_of(rows, of, Habits())
    plain, reduced, hale = place(of, "orla-50"), place(of, "orla-50", "m42-reducer"), place(of, "hale-85")
    full, open_adapter, silent, zoom = notes.match[notes.kind]
    assert len(notes.kind) == 4
    assert full[plain] > 50 * full[reduced] > 50 * full[hale] * 0.1
    assert open_adapter[plain] == open_adapter[reduced] > 50 * open_adapter[hale]
    assert np.ptp(silent) == 0
    assert zoom[place(of, "pell-35-70", position=70.0)] > 10 * zoom[place(of, "pell-35-70", position=35.0)]
    assert (notes.match[-1] == 0).all()


def test_a_measured_ratio_speaks_for_the_pair_that_has_it() -> None:
    of = states()
    link = ratio_likelihood(of, 50 / 85, (0.57, 0.61))
    hale, orla = place(of, "hale-85"), place(of, "orla-50")
    assert link[hale, orla] > 20 * link[hale, hale]
    assert link[hale, orla] > 20 * link[orla, hale]
    # A lens that is not in the kit may have any focal length; kept on, it has the same before and after.
    stranger = len(of.entries) - 1
    assert np.ptp(link[stranger, :stranger]) == 0
    assert link[stranger, stranger] == link[hale, hale]


def test_what_a_frame_shows_by_itself() -> None:
    of = states()
    clues = (
        Clue("vesper-25", True, -1, None),
        Clue(None, True, -1, None),
        Clue(None, False, -1, None),
        Clue(None, False, int(of.group[place(of, "hale-85")]), None),
    )
    named, aperture, silent, told = clue_chances(clues, of)
    vesper, orla, hale = place(of, "vesper-25", ""), place(of, "orla-50"), place(of, "hale-85")
    assert named[vesper] > 1000 * named[orla]
    assert aperture[vesper] > aperture[orla]
    assert silent[orla] > 1000 * silent[vesper]
    assert told[hale] > 1e9 * told[orla]
