from __future__ import annotations

import numpy as np
import pytest

from auditor.audit.right_setting import CLOSEST_MAGNIFICATION, add_right_setting, right_setting_of
from auditor.model.kit import Kit, parse_kit
from auditor.model.pairings import kit_pairings, pairing_of
from tests.kits import KIT_TEXT, small_kit, some_frames

KIT = small_kit()
UNKNOWN = np.array([np.nan])


def right(kit: Kit, lens: str, adapter: str, distance_m: float = np.nan, position_mm: float = np.nan):  # type: ignore[no-untyped-def]
    return right_setting_of(pairing_of(kit, "one", lens, adapter), np.array([distance_m]), np.array([position_mm]))


@pytest.mark.published
def test_a_distance_counts_from_the_sensor_plane() -> None:
    # D. Jacobson, Photographic Lenses Tutorial (1995/96), thin lens: D = f(2 + m + 1/m); f = 50, D = 450 mm.
    found = right(KIT, "orla-50", "m42-plain", 0.45)
    assert found.best[0] == pytest.approx(57.29, abs=0.01)
    assert found.low[0] == found.high[0] == found.best[0]


@pytest.mark.published
def test_a_factor_multiplies_the_lens_s_own_magnification() -> None:
    # As above: the prime's own m, not the total (240 in place of 220 for 100 mm x 2 at m = 0.1).
    kit = parse_kit(KIT_TEXT.replace("focal_mm = 50", "focal_mm = 100").replace("factor = 0.71", "factor = 2"))
    distance_m = 100 * (2 + 0.1 + 10) / 1000
    assert right(kit, "orla-50", "m42-reducer", distance_m).best[0] == pytest.approx(220.0)


def test_a_noted_infinity_leaves_no_range() -> None:
    found = right(KIT, "orla-50", "m42-reducer", float("inf"))
    assert found.low[0] == found.high[0] == found.best[0] == pytest.approx(35.5)
    measured = right(KIT, "vesper-25", "", float("inf"))
    assert not np.isinf(measured.best[0])


def test_an_unknown_distance_is_infinity_with_a_range_to_close_focus() -> None:
    found = right(KIT, "orla-50", "m42-reducer")
    assert found.best[0] == pytest.approx(35.5)
    assert found.low[0] == pytest.approx(35.5)
    assert found.high[0] == pytest.approx(57.29 * 0.71, abs=0.01)
    assert np.isnan(found.magnification[0])


def test_a_close_focus_that_is_not_known_is_taken_from_practice() -> None:
    kit = parse_kit(KIT_TEXT.replace("close_focus_m = 0.45\n", ""))
    assert right(kit, "orla-50", "m42-plain").high[0] == pytest.approx(50 * (1 + CLOSEST_MAGNIFICATION))
    impossible = parse_kit(KIT_TEXT.replace("close_focus_m = 0.45", "close_focus_m = 0.1"))
    assert right(impossible, "orla-50", "m42-plain").high[0] == pytest.approx(50 * (1 + CLOSEST_MAGNIFICATION))


def test_a_distance_nearer_than_an_image_can_be_is_not_known() -> None:
    assert np.isnan(right(KIT, "orla-50", "m42-plain", 0.19).best[0])


def test_an_open_zoom_is_taken_at_its_short_end_with_a_range_to_the_long() -> None:
    found = right(KIT, "pell-35-70", "m42-plain")
    assert found.best[0] == 35.0
    assert found.low[0] == 35.0
    assert found.high[0] > 70.0
    noted = right(KIT, "pell-35-70", "m42-plain", np.inf, 50.0)
    assert (noted.low[0], noted.best[0], noted.high[0]) == (50.0, 50.0, 50.0)


def test_a_measured_focal_length_counts_more_than_the_engraved() -> None:
    kit = parse_kit(KIT_TEXT.replace("focal_mm = 50", "focal_mm = 50\nmeasured_focal_mm = 51.6"))
    assert right(kit, "orla-50", "m42-plain", np.inf).best[0] == pytest.approx(51.6)


def test_a_measured_table_outranks_the_formula() -> None:
    table = "measured_focal_mm = 51.6\nbreathing = [[0.45, 55.0], [1.0, 52.9]]"
    kit = parse_kit(KIT_TEXT.replace("focal_mm = 50", "focal_mm = 50\n" + table))
    assert right(kit, "orla-50", "m42-plain", 0.45).best[0] == 55.0
    assert right(kit, "orla-50", "m42-reducer", 1.0).best[0] == pytest.approx(52.9 * 0.71)
    # Nearer than its nearest row: that row is the best there is.
    assert right(kit, "orla-50", "m42-plain", 0.3).best[0] == 55.0
    unknown = right(kit, "orla-50", "m42-plain")
    assert (unknown.best[0], unknown.low[0], unknown.high[0]) == (51.6, 51.6, 55.0)


def test_a_lens_that_focuses_inside_keeps_its_range_open_on_both_sides() -> None:
    kit = parse_kit(KIT_TEXT.replace("close_focus_m = 0.45", 'close_focus_m = 0.45\nfocusing = "internal"'))
    found = right(kit, "orla-50", "m42-plain", 0.45)
    assert found.best[0] == 50.0
    assert found.low[0] == pytest.approx(50 / 1.1459, abs=0.01)
    assert found.high[0] == pytest.approx(57.29, abs=0.01)


def test_a_tube_adds_its_length_over_the_focal_length() -> None:
    # m = m_ring + e/f: 10 mm on 50 mm at infinity is 0.2, so v = 60 mm.
    assert right(KIT, "orla-50", "m42-tube-10+m42-plain", np.inf).best[0] == pytest.approx(60.0)


def test_a_body_s_measured_gain_divides_what_is_typed() -> None:
    kit = parse_kit(KIT_TEXT.replace("stabiliser_stops = 5.0", "stabiliser_stops = 5.0\nstabiliser_gain = 0.8", 1))
    assert right(kit, "orla-50", "m42-plain", np.inf).best[0] == pytest.approx(62.5)


def test_frames_without_a_whole_pairing_and_with_contacts_have_no_right_setting() -> None:
    rows = some_frames([{}, {}, {}, {}]).assign(
        body="one",
        lens=["orla-50", "orla-50", "vesper-25", None],
        adapter=["m42-plain", None, "", None],
        focus_distance_m=np.nan,
        logged_focal_mm=np.nan,
    )
    found = add_right_setting(rows, kit_pairings(KIT))["right_setting_mm"]
    assert found.tolist() == pytest.approx([50.0, np.nan, np.nan, np.nan], nan_ok=True)
