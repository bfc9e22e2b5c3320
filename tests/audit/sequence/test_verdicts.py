"""The verdict on a setting is that of all courses together, and the answered pairing goes with it."""

from __future__ import annotations

import dataclasses
from functools import cache

import numpy as np
import pandas as pd
import pytest

from auditor.audit.evidence import add_evidence
from auditor.audit.sequence.pairings import CAUSE_COLUMNS, pair_frames
from auditor.audit.sequence.states import states_of
from auditor.audit.sequence.typed import Token, typed_values
from auditor.audit.trips import add_trip
from auditor.errors import SettingsError
from auditor.model.kit import Adapter, Body, Lens
from auditor.model.pairings import Pairing
from auditor.model.settings import Habits as ModelHabits
from auditor.model.settings import Settings, parse_settings
from tests.benchmarks.pairing.kits import make_kit
from tests.benchmarks.pairing.photographer import Habits, make_world


@cache
def found(wrong_from: float) -> pd.DataFrame:
    habits = dataclasses.replace(Habits(), forgets=0.25)
    world = make_world(21, make_kit(np.random.default_rng(21)), coverage=0.5, habits=habits, trips=2, frames=1500)
    settings = parse_settings(f"[tolerance]\nwrong_from = {wrong_from}\n")
    evidence = add_trip(add_evidence(world.frames, world.kit, world.log, settings), settings.trips)
    return pair_frames(evidence, world.kit, world.log, settings).frames


def test_a_setting_is_called_wrong_where_the_chance_of_it_is_at_least_one_half() -> None:
    frames = found(0.5)
    chance = frames[list(CAUSE_COLUMNS.values())].sum(axis=1)
    called = frames["likely_cause"].notna()
    assert called.equals(chance >= 0.5)
    assert 0 < called.mean() < 0.5


@pytest.mark.parametrize("wrong_from", [0.3, 0.8])
def test_where_it_is_called_wrong_is_the_photographers_to_say(wrong_from: float) -> None:
    frames = found(wrong_from)
    chance = frames[list(CAUSE_COLUMNS.values())].sum(axis=1)
    # Only where no pairing by itself speaks for the verdict does the answer stay what it was.
    assert (frames["likely_cause"].notna() == (chance >= wrong_from)).mean() > 0.99
    usual = found(0.5)["likely_cause"].notna().sum()
    assert (frames["likely_cause"].notna().sum() > usual) == (wrong_from < 0.5)


def test_a_chance_that_is_none_is_refused() -> None:
    assert Settings().tolerance.wrong_from == 0.5
    with pytest.raises(SettingsError, match="wrong_from"):
        parse_settings("[tolerance]\nwrong_from = 1.0\n")


def test_the_equivalent_of_a_value_that_was_right_close_up_is_an_equivalent() -> None:
    body = Body(
        id="one", name="S", exif_model="S", sensor_mm=(17.4, 13.0), mount="MFT", flange_mm=19.25, stabiliser_stops=5.0
    )
    lens = Lens(id="orla-50", name="Orla", focal_mm=(50.0, 50.0), mount="M42", close_focus_m=0.45)
    plain = Adapter(id="m42", name="M42", lens_mount="M42", body_mount="MFT")
    states = states_of(body, [Pairing(body, lens, (plain,))])
    # 50 mm at 1:10 needs 55 mm; times the diagonals' ratio 43.27 / 21.72 that is 110 mm.
    tokens = [Token(110.0), Token(180.0)]
    chance = typed_values(tokens, states, ModelHabits(), 0.1).by_cause[:, :, 0]
    causes = ("right", "adapter-factor-left-out", "equivalent-entered", "long-end-of-zoom", "digit-slip", "unexplained")
    assert causes[int(chance[:, 0].argmax())] == "equivalent-entered"
    assert causes[int(chance[:, 1].argmax())] == "unexplained"
