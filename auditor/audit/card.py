"""A card for one pairing: what to type, how exact, how slow, how deep."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from auditor.audit.card_steps import steps_of
from auditor.audit.card_unknowns import Unknowns, draw_unknowns, figure, is_judged_hand, setting_spread
from auditor.audit.right_setting import right_setting_of
from auditor.audit.settings import nearest_on_menu
from auditor.constants import MAGNIFICATION_LIMIT, MAGNIFICATION_WARNING
from auditor.model.cards import ApertureLine, Card, Figure, SettingLine, ShutterLine, distance_words
from auditor.model.kit import Body
from auditor.model.pairings import Pairing
from auditor.model.settings import Hand, Settings, Tolerance
from auditor.optics.arrays import floats
from auditor.optics.depth_of_field import far_limit_m, hyperfocal_m, near_limit_m
from auditor.optics.diffraction import airy_diameter_um, diffraction_f_number
from auditor.optics.geometry import magnification_from_distance
from auditor.optics.sensors import circle_of_confusion_um, diagonal_mm, pixel_pitch_um
from auditor.shake.bursts import frames_for_chance
from auditor.shake.hand import exposure_time_for_sharp_s
from auditor.shake.stabiliser import residual, setting_tolerance

__all__ = ["CARD_DISTANCES_M", "SHARES", "body_tolerance_um", "card_name", "make_card", "typed_setting_mm"]

CARD_DISTANCES_M = (np.inf, 3.0, 1.5, 0.7)
"""Distances on every card, where the lens focuses that near; its own nearest is added. [m]"""

SHARES = (0.5, 0.8, 0.95)
"""Sharp frames that the shutter times are for."""

FOCUS_M = 3.0
"""Distance of the depth of field. [m]"""

BURST_CORRELATION = 0.3
"""How alike frames of one burst are taken to be. A judgement."""

LONGEST_S = 1.0
"""A card plans no longer hand-held time: the law of shake does not reach further. [s]"""

_APERTURES = (1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0)


def card_name(pairing: Pairing) -> str:
    """Return ``lens+adapter@body``, the adapters lens side first."""
    return "+".join([pairing.lens.id, *(adapter.id for adapter in pairing.adapters)]) + f"@{pairing.body.id}"


def body_tolerance_um(body: Body, tolerance: Tolerance, width_px: int | None = None) -> float:
    """
    Return the blur that counts as sharp on a body, NaN where its sensor is not known. [µm].

    A tolerance in pixels needs the picture's width; without it the diagonal's fraction stands in.
    """
    if tolerance.blur_um is not None:
        return tolerance.blur_um
    if body.sensor_mm is None:
        return float("nan")
    if tolerance.blur_px is not None and width_px:
        return tolerance.blur_px * float(pixel_pitch_um(max(body.sensor_mm), width_px))
    return float(circle_of_confusion_um(diagonal_mm(*body.sensor_mm), tolerance.blur_diagonal_fraction))


def typed_setting_mm(right_mm: float, menu_mm: Sequence[float]) -> float:
    """
    Return what the body accepts nearest to a right setting: its menu's value, else whole millimetres.

    Examples
    --------
    >>> typed_setting_mm(36.6, ()), typed_setting_mm(36.6, (28.0, 35.0, 50.0))
    (37.0, 35.0)
    """
    if np.isnan(right_mm):
        return right_mm
    if menu_mm:
        return float(nearest_on_menu(np.array([right_mm]), menu_mm)[0])
    return max(float(round(right_mm)), 1.0)


def make_card(pairing: Pairing, settings: Settings, *, width_px: int | None = None) -> Card:
    """
    Make the card of one pairing.

    Parameters
    ----------
    pairing : Pairing
    settings : Settings
        Tolerated blur and the photographer's hand.
    width_px : int, optional
        Width of the body's pictures, for a tolerance in pixels. [px]

    Returns
    -------
    Card
        Figures that rest on unknowns carry their 5th and 95th percentile.
    """
    tolerance = body_tolerance_um(pairing.body, settings.tolerance, width_px)
    unknowns = draw_unknowns(pairing, settings.hand)
    lines = () if pairing.contacts else _setting_lines(pairing, settings.hand, unknowns)
    shutters = _shutter_lines(pairing, settings.hand, unknowns, tolerance, lines[0] if lines else None)
    apertures = _aperture_lines(pairing, tolerance)
    diffraction = float(diffraction_f_number(tolerance)) / pairing.factor
    return Card(
        pairing=card_name(pairing),
        lens=pairing.lens.name,
        adapter=" + ".join(adapter.name for adapter in pairing.adapters),
        body=pairing.body.name,
        focal_mm=pairing.effective_focal_mm,
        contacts=pairing.contacts,
        settings=lines,
        shutters=shutters,
        apertures=apertures,
        focus_m=FOCUS_M,
        tolerance_um=tolerance,
        diffraction_f_number=diffraction,
        notes=_notes(pairing, settings, lines, width_px),
        steps=steps_of(pairing, settings, tolerance, lines, shutters, apertures),
    )


def _distances(pairing: Pairing) -> list[float]:
    lens = pairing.lens
    nearest = lens.close_focus_m or (min(d for d, _ in lens.breathing) if lens.breathing else None)
    distances = [d for d in CARD_DISTANCES_M if nearest is None or d >= nearest * 0.999]
    if nearest is not None and nearest not in distances:
        distances.append(nearest)
    return distances


def _setting_lines(pairing: Pairing, hand: Hand, unknowns: Unknowns) -> tuple[SettingLine, ...]:
    distances = np.array(_distances(pairing))
    right = right_setting_of(pairing, distances, np.full(distances.size, np.nan))
    stops = float(np.median(unknowns.stops))
    share = float(setting_tolerance(stops, 0.5, hand.exponent)) if stops > 0 else float("nan")
    found = []
    for distance, best, scale in zip(distances, right.best, right.magnification, strict=True):
        if np.isnan(best):
            continue
        spread = figure(best * setting_spread(pairing, float(distance), unknowns))
        found.append(
            SettingLine(
                distance_m=float(distance),
                type_mm=typed_setting_mm(float(best), pairing.body.setting_values_mm),
                right=Figure(float(best), spread.low, spread.high),
                exact_mm=float(best) * share,
                magnification=float(scale),
            )
        )
    return tuple(found)


def _shutter_lines(
    pairing: Pairing, hand: Hand, unknowns: Unknowns, tolerance_um: float, far: SettingLine | None
) -> tuple[ShutterLine, ...]:
    """Shutter times for a far subject; with a tube the ring's infinity."""
    gain = pairing.body.stabiliser_gain
    if far is not None:
        computed, typed = far.right.value * gain, far.type_mm * gain
    else:
        computed = typed = pairing.effective_focal_mm[0]
    if far is not None and far.magnification > MAGNIFICATION_LIMIT:
        return ()
    right = computed * setting_spread(pairing, float("inf"), unknowns)
    told = right if pairing.contacts else np.full(right.shape, typed)
    left = residual(told, right, unknowns.stops, exponent=unknowns.exponent)
    shares = np.array(SHARES)[:, np.newaxis]
    law = (unknowns.shake_mrad, unknowns.exponent, hand.spread_stops)
    off = floats(exposure_time_for_sharp_s(shares, tolerance_um, right, hand=law))
    on = floats(exposure_time_for_sharp_s(shares, tolerance_um, right, left=left, hand=law))
    frames = floats(frames_for_chance(SHARES))
    in_burst = floats(frames_for_chance(SHARES, correlation=BURST_CORRELATION))
    return tuple(
        ShutterLine(
            share,
            figure(np.minimum(off[place], LONGEST_S)),
            figure(np.minimum(on[place], LONGEST_S)),
            float(frames[place]),
            float(in_burst[place]),
        )
        for place, share in enumerate(SHARES)
    )


def _aperture_lines(pairing: Pairing, tolerance_um: float) -> tuple[ApertureLine, ...]:
    if pairing.extension_mm[1] > 0:
        return ()  # the ring's 3 m is not the subject's
    widest = pairing.lens.max_aperture
    rings = [ring for ring in _APERTURES if ring >= (widest or 2.8) * 0.97]
    if widest is not None and all(abs(ring / widest - 1) > 0.04 for ring in rings):
        rings.insert(0, widest)
    rings = [ring for ring in rings if ring <= 16.0] or rings[:1]
    ring = np.array(rings)
    number = ring * pairing.factor
    focal = pairing.effective_focal_mm[0]
    front_m = FOCUS_M - focal * (1.0 + float(magnification_from_distance(FOCUS_M, focal))) / 1000.0
    near = floats(near_limit_m(focal, number, tolerance_um, front_m)) + FOCUS_M - front_m
    far = floats(far_limit_m(focal, number, tolerance_um, front_m)) + FOCUS_M - front_m
    hyperfocal = floats(hyperfocal_m(focal, number, tolerance_um))
    disc = floats(airy_diameter_um(number))
    columns = zip(ring.tolist(), number.tolist(), near.tolist(), far.tolist(), hyperfocal.tolist(), strict=True)
    return tuple(
        ApertureLine(*row, is_diffracted=bool(wide)) for row, wide in zip(columns, disc > tolerance_um, strict=True)
    )


def _notes(
    pairing: Pairing, settings: Settings, lines: tuple[SettingLine, ...], width_px: int | None
) -> tuple[str, ...]:
    body, lens = pairing.body, pairing.lens
    closest = max((line.magnification for line in lines), default=0.0)
    tubes = pairing.extension_mm[1] > 0
    said = [
        (pairing.contacts, "The lens tells the body its focal length: nothing to type."),
        (lens.is_zoom, f"Zoom: the value is for its short end, {lens.focal_mm[0]:g} mm; longer, it corrects less."),
        (tubes, "With the tube, distances are those on the ring, not to the subject."),
        (not tubes and lens.close_focus_m is None and not lens.breathing, "Close focus is not in the kit: add it."),
        (lens.focusing == "internal" and not lens.breathing and not pairing.contacts,
         "Internal focusing, not measured: close up the value may lie either way. Measure it."),
        (closest > MAGNIFICATION_WARNING, _sideways(lines, closest)),
        (body.sensor_mm is None, "Sensor size is not in the kit: shutter times and depth are not known."),
        (body.stabiliser_stops is None, "The body's stops are not in the kit: what the stabiliser gives is not known."),
        (settings.tolerance.blur_px is not None and settings.tolerance.blur_um is None and width_px is None,
         "The tolerance in pixels needs an indexed frame of this body; the diagonal's fraction stands in."),
        (is_judged_hand(settings.hand), "Shutter times rest on an average hand, ×/÷ 2: fit yours with calibrate hand."),
    ]  # fmt: skip
    return tuple(sentence for applies, sentence in said if applies)


def _sideways(lines: tuple[SettingLine, ...], closest: float) -> str:
    """Say from where on moving the camera sideways blurs as well as turning it."""
    safe = [line.distance_m for line in lines if line.magnification <= MAGNIFICATION_WARNING]
    where = f"Nearer than about {distance_words(min(safe))}" if safe else "At all these distances"
    limit = "; at the nearest, shutter times no longer hold" if closest > MAGNIFICATION_LIMIT else ""
    return f"{where}, moving sideways blurs too{limit}."
