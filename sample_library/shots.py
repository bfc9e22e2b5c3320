"""From segments to frames: when each was made, how it shook, and what its maker thought of it later."""

from __future__ import annotations

import datetime as dt
import math
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sample_library.cast import Body, Cast, right_setting_mm
from sample_library.story import Segment, Story

__all__ = ["PICTURE_PX", "Shot", "residual", "take_shots"]

PICTURE_PX = (512, 384)
"""Width and height of a picture before rotation; small, so that the whole archive is made in seconds."""

# The photographer's hands: the model and figures that settings.toml hands out, per axis a·(t/t0)^H. All invented.
SHAKE_MRAD, EXPONENT, SPREAD_STOPS, REFERENCE_S = 0.29, 0.8, 0.5, 1 / 60
# A tripod hardly moves; a stabiliser left on drifts by itself.
TRIPOD_UM, DRIFT_UM = 1.5, 34.0

SUMMER_TIME = (dt.datetime(2026, 3, 29, 1), dt.datetime(2026, 10, 25, 1))
"""First and last moment of summer time in the invented country, in UTC: Europe's rule for 2026."""

WRONG_CLOCK = (dt.datetime(2026, 10, 25, 2), dt.datetime(2026, 10, 26, 2))
"""While the silver body still keeps summer time, in true local time."""

SOFT_PX = 1.0
"""A shake trace longer than this is called shake in the answers; shorter ones nobody sees at this size."""

_FIRST_NUMBER = {"one": 2041, "two": 10311}
_JUDGED_AMONG_FEW = ("osk-lamps", "osk-fair", "osk-faces", "osk-across")
_FILE_NAMES = {"one": "silver/SLV_{:04d}.JPG", "two": "black/NJ7_{:05d}.jpg"}


@dataclass(frozen=True)
class Shot:
    """
    One exposure with all that is true of it.

    ``taken_at`` is true local time, ``clock_at`` what the body believed; ``pan`` is where the camera points within
    the scene (−1 to 1 both ways); ``shake_deg`` counts counter-clockwise from the upright picture's horizontal.
    """

    segment: Segment
    number: int
    burst: int
    scene: str
    taken_at: dt.datetime
    offset_minutes: int
    clock_at: dt.datetime
    shutter: float
    right_mm: float
    pan: tuple[float, float]
    vertical: bool
    shake_um: float
    shake_px: float
    shake_deg: float
    defocus_px: float
    path: str = ""
    oddities: tuple[str, ...] = ()
    rating: int | None = None

    @property
    def blur_kind(self) -> str:
        """What spoils the picture most, in the words of the measures."""
        if self.defocus_px:
            return "missed-focus"
        return "shake" if self.shake_px > SOFT_PX else "sharp"

    def is_odd(self, kind: str) -> bool:
        """Whether something special was told of this frame."""
        return kind in self.oddities


def residual(setting_mm: float, right_mm: float, stabiliser_stops: float) -> float:
    """
    Share of the shake that a stabiliser leaves with a setting.

    The correction is g = setting ÷ right times what is needed; what it misses by gain and what it misses by its own
    tracking add as squares, the latter being 2^(−H·stops) at the right setting.

    Examples
    --------
    Twice too long is as bad as off, for a stabiliser that tracks perfectly.

    >>> round(residual(100.0, 50.0, 40.0), 3)
    1.0
    """
    gain = setting_mm / right_mm
    return math.hypot(1 - gain, gain * 2 ** (-EXPONENT * stabiliser_stops))


def _utc_offset(utc: dt.datetime) -> dt.timedelta:
    return dt.timedelta(hours=2 if SUMMER_TIME[0] <= utc < SUMMER_TIME[1] else 1)


def _to_utc(local: dt.datetime) -> dt.datetime:
    """Return UTC for a local time; of the hour that comes twice, the first."""
    summer = local - dt.timedelta(hours=2)
    return summer if _utc_offset(summer) == dt.timedelta(hours=2) else local - dt.timedelta(hours=1)


def _clock(body: str, local: dt.datetime) -> dt.datetime:
    wrong = body == "one" and WRONG_CLOCK[0] <= local < WRONG_CLOCK[1]
    return local + dt.timedelta(hours=1) if wrong else local


def _burst_sizes(frames: int, rng: np.random.Generator) -> list[int]:
    sizes: list[int] = []
    while sum(sizes) < frames:
        sizes.append(min(int(rng.integers(2, 5)), frames - sum(sizes)))
    return sizes


def _moments(segment: Segment, sizes: Sequence[int], rng: np.random.Generator) -> list[list[float]]:
    """Return seconds after the segment's start for each frame of each burst; first and last are its ends."""
    last = 60.0 * segment.minutes
    step_s = 0.25 + 1.0 / min(segment.shutter) if segment.support == "hand" else 9.0
    inner = np.linspace(0, last, len(sizes)) + rng.uniform(-0.3, 0.3, len(sizes)) * last / len(sizes)
    inner[0], inner[-1] = 0.0, last - step_s * sizes[-1] * 1.2
    return [
        [float(begin + k * step_s * rng.uniform(1.0, 1.15)) for k in range(size)]
        for begin, size in zip(inner, sizes, strict=True)
    ]


def _trace_um(segment: Segment, shutter: float, right_mm: float, body: Body, rng: np.random.Generator) -> float:
    """Draw the length of the shake's trace on the sensor in µm."""
    across, along = rng.standard_normal(2)
    if segment.support == "tripod":
        drifts = segment.stabiliser and segment.typed is not None
        return math.hypot(across, along) * (DRIFT_UM if drifts else TRIPOD_UM)
    share = 1.0
    if segment.stabiliser:
        share = residual(segment.typed or right_mm, right_mm, body.stabiliser_stops)
    angle_mrad = SHAKE_MRAD * (1 / shutter / REFERENCE_S) ** EXPONENT * 2 ** (SPREAD_STOPS * rng.standard_normal())
    return float(right_mm * share * angle_mrad * math.hypot(across, along))


def _exposures(segment: Segment, cast: Cast, rng: np.random.Generator) -> Iterator[Shot]:
    body = cast.bodies[segment.body]
    lens = cast.lenses[segment.lens]
    right_mm = right_setting_mm(lens, cast.factors[segment.adapter], segment.distance_m, segment.zoom_mm)
    px_per_um = PICTURE_PX[0] / body.sensor_mm[0] / 1000
    sizes = _burst_sizes(segment.frames, rng)
    start = _to_utc(segment.start)
    number = 0
    for burst, moments in enumerate(_moments(segment, sizes, rng)):
        scene = segment.scenes[burst * len(segment.scenes) // len(sizes)]
        shutter = float(rng.choice(segment.shutter))
        vertical = bool(rng.random() < segment.vertical_share)
        reach = min(
            1.0, 0.2 + 0.2 * min(burst, len(sizes) - 1 - burst)
        )  # at its ends it looks where its neighbours look
        pan = rng.uniform(-reach, reach, 2)
        missed = segment.aperture <= 2.8 and segment.support == "hand" and rng.random() < 0.12
        for moment in moments:
            utc = start + dt.timedelta(microseconds=round(moment * 1e6, -4))
            local = utc + _utc_offset(utc)
            trace_um = _trace_um(segment, shutter, right_mm, body, rng)
            yield Shot(
                segment=segment,
                number=number,
                burst=burst,
                scene=scene,
                taken_at=local,
                offset_minutes=int(_utc_offset(utc).total_seconds() // 60),
                clock_at=_clock(segment.body, local),
                shutter=shutter,
                right_mm=right_mm,
                pan=(float(pan[0]), float(pan[1])),
                vertical=vertical,
                shake_um=trace_um,
                shake_px=trace_um * px_per_um,
                shake_deg=float(rng.uniform(0, 180)),
                defocus_px=float(rng.uniform(1.6, 3.2)) if missed and rng.random() < 0.7 else 0.0,
            )
            number += 1


def _opinion(shot: Shot, rng: np.random.Generator) -> int | None:
    """Return the stars an honest evening gives: sharp frames mostly some, soft ones hardly ever, a few rejected."""
    soft = shot.defocus_px > 0 or shot.shake_px > SOFT_PX
    chance = 0.03 if soft else 0.74 * math.exp(-((shot.shake_px / 1.6) ** 2))
    if rng.random() < chance:
        return int(rng.choice([1, 2, 3, 4, 5], p=[0.3, 0.3, 0.22, 0.13, 0.05]))
    return -1 if soft and rng.random() < 0.2 else None


def _judged(shots: Sequence[Shot], story: Story, seed: int) -> list[Shot]:
    """Give each shot its rating; the trip that was judged by few has four frames with stars."""
    judged: list[Shot] = []
    for shot in shots:
        kind = story.trips[shot.segment.trip].ratings
        rng = np.random.default_rng([seed, zlib.crc32(shot.segment.id.encode()), 1, shot.number])
        undated = shot.is_odd("month-zero") or shot.is_odd("no-date")
        few = kind == "few" and shot.number == 1 and shot.segment.id in _JUDGED_AMONG_FEW
        rating = _opinion(shot, rng) if kind in ("sidecar", "embedded") and not undated else None
        if few:
            rating = 3
        if shot.is_odd("sidecar-outranks-embedded"):
            rating = -1
        judged.append(replace(shot, rating=rating))
    return judged


def _named(shots: Sequence[Shot], story: Story) -> list[Shot]:
    """Give each shot its file name: the body counts on, whatever the clock does."""
    names: dict[tuple[str, int], str] = {}
    kinds: dict[tuple[str, int], list[str]] = {}
    for oddity in story.oddities:
        kinds.setdefault((oddity.segment, oddity.frame), []).append(oddity.kind)
        if oddity.name:
            names[oddity.segment, oddity.frame] = oddity.name
    count = dict(_FIRST_NUMBER)
    named: list[Shot] = []
    for shot in shots:
        key = (shot.segment.id, shot.number)
        inside = _FILE_NAMES[shot.segment.body].format(count[shot.segment.body])
        count[shot.segment.body] += 1
        if key in names:
            inside = f"{inside.split('/')[0]}/{names[key]}"
        if {"raw-alone", "raw-and-jpeg"} & set(kinds.get(key, ())):  # of a pair, the raw file stands for the frame
            inside = inside.rsplit(".", 1)[0] + ".DNG"
        path = f"{story.trips[shot.segment.trip].folder}/{inside}"
        named.append(replace(shot, path=path, oddities=tuple(kinds.get(key, ()))))
    return named


def take_shots(story: Story, cast: Cast, seed: int) -> list[Shot]:
    """
    Return every exposure of the scenario in the order in which it was made.

    The seed moves moments, shake and opinions; the story stays.
    """
    shots: list[Shot] = []
    for segment in story.segments:
        rng = np.random.default_rng([seed, zlib.crc32(segment.id.encode())])
        shots += _exposures(segment, cast, rng)
    shots.sort(key=lambda shot: shot.taken_at - dt.timedelta(minutes=shot.offset_minutes))
    return _judged(_named(shots, story), story, seed)
