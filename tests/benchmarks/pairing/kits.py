"""Kits of simulated photographers."""

from __future__ import annotations

import numpy as np

from auditor.model.kit import Adapter, Body, Kit, Lens

FACTOR = 0.71
TRADE_MM = (17, 20, 21, 24, 28, 30, 35, 40, 45, 50, 55, 58, 75, 85, 90, 100, 105, 120, 135, 150, 180, 200, 300)
ZOOMS_MM = ((28, 50), (35, 70), (70, 150), (80, 200))
APART = 1.06
"""Effective focal lengths of a kit without indistinguishable pairs differ at least by this ratio."""


def _far(values: list[float]) -> bool:
    ordered = np.sort(np.array(values))
    return bool((ordered[1:] / ordered[:-1] > APART).all())


def _focal_lengths(random: np.random.Generator) -> tuple[list[int], list[int], tuple[int, int]]:
    """Four primes for plain adapter and reducer, two for a plain adapter only, and a zoom, all tellable by setting."""
    while True:
        primes = [int(mm) for mm in random.choice(TRADE_MM, 6, replace=False)]
        zoom = ZOOMS_MM[random.integers(len(ZOOMS_MM))]
        values = [float(mm) for mm in primes] + [mm * FACTOR for mm in primes[:4]]
        outside = [mm for mm in values if not zoom[0] / APART < mm < zoom[1] * APART]
        if len(outside) == len(values) and _far(values):
            return primes[:4], primes[4:], zoom


def _lens(name: str, focal_mm: tuple[float, float], mount: str, **more: object) -> Lens:
    shown = f"{focal_mm[0]:g}" if focal_mm[0] == focal_mm[1] else f"{focal_mm[0]:g}-{focal_mm[1]:g}"
    return Lens.model_validate(
        {
            "id": f"{name.lower()}-{shown}",
            "name": f"{name} {shown} mm",
            "focal_mm": (float(focal_mm[0]), float(focal_mm[1])),
            "mount": mount,
            "close_focus_m": max(0.25, 0.009 * focal_mm[0]),
            "exif_names": tuple(f"{name.upper()} {mm}mm" for mm in _entries(focal_mm, mount)),
            **more,
        }
    )


def _entries(focal_mm: tuple[float, float], mount: str) -> list[str]:
    """Focal lengths under which the lens stands in a body's own list; a lens with contacts names its whole range."""
    short, long = focal_mm
    if mount == "MFT":
        return [f"{short:g}-{long:g}"]
    ends = {short, long, round(float(np.sqrt(short * long)))} | ({round(short * FACTOR)} if mount == "M42" else set())
    return [f"{end:g}" for end in sorted(ends)]


NAMES = ("Orla", "Hale", "Tarn", "Isel", "Brae", "Corrie")


def make_kit(random: np.random.Generator, *, bodies: int = 1, recorded_in: str = "focal-length", twins: bool = False):
    """
    Return a kit of eight lenses; with `twins`, two pairings share their effective focal length (50 × 0.7 = 35).

    One lens has contacts; a zoom and two primes go on a plain adapter; four primes go on a plain one or a reducer.
    """
    both, plain_only, zoom = _focal_lengths(random)
    factor = FACTOR
    if twins:
        both, plain_only, zoom, factor = [35, 50, 100, 24], [85, 200], (28, 45), 0.7
    menu = ()
    made = [
        Body(
            id=f"body-{number + 1}", name=f"Body {number + 1}", exif_model=f"Silverline {number + 1}",
            sensor_mm=(17.4, 13.0) if number == 0 else (23.5, 15.6), mount="MFT", stabiliser_stops=5.0,
            setting_recorded_in="focal-length" if number else recorded_in, setting_values_mm=menu,
        )
        for number in range(bodies)
    ]  # fmt: skip
    lenses = [_lens(name, (mm, mm), "M42") for name, mm in zip(NAMES, both, strict=False)]
    lenses += [_lens(name, (mm, mm), "MD") for name, mm in zip(NAMES[4:], plain_only, strict=False)]
    lenses.append(_lens("Fell", zoom, "MD"))
    lenses.append(_lens("Skerry", (14, 42), "MFT", contacts=True))
    adapters = [
        Adapter(id="m42-plain", name="M42 plain", lens_mount="M42", body_mount="MFT"),
        Adapter(id="m42-reducer", name="M42 reducer", lens_mount="M42", body_mount="MFT", factor=factor),
        Adapter(id="md-plain", name="MD plain", lens_mount="MD", body_mount="MFT"),
    ]
    return Kit(bodies=tuple(made), lenses=tuple(lenses), adapters=tuple(adapters))
