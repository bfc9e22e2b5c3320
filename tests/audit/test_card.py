"""Cards: what to type, how exact, how slow, how deep."""

from __future__ import annotations

import math

import numpy as np
import pytest

from auditor.audit.card import body_tolerance_um, card_name, make_card, typed_setting_mm
from auditor.audit.card_unknowns import draw_unknowns, figure, is_judged_hand, setting_spread
from auditor.model.cards import distance_words, shutter_words
from auditor.model.kit import parse_kit
from auditor.model.pairings import Pairing, kit_pairings, pairing_of
from auditor.model.settings import Hand, Settings, Tolerance
from auditor.optics.depth_of_field import near_limit_m
from auditor.optics.geometry import magnification_from_distance
from tests.kits import KIT_TEXT, small_kit

OWN_HAND = Settings(hand=Hand(shake_mrad=0.2, exponent=0.75, spread_stops=0.4))


def _pairing(lens: str, adapter: str = "m42-plain", body: str = "one", text: str = KIT_TEXT) -> Pairing:
    return pairing_of(parse_kit(text), body, lens, adapter)


def _typed(card) -> dict[str, float]:
    return {distance_words(line.distance_m): line.type_mm for line in card.settings}


def test_what_to_type():
    # Thin lens: 50 mm at 3, 1.5, 0.7 m and its 0.45 m mark is 50.86, 51.79, 54.20, 57.29 mm (D. Jacobson).
    card = make_card(_pairing("orla-50"), Settings())
    assert _typed(card) == {"∞": 50, "3 m": 51, "1.5 m": 52, "0.7 m": 54, "0.45 m": 57}
    right = [line.right.value for line in card.settings]
    assert right == pytest.approx([50.0, 50.86, 51.79, 54.20, 57.29], abs=0.01)
    assert all(line.right.low < line.right.value < line.right.high for line in card.settings)


def test_a_reducer_scales_it_with_the_lens_own_magnification():
    card = make_card(_pairing("orla-50", "m42-reducer"), Settings())
    assert [line.right.value for line in card.settings][-1] == pytest.approx(0.71 * 57.29, abs=0.01)
    assert card.pairing == "orla-50+m42-reducer@one"


def test_a_tube_adds_its_length_and_gives_no_depth():
    card = make_card(_pairing("orla-50", "m42-tube-10+m42-plain"), Settings())
    assert _typed(card)["∞"] == 60
    assert card.apertures == ()
    assert any("on the ring" in note for note in card.notes)


def test_a_tube_that_makes_it_a_macro_lens_gets_no_shutter_time():
    text = KIT_TEXT.replace("extension_mm = 10.0", "extension_mm = 25.0")
    card = make_card(_pairing("orla-50", "m42-tube-10+m42-plain", text=text), Settings())
    assert card.settings[0].magnification == pytest.approx(0.5)
    assert card.shutters == ()
    assert any("no longer hold" in note for note in card.notes)


def test_a_zoom_is_typed_at_its_short_end():
    card = make_card(_pairing("pell-35-70"), Settings())
    assert _typed(card)["∞"] == 35
    assert any("short end" in note for note in card.notes)


def test_nothing_to_type_for_a_lens_with_contacts():
    pairing = next(p for p in kit_pairings(small_kit()) if p.lens.id == "vesper-25")
    card = make_card(pairing, Settings())
    assert card.contacts
    assert card.settings == ()
    assert card.shutters[0].on.value > card.shutters[0].off.value


def test_the_menu_is_kept_to():
    text = KIT_TEXT.replace("stabiliser_stops = 5.0\n", "stabiliser_stops = 5.0\nsetting_values_mm = [35, 50, 60]\n", 1)
    assert _typed(make_card(_pairing("orla-50", text=text), Settings()))["0.45 m"] == 60
    assert typed_setting_mm(36.6, ()) == 37.0
    assert math.isnan(typed_setting_mm(math.nan, ()))


def test_a_body_that_overcorrects_is_told_less():
    text = KIT_TEXT.replace("stabiliser_stops = 5.0\n", "stabiliser_stops = 5.0\nstabiliser_gain = 1.1\n", 1)
    gained, plain = (make_card(_pairing("orla-50", text=each), OWN_HAND) for each in (text, KIT_TEXT))
    assert gained.settings[0].right.value == pytest.approx(50.0 / 1.1)
    # The picture is as long as before, so unstabilised times are too.
    assert gained.shutters[0].off.value == pytest.approx(plain.shutters[0].off.value)


def test_how_exact():
    # Half a stop at H = 1 allows r0 = 2^-S (derived): 3.125 % at 5 stops.
    settings = Settings(hand=Hand(shake_mrad=0.2, exponent=1.0))
    line = make_card(_pairing("orla-50"), settings).settings[0]
    assert line.exact_mm == pytest.approx(50 * 0.03125, rel=0.05)


def test_slower_for_fewer_sharp_and_with_the_stabiliser():
    for adapter in ("m42-plain", "m42-reducer"):
        lines = make_card(_pairing("hale-85", adapter), Settings()).shutters
        assert [line.share for line in lines] == [0.5, 0.8, 0.95]
        off, on = ([getattr(line, name).value for line in lines] for name in ("off", "on"))
        assert off == sorted(off, reverse=True)
        assert all(slow > fast for slow, fast in zip(on, off, strict=True))
        assert all(f.low <= f.value <= f.high for line in lines for f in (line.off, line.on))
    # 95 % for one sharp of independent frames at p = 0.5, 0.8, 0.95 (standard): 5, 2, 1.
    assert [line.frames for line in lines] == [5, 2, 1]
    assert all(line.frames_in_burst >= line.frames for line in lines)


def test_one_s_own_hand_is_known_better():
    def width(settings: Settings) -> float:
        time = make_card(_pairing("hale-85"), settings).shutters[0].off
        return time.high / time.low

    assert is_judged_hand(Hand())
    assert width(OWN_HAND) < 0.5 * width(Settings())
    assert not any("average hand" in note for note in make_card(_pairing("hale-85"), OWN_HAND).notes)


def test_depth_and_diffraction():
    card = make_card(_pairing("orla-50", "m42-reducer"), Settings())
    line = next(each for each in card.apertures if each.f_number == 8.0)
    front = 3.0 - 0.0355 * (1 + magnification_from_distance(3.0, 35.5))
    expected = near_limit_m(35.5, 8.0 * 0.71, card.tolerance_um, front) + 3.0 - front
    assert line.near_m == pytest.approx(expected)
    assert line.effective_f_number == pytest.approx(5.68)
    assert line.near_m < 3.0 < line.far_m
    # Airy disc 2.44 λ N as wide as the tolerated blur (D. Jacobson).
    assert card.diffraction_f_number == pytest.approx(card.tolerance_um / (2 * 1.21967 * 0.55) / 0.71)
    assert not line.is_diffracted
    assert card.apertures[0].f_number == 1.4


def test_the_widest_aperture_heads_the_list():
    text = KIT_TEXT.replace("max_aperture = 1.4", "max_aperture = 1.7")
    assert [line.f_number for line in make_card(_pairing("orla-50", text=text), Settings()).apertures][:2] == [1.7, 2.0]
    slow = KIT_TEXT.replace("max_aperture = 1.4", "max_aperture = 22")
    assert [line.f_number for line in make_card(_pairing("orla-50", text=slow), Settings()).apertures] == [22.0]


def test_what_is_not_known_stays_unknown():
    text = KIT_TEXT.replace("sensor_mm = [17.4, 13.0]\n", "").replace("stabiliser_stops = 5.0\n", "", 1)
    card = make_card(_pairing("orla-50", text=text.replace("close_focus_m = 0.45\n", "")), Settings())
    assert math.isnan(card.tolerance_um)
    assert all(math.isnan(line.off.value) for line in card.shutters)
    assert math.isnan(card.settings[0].exact_mm)
    assert _typed(card)["0.7 m"] == 54
    said = " ".join(card.notes)
    for words in ("Sensor size", "stops are not in the kit", "Close focus"):
        assert words in said
    steps = {step.name: step for step in card.steps}
    assert steps["how exact it must be"].value == "not given without the body's stabiliser_stops"
    for name in ("tolerated blur", "depth of field", "diffraction limit"):
        assert steps[name].value == "not given without the body's sensor_mm"
    assert not any("nan" in f"{step.inputs} {step.value}" for step in card.steps)


def test_internal_focusing_is_wide_open_close_up():
    text = KIT_TEXT.replace("close_focus_m = 0.45\n", 'close_focus_m = 0.45\nfocusing = "internal"\n')
    lines = make_card(_pairing("orla-50", text=text), Settings()).settings
    assert lines[-1].right.low < 46 < 55 < lines[-1].right.high
    measured = text.replace(
        'focusing = "internal"\n', 'focusing = "internal"\nbreathing = [[0.45, 48.0], [1.0, 49.0]]\n'
    )
    nearest = make_card(_pairing("orla-50", text=measured), Settings()).settings[-1]
    assert nearest.right.value == pytest.approx(48.0)
    assert nearest.right.high - nearest.right.low < 3


def test_tolerance():
    body = small_kit().bodies[0]
    assert body_tolerance_um(body, Tolerance(blur_um=12.0)) == 12.0
    assert body_tolerance_um(body, Tolerance(blur_px=2.0), 5800) == pytest.approx(2 * 17400 / 5800)
    assert body_tolerance_um(body, Tolerance(blur_px=2.0)) == pytest.approx(math.hypot(17.4, 13.0) / 1.5)
    in_pixels = Settings(tolerance=Tolerance(blur_px=2.0))
    assert any("tolerance in pixels" in note for note in make_card(_pairing("orla-50"), in_pixels).notes)
    assert not any("tolerance in pixels" in n for n in make_card(_pairing("orla-50"), in_pixels, width_px=5800).notes)


def test_every_number_can_be_traced():
    card = make_card(_pairing("orla-50", "m42-reducer"), Settings())
    names = [step.name for step in card.steps]
    for line in card.settings:
        assert f"type at {distance_words(line.distance_m)}" in names
    for line in card.shutters:
        for state in ("off", "on"):
            step = card.steps[names.index(f"{line.share:.0%} sharp, stabiliser {state}")]
            assert shutter_words(getattr(line, state).value) in step.value
    assert all(step.formula and step.inputs and step.value and step.source for step in card.steps)
    depth = card.steps[names.index("depth of field")]
    assert all(f"f/{line.f_number:g}" in depth.value for line in card.apertures)


def test_draws_are_the_same_each_time():
    pairing = _pairing("orla-50")
    assert np.array_equal(draw_unknowns(pairing, Hand()).stops, draw_unknowns(pairing, Hand()).stops)
    assert make_card(pairing, Settings()) == make_card(pairing, Settings())


def test_measured_lenses_are_known_better():
    text = KIT_TEXT.replace("focal_mm = 50\n", "focal_mm = 50\nmeasured_focal_mm = 51.6\n")

    def width(pairing: Pairing) -> float:
        spread = figure(setting_spread(pairing, math.inf, draw_unknowns(pairing, Hand())))
        return spread.high - spread.low

    assert width(_pairing("orla-50", text=text)) < 0.6 * width(_pairing("orla-50"))
    assert width(_pairing("orla-50")) < width(_pairing("orla-50", "m42-reducer"))


def test_names():
    assert [card_name(p) for p in kit_pairings(small_kit()) if p.lens.id == "vesper-25"] == ["vesper-25@one"]
    assert distance_words(math.nan) == "–"
    assert distance_words(131.0) == "131 m"
    assert math.isnan(figure([1.0, math.nan]).value)
