"""Which frames are set beside which: of one moment and one body, alike but not the same, and not blurred as a whole."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from auditor.audit.siblings import EASILY_LAID, LEAST_ALIKE, MOST_ALIKE, around, sibling_of
from auditor.vision.likeness import likeness


def shot(seconds: list[float | None], **columns: object) -> pd.DataFrame:
    start = pd.Timestamp("2026-05-02 10:00:00")
    times = [start + pd.Timedelta(seconds=one) if one is not None else pd.NaT for one in seconds]
    plain = {
        "archive": "main",
        "path": [f"{number:02}.jpg" for number in range(len(seconds))],
        "captured_at": pd.Series(times, dtype="datetime64[us]"),
        "model": "Silverline 2",
        "body_serial_number": None,
        "photographic_sensitivity": 200,
        "offset_minutes": None,
    }
    return pd.DataFrame(plain | columns)


def test_two_before_and_two_after_the_nearest_first() -> None:
    near = around(shot([0, 10, 20, 30, 40]))
    assert near[2] == (1, 3, 0, 4)
    assert near[0] == (1, 2)


def test_a_longer_pause_another_body_lens_or_iso_or_no_time_keeps_frames_apart() -> None:
    assert around(shot([0, 61])) == [(), ()]
    assert around(shot([0, 5], model=["Silverline 2", "Other"])) == [(), ()]
    assert around(shot([0, 5], lens=["hale-85", "hale-50"])) == [(), ()]
    assert around(shot([0, 5], photographic_sensitivity=[200, 1600])) == [(), ()]
    assert around(shot([None, None])) == [(), ()]
    assert around(shot([0, 5], photographic_sensitivity=[200, 800])) == [(1,), (0,)]


def picture(change: float) -> np.ndarray:
    random = np.random.default_rng(3)
    first, second = random.normal(size=(2, 21, 32))
    return np.clip(128 + 30 * (first + change * second), 0, 255).astype(np.uint8)


SAME, ALIKE, LESS_ALIKE, FAR, OTHER = (picture(change) for change in (0.02, 0.4, 0.7, 1.2, 9.0))


def test_the_pictures_are_what_they_are_called() -> None:
    assert likeness(picture(0), SAME) > MOST_ALIKE
    assert EASILY_LAID < likeness(picture(0), LESS_ALIKE) < likeness(picture(0), ALIKE) < MOST_ALIKE
    assert LEAST_ALIKE < likeness(picture(0), FAR) < EASILY_LAID
    assert likeness(picture(0), OTHER) < LEAST_ALIKE


@pytest.mark.parametrize(
    ("others", "kinds", "chosen"),
    [
        ([SAME, ALIKE, LESS_ALIKE, OTHER], ["sharp"] * 4, 3),  # all but the same: nothing changed its place
        ([ALIKE, FAR], ["sharp", "sharp"], 1),  # not so easily laid over it
        ([FAR, OTHER], ["sharp", "sharp"], 1),
        ([ALIKE, LESS_ALIKE], ["unknown", "sharp"], 2),  # a sharp one first
        ([ALIKE, LESS_ALIKE], ["shake", "unknown"], 2),
        ([ALIKE, ALIKE], ["sharp", "sharp"], 1),  # the first of two that are as good
        ([ALIKE, LESS_ALIKE], ["shake", "missed-focus"], None),
        ([SAME, OTHER, None, ALIKE.T.copy()], ["sharp"] * 4, None),
        ([], [], None),
    ],
)
def test_the_sibling_is_a_sharp_one_that_differs_and_can_be_laid_over_the_frame(
    others: list[np.ndarray | None], kinds: list[str], chosen: int | None
) -> None:
    near = range(1, len(others) + 1)
    assert sibling_of(0, near, [picture(0), *others], ["sharp", *kinds]) == chosen


def test_a_frame_that_is_blurred_or_has_no_picture_is_set_beside_none() -> None:
    assert sibling_of(0, [1], [picture(0), ALIKE], ["shake", "sharp"]) is None
    assert sibling_of(0, [1], [None, ALIKE], ["sharp", "sharp"]) is None
