"""
Simulated photographers, for marking the sequence model.

Nothing here is shared with the model, and the assumptions differ on purpose: stays on a lens are log-normal (the
model: a chance at each pause), noted times err by a heavy-tailed delay and are cut to the minute (the model: two
exponentials), the log has gaps in stretches (the model: independent), each photographer has his own habits (drawn
below), right values are typed in several ways, breaks and nights happen, and half of the wrong values are mended, after
any number of frames of the stay.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from auditor.model.kit import Body, Kit, Lens
from auditor.model.log import LogRow
from auditor.model.pairings import Pairing, kit_pairings
from tests.benchmarks.pairing.noting import Stay, noted

START = dt.datetime(2026, 5, 1, 9, 0)
TOLERANCE = 0.10
SOONER = dt.timedelta(minutes=15)
"""Nobody puts a lens on one body that he will need on the other within this."""


@dataclass(frozen=True)
class Habits:
    """One photographer's habits; `drawn` varies them from seed to seed."""

    forgets: float = 0.15
    mends: float = 0.5
    factor_left_out: float = 0.08
    equivalent: float = 0.02
    long_end: float = 0.1
    digit_slip: float = 0.015
    odd_value: float = 0.01
    frames_a_stay: float = 28.0
    stay_spread: float = 0.8
    change_s: float = 45.0
    pace_s: float = 15.0
    burst: float = 0.35
    late_s: float = 30.0
    time_error_s: float = 60.0
    misnoted: float = 0.0
    adapter_not_noted: float = 0.0
    position_noted: float = 0.9
    needless_rows: float = 0.04
    types_engraved: float = 0.8
    stale_name: float = 0.0

    @staticmethod
    def drawn(random: np.random.Generator) -> Habits:
        return Habits(
            forgets=random.uniform(0.05, 0.25),
            factor_left_out=random.uniform(0.1, 0.3),
            equivalent=random.uniform(0.02, 0.08),
            digit_slip=random.uniform(0.0, 0.03),
            frames_a_stay=random.uniform(18, 42),
            stay_spread=random.uniform(0.6, 1.0),
            change_s=random.uniform(30, 80),
            pace_s=random.uniform(8, 25),
            burst=random.uniform(0.1, 0.6),
            late_s=random.uniform(-20, 60),
            time_error_s=random.uniform(30, 80),
            types_engraved=random.uniform(0.6, 1.0),
        )


@dataclass(frozen=True)
class World:
    """Frames as the index would hold them, the log, the kit, and what really happened."""

    kit: Kit
    frames: pd.DataFrame
    log: tuple[LogRow, ...]
    truth: pd.DataFrame
    habits: Habits = field(default_factory=Habits)
    overlaps: pd.DataFrame | None = None


def make_world(
    seed: int, kit: Kit, *, coverage: float, habits: Habits | None = None, trips: int = 3, frames: int = 2500
) -> World:
    """Simulate one archive; `frames` is about the number of frames of each body."""
    random = np.random.default_rng([seed, 17])
    habits = habits or Habits.drawn(random)
    ways = [pairing for pairing in kit_pairings(kit) if pairing.body.id == kit.bodies[0].id]
    liked = dict(zip([(p.lens.id, p.adapter_id) for p in ways], random.dirichlet(np.full(len(ways), 1.5)), strict=True))
    shots: list[dict[str, object]] = []
    rows: list[LogRow] = []
    for trip in range(trips):
        on_other: list[tuple[dt.datetime, dt.datetime, str]] = []
        for body in kit.bodies:
            begin = START + dt.timedelta(days=10 * trip, minutes=float(random.uniform(0, 20)))
            walk = _Walk(random, habits, kit, body, liked, on_other)
            walk.shoot(begin, frames // trips)
            shots += walk.shots
            rows += noted(random, habits, walk.stays, coverage)
            on_other = [(s.put_on, s.last, s.pairing.lens.id) for s in walk.stays]
    table = pd.DataFrame(shots).sort_values("captured_at", kind="stable", ignore_index=True)
    table["path"] = [f"{number:06d}.jpg" for number in range(len(table))]
    truth_columns = ["true_lens", "true_adapter", "true_wrong", "true_cause", "true_run", "true_focal_mm"]
    log = tuple(sorted(rows, key=lambda row: row.start))
    return World(kit, _as_index(table.drop(columns=truth_columns)), log, table[["path", *truth_columns]], habits)


def _as_index(table: pd.DataFrame) -> pd.DataFrame:
    return table.assign(
        archive="main", make="Silverline", body_serial_number=None, offset_minutes=None, subject_distance_m=np.nan,
        exposure_time_s=0.02,
    ).astype({"make": "str", "model": "str", "lens_model": "str", "body_serial_number": "str"})  # fmt: skip


@dataclass(frozen=True)
class _Typed:
    """What stands in the body's menu, and how it came there."""

    value_mm: float
    name: str | None
    cause: str


class _Walk:
    """One body through one trip."""

    def __init__(
        self, random: np.random.Generator, habits: Habits, kit: Kit, body: Body,
        liked: dict[tuple[str, str], float], on_other: list[tuple[dt.datetime, dt.datetime, str]],
    ) -> None:  # fmt: skip
        self.random, self.habits, self.body, self.on_other = random, habits, body, on_other
        self.ways = [pairing for pairing in kit_pairings(kit) if pairing.body.id == body.id]
        self.liked = np.array([liked[p.lens.id, p.adapter_id] for p in self.ways])
        self.now = START
        self.pairing: Pairing | None = None
        self.typed: _Typed | None = None
        self.shots: list[dict[str, object]] = []
        self.stays: list[Stay] = []
        self.runs = 0

    def shoot(self, begin: dt.datetime, frames: int) -> None:
        self.now = begin
        while len(self.shots) < frames:
            self._stay()

    def _wait(self, seconds: float) -> None:
        self.now += dt.timedelta(seconds=float(seconds))
        if self.now.hour >= 21:
            self.now = self.now.replace(hour=9, minute=0) + dt.timedelta(
                days=1, minutes=float(self.random.uniform(0, 60))
            )

    def _next_pairing(self) -> Pairing:
        soon = self.now + SOONER
        taken = {lens for first, last, lens in self.on_other if first <= soon and self.now <= last}
        fit = np.array([p is not self.pairing and p.lens.id not in taken for p in self.ways])
        chance = self.liked * fit
        return self.ways[self.random.choice(len(self.ways), p=chance / chance.sum())]

    def _stay(self) -> None:
        random, habits = self.random, self.habits
        pairing = self._next_pairing()
        if self.pairing is not None:
            self._wait(random.gamma(4, habits.change_s / 4))
        put_on = self.now
        self.pairing = pairing
        short, long = pairing.lens.focal_mm
        position = (
            short if short == long else float(random.choice([short, long, np.sqrt(short * long)], p=[0.5, 0.3, 0.2]))
        )
        if random.random() < 0.3:
            self._wait(random.exponential(240))
        frames = max(
            1, int(random.lognormal(np.log(habits.frames_a_stay) - habits.stay_spread**2 / 2, habits.stay_spread))
        )
        mend_after = None
        if not pairing.contacts:
            self._set(pairing, position)
            if self._is_wrong(pairing, position) and random.random() < habits.mends:
                mend_after = int(random.integers(1, max(2, frames)))
        self.runs += 1
        first, last = self._shoot(pairing, position, frames, mend_after)
        self.stays.append(Stay(pairing, position, put_on, first, last))

    def _shoot(
        self, pairing: Pairing, position: float, frames: int, mend_after: int | None
    ) -> tuple[dt.datetime, dt.datetime]:
        first = last = self.now
        needed = self._needed_elsewhere(pairing)
        for number in range(frames):
            if number == mend_after:
                self.typed = self._type(pairing, position, careful=True)
                self.runs += 1
            if number:
                self._pause()
                if self.now >= needed:
                    break
            self._expose(pairing, position)
            last = self.now
        return first, last

    def _needed_elsewhere(self, pairing: Pairing) -> dt.datetime:
        """There is one of each lens: it leaves this body before it goes on the other."""
        return min(
            (on for on, _, lens in self.on_other if lens == pairing.lens.id and on > self.now), default=dt.datetime.max
        )

    def _pause(self) -> None:
        random, habits = self.random, self.habits
        if random.random() < habits.burst:
            self._wait(random.uniform(0.15, 1.5))
        elif random.random() < 0.02:
            self._wait(random.uniform(600, 5400))
        else:
            self._wait(random.lognormal(np.log(habits.pace_s), 1.1))

    def _set(self, pairing: Pairing, position: float) -> None:
        forgets = self.random.random() < self.habits.forgets
        if self.typed is not None and forgets:
            self.typed = replace(self.typed, cause="carried-over")
        else:
            self.typed = self._type(pairing, position)

    def _type(self, pairing: Pairing, position: float, *, careful: bool = False) -> _Typed:
        random, habits = self.random, self.habits
        right = position * pairing.factor
        if random.random() > habits.types_engraved and self.body.setting_recorded_in != "lens-name":
            right *= 1 + random.choice([0.02, 0.05, 0.08])
        value, cause = float(round(right)), "right"
        slip = random.random()
        crop = 43.27 / float(np.hypot(*self.body.sensor_mm))
        lens = pairing.lens
        odds = [
            ("adapter-factor-left-out", habits.factor_left_out * (pairing.factor != 1), position),
            ("equivalent-entered", habits.equivalent, right * crop),
            ("long-end-of-zoom", habits.long_end * lens.is_zoom, lens.focal_mm[1]),
            ("digit-slip", habits.digit_slip, self._slip(value)),
            ("unexplained", habits.odd_value, float(random.integers(10, 300))),
        ]
        for name, chance, other in odds if not careful else ():
            if slip < chance:
                value, cause = float(round(other)), name
                break
            slip -= chance
        return _Typed(value, self._name_for(pairing), cause)

    def _slip(self, value: float) -> float:
        text = f"{value:.0f}"
        kind = self.random.integers(3)
        place = int(self.random.integers(len(text)))
        if kind == 0 and len(text) > 1 and text[0] != text[1]:
            swapped = text[1] + text[0] + text[2:]
            return float(swapped) if swapped[0] != "0" else value * 10
        if kind == 1:
            return float(text[:place] + text[place] + text[place:])
        return value * 10 if len(text) < 3 else float(text[:-1])

    def _name_for(self, pairing: Pairing) -> str | None:
        return pairing.lens.id.split("-")[0].upper() if self.body.setting_recorded_in == "lens-name" else None

    def _is_wrong(self, pairing: Pairing, position: float) -> bool:
        assert self.typed is not None
        return _wrong(self.typed.value_mm, pairing, position)

    def _expose(self, pairing: Pairing, position: float) -> None:
        lens = pairing.lens
        shot: dict[str, object] = {
            "captured_at": self.now, "model": self.body.exif_model, "true_lens": lens.id,
            "true_adapter": pairing.adapter_id, "true_run": f"{self.body.id}-{self.stays[-1:]}-{self.runs}",
            "true_focal_mm": position * pairing.factor,
        }  # fmt: skip
        if pairing.contacts:
            shot |= {
                "lens_model": lens.exif_names[0],
                "f_number": 5.6,
                "focal_length_mm": float(self.random.integers(14, 43)),
            }
            shot |= {"true_wrong": False, "true_cause": None, "true_focal_mm": shot["focal_length_mm"]}
        else:
            assert self.typed is not None
            wrong = self._is_wrong(pairing, position)
            shot |= {"lens_model": self.typed.name, "f_number": np.nan, "focal_length_mm": self.typed.value_mm}
            if self.body.setting_recorded_in == "lens-name":
                # Name and number are one entry of the list; both are stale when another lens goes on.
                shot["lens_model"] = f"{self.typed.name} {self.typed.value_mm:.0f}mm"
                shot["focal_length_mm"] = np.nan
            cause = self.typed.cause if self.typed.cause != "right" else "carried-over"
            shot |= {"true_wrong": wrong, "true_cause": cause if wrong else None}
        self.shots.append(shot)


def _wrong(value_mm: float, pairing: Pairing, position_mm: float) -> bool:
    """Outside the tolerance at every distance from infinity to close focus; v = f (1 + m), D = f (2 + m + 1/m)."""
    lens: Lens = pairing.lens
    assert lens.close_focus_m is not None
    ratio = lens.close_focus_m * 1000 / position_mm - 2
    magnification = (ratio - np.sqrt(ratio**2 - 4)) / 2 if ratio >= 2 else 0.15
    right = position_mm * pairing.factor
    return not right * (1 - TOLERANCE) <= value_mm <= right * (1 + magnification) * (1 + TOLERANCE)
