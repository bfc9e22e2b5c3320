"""Where each number of a card comes from: formula, inputs, source."""

from __future__ import annotations

import math

from auditor.audit.card_unknowns import is_judged_hand
from auditor.model.cards import ApertureLine, SettingLine, ShutterLine, Step, distance_words, shutter_words
from auditor.model.pairings import Pairing
from auditor.model.settings import Settings
from auditor.optics.diffraction import diffraction_f_number
from auditor.shake.stabiliser import residual_floor

__all__ = ["steps_of"]

_THIN_LENS = "thin lens, D. Jacobson, Photographic Lenses Tutorial (1995/96)"

_NO_STOPS = "not given without the body's stabiliser_stops"
_NO_SENSOR = "not given without the body's sensor_mm"


def steps_of(
    pairing: Pairing,
    settings: Settings,
    tolerance_um: float,
    lines: tuple[SettingLine, ...],
    shutters: tuple[ShutterLine, ...],
    apertures: tuple[ApertureLine, ...],
) -> tuple[Step, ...]:
    """Return how the numbers of a card came about, in the order they stand on it."""
    steps = [_focal(pairing), *(_setting(pairing, line) for line in lines)]
    if lines:
        steps.append(_exactness(pairing, settings, lines[0]))
    steps.append(_tolerance(pairing, settings, tolerance_um))
    steps += [_shutter(settings, pairing, line, with_stabiliser=on) for line in shutters for on in (False, True)]
    steps += [_frames(line) for line in shutters]
    steps += _depth(pairing, tolerance_um, apertures)
    return tuple(steps)


def _focal(pairing: Pairing) -> Step:
    short, _ = pairing.lens.true_focal_mm
    measured = "measured" if pairing.lens.measured_focal_mm else "as engraved"
    factors = " × ".join(f"{adapter.factor:g}" for adapter in pairing.adapters) or "1"
    return Step(
        "effective focal length",
        "f × factor of the adapters",
        f"f = {short:g} mm ({measured}), factor = {factors}",
        f"{pairing.effective_focal_mm[0]:.4g} mm",
        "kit.toml; a reducer scales the whole image (Telecompressor, Wikipedia)",
    )


def _setting(pairing: Pairing, line: SettingLine) -> Step:
    lens, gain = pairing.lens, pairing.body.stabiliser_gain
    if lens.breathing and not lens.is_zoom and pairing.extension_mm[1] == 0:
        formula = "measured table at that distance × factor ÷ gain, monotone between its rows"
        inputs = f"breathing = {[list(row) for row in lens.breathing]}, infinity {lens.true_focal_mm[0]:g} mm"
        source = "kit.toml; Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246"
    else:
        formula = "factor × f × (1 + m) ÷ gain, m from D = f (2 + m + 1/m) of the lens alone, plus tube ÷ f"
        inputs = f"D = {distance_words(line.distance_m)}, m = {line.magnification:.4f}"
        if pairing.extension_mm[1] > 0:
            inputs += f", tube {pairing.extension_mm[0]:g} mm"
        source = _THIN_LENS
    return Step(
        f"type at {distance_words(line.distance_m)}",
        formula,
        f"{inputs}, factor = {pairing.factor:.4g}, gain = {gain:g}",
        f"{line.right.value:.2f} mm ({line.right.low:.1f} to {line.right.high:.1f}), typed {line.type_mm:g} mm",
        source,
    )


def _stops_words(pairing: Pairing, settings: Settings) -> str:
    stops = pairing.body.stabiliser_stops
    if stops is None:
        return "stops not known"
    if is_judged_hand(settings.hand):
        return f"S = {stops:g} - 1 ± 1 stops (kit less one: laboratory against life, judgement)"
    return f"S = {stops:g} ± 0.5 stops (kit)"


def _exactness(pairing: Pairing, settings: Settings, line: SettingLine) -> Step:
    return Step(
        "how exact it must be",
        "right × r0 × √(2^(2 H × ½) - 1), r0 = 2^(-H S): the error that costs half a stop",
        f"H = {settings.hand.exponent:g}, {_stops_words(pairing, settings)}",
        f"± {line.exact_mm:.1f} mm at {distance_words(line.distance_m)}" if line.exact_mm > 0 else _NO_STOPS,
        "derived from r² = (1 - g)² + r0²; correction ∝ focal length told: US 2010/0123783",
    )


def _tolerance(pairing: Pairing, settings: Settings, tolerance_um: float) -> Step:
    sensor = pairing.body.sensor_mm
    size = f"{sensor[0]:g} × {sensor[1]:g} mm" if sensor else "sensor not known"
    return Step(
        "tolerated blur",
        "sensor diagonal ÷ fraction, or as set in settings.toml",
        f"{size}, fraction = {settings.tolerance.blur_diagonal_fraction:g}",
        _tolerated(tolerance_um),
        "diagonal ÷ 1500: print-viewing convention (Zeiss formula, Wikipedia), common practice",
    )


def _shutter(settings: Settings, pairing: Pairing, line: ShutterLine, *, with_stabiliser: bool) -> Step:
    hand = settings.hand
    time = line.on if with_stabiliser else line.off
    wide = "a judgement, ×/÷ 2" if is_judged_hand(hand) else "settings.toml, ± 20 %"
    inputs = f"a = {hand.shake_mrad:g} mrad ({wide}), H = {hand.exponent:g}, spread {hand.spread_stops:g} stop"
    if with_stabiliser:
        floor = float(residual_floor(pairing.body.stabiliser_stops or 0.0, hand.exponent))
        inputs += f", {_stops_words(pairing, settings)}; r0 at the kit's stops {floor:.3f}"
    return Step(
        f"{line.share:.0%} sharp, stabiliser {'on' if with_stabiliser else 'off'}",
        "longest t with P(B ≤ c) = share; B Rayleigh with σ = v r a (t/t0)^H, t0 = 1/60 s"
        + (", r² = (1 - g)² + r0²" if with_stabiliser else ", r = 1"),
        inputs,
        f"{shutter_words(time.value)} ({shutter_words(time.low)} to {shutter_words(time.high)}),"
        " median and 5-95 % of 4,000 draws over what is not known",
        "Rayleigh distribution; ISO 20954-1:2019 for the quantity; the priors are judgement",
    )


def _frames(line: ShutterLine) -> Step:
    return Step(
        f"frames at {line.share:.0%} sharp",
        "least n with 1 - (1 - p)^n ≥ 0.95; in one burst beta-binomial with correlation 0.3 (judgement)",
        f"p = {line.share:g}",
        f"{line.frames:g} taken apart, {line.frames_in_burst:g} in one burst",
        "binomial and beta-binomial distribution (standard)",
    )


def _tolerated(tolerance_um: float) -> str:
    return _NO_SENSOR if math.isnan(tolerance_um) else f"{tolerance_um:.1f} µm"


def _depth(pairing: Pairing, tolerance_um: float, apertures: tuple[ApertureLine, ...]) -> list[Step]:
    focal = pairing.effective_focal_mm[0]
    limit = float(diffraction_f_number(tolerance_um)) / pairing.factor
    depths = ", ".join(
        f"f/{line.f_number:g} {line.near_m:.2f}-{distance_words(line.far_m)} (H {distance_words(line.hyperfocal_m)})"
        for line in apertures
        if not math.isnan(line.near_m)
    )
    none = "not given with a tube" if not apertures else _NO_SENSOR
    return [
        Step(
            "depth of field",
            "H = f²/(N c) + f; near u (H - f)/(H + u - 2f), far u (H - f)/(H - u)",
            f"f = {focal:.4g} mm, N = ring × {pairing.factor:.4g}, c = {_tolerated(tolerance_um)}, focused at 3 m",
            depths or none,
            "Depth of field, Wikipedia; pupil magnification 1",
        ),
        Step(
            "diffraction limit",
            "c ÷ (2.44 λ) ÷ factor, λ = 0.55 µm",
            f"c = {_tolerated(tolerance_um)}, factor = {pairing.factor:.4g}",
            _NO_SENSOR if math.isnan(limit) else f"f/{limit:.1f} on the ring",
            "first zero of the Airy disc, D. Jacobson, Photographic Lenses Tutorial, sec. 5",
        ),
    ]
