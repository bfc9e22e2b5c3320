"""A setting test of one pairing: plan, reading, words."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from auditor.audit.calibration_series import plan_series, plan_table, read_series, result_words
from auditor.errors import InputError
from auditor.model.kit import parse_kit
from auditor.model.pairings import Pairing, kit_pairings, pairing_of
from auditor.model.settings import Settings
from tests.kits import KIT_TEXT


def _pairing(lens: str = "orla-50", adapter: str = "m42-reducer", text: str = KIT_TEXT) -> Pairing:
    return pairing_of(parse_kit(text), "one", lens, adapter)


def _plan(**given):
    return plan_series(_pairing(**given), 3.0, Settings())


def _taken(plan, best_mm: float, *, stops: float = 4.0, exponent: float = 0.8) -> pd.DataFrame:
    """Fill the plan in with widths that scatter by 5 %, from invented blur of 50 px without the stabiliser."""
    table = plan_table(plan)
    on = table["setting_mm"].notna()
    left = np.hypot(1 - table["setting_mm"].fillna(0) / best_mm, 2.0 ** (-exponent * stops)).where(on, 1.0)
    time = (table["exposure_time_s"] / plan.exposure_time_s) ** exponent
    scatter = np.exp(np.random.default_rng(3).normal(0, 0.05, len(table)))
    return table.assign(edge_width_px=50.0 * left * time * scatter)


def test_plan_is_around_what_the_kit_lets_expect():
    # Thin lens: 50 mm at 3 m is 50.86 mm; × 0.71 = 36.11.
    plan = _plan()
    assert plan.predicted_mm == pytest.approx(36.11, abs=0.01)
    assert plan.name == "orla-50+m42-reducer@one"
    assert len(plan.frames) == 72
    assert plan_table(plan)["setting_mm"].isna().sum() == 6
    assert 1 / 10 < plan.exposure_time_s <= 1.0


def test_reading_finds_the_lens_or_the_body():
    plan = _plan()
    result = read_series(plan, _taken(plan, 38.0), Settings())
    assert result.reading.told
    assert result.reading.best_mm == pytest.approx(38.0, rel=0.02)
    assert result.lens_setting_mm == pytest.approx(38.0 / 0.71, rel=0.02)
    assert result.gain == pytest.approx(36.11 / 38.0, rel=0.02)
    # Frames with the stabiliser off give the stops: 4 were put in.
    assert result.stops_at_least == pytest.approx(4.0, abs=0.4)
    said = " ".join(result_words(result))
    assert "second lens" in said
    assert "or more" in said


def test_without_off_frames_the_floor_gives_the_stops():
    plan = _plan()
    taken = _taken(plan, 38.0).dropna(subset="setting_mm")
    assert read_series(plan, taken, Settings()).stops_at_least == pytest.approx(4.0, abs=0.6)
    no_times = taken.drop(columns="exposure_time_s")
    assert read_series(plan, no_times, Settings()).reading.best_mm == pytest.approx(38.0, rel=0.02)


def test_ratings_tell_the_setting_but_not_the_stops():
    plan = _plan()
    taken = _taken(plan, 35.0)
    rated = taken.assign(rating=np.clip(np.round(6 - np.log2(taken["edge_width_px"])), 0, 5)).drop(
        columns="edge_width_px"
    )
    result = read_series(plan, rated, Settings())
    assert result.reading.best_mm == pytest.approx(35.0, rel=0.03)
    assert np.isnan(result.stops_at_least)
    assert "not how many stops" in " ".join(result_words(result))


def test_what_is_not_told_is_said():
    plan = _plan()
    noise = _taken(plan, 38.0).assign(edge_width_px=np.random.default_rng(1).rayleigh(10, 72))
    result = read_series(plan, noise, Settings())
    assert not result.reading.told
    assert "Not told" in result_words(result)[-1]


@pytest.mark.parametrize(
    "frames",
    [
        pd.DataFrame(),
        pd.DataFrame({"setting_mm": [50.0] * 10}),
        pd.DataFrame({"setting_mm": [50.0] * 10, "rating": [1.0] * 10}),
        pd.DataFrame({"rating": [1.0] * 10}),
    ],
)
def test_unreadable_tests_are_refused(frames):
    with pytest.raises(InputError, match="cannot be read"):
        read_series(_plan(), frames, Settings())


def test_nothing_to_test_is_refused():
    with pytest.raises(InputError, match="nothing to type"):
        plan_series(next(p for p in kit_pairings(parse_kit(KIT_TEXT)) if p.contacts), 3.0, Settings())
    with pytest.raises(InputError, match="no stabiliser"):
        _plan(text=KIT_TEXT.replace("stabiliser_stops = 5.0", "stabiliser_stops = 0.0", 1))
    with pytest.raises(InputError, match="nearer than the lens"):
        plan_series(_pairing(), 0.15, Settings())
    with pytest.raises(InputError, match="sensor_mm"):
        _plan(text=KIT_TEXT.replace("sensor_mm = [17.4, 13.0]\n", ""))
