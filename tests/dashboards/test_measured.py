from __future__ import annotations

import dataclasses

import pyarrow as pa

from auditor.model.tables import MEASURES
from dashboards.app import turn_to
from dashboards.desk import Desk, desk_of
from dashboards.measured import MEASURED, measures_beside, sharpest_of_scene
from dashboards.thumbnails import key_of
from tests.dashboards.desks import KIT, audit_table, frames_table
from tests.dashboards.test_app import text_of

FRAMES = frames_table([{"path": f"{n}.jpg", "exposure_time_s": 1 / 8} for n in range(5)])
ROWS = [
    {"path": "3.jpg", "scene": "one", "sharpness_in_scene": 1.0, "blur_kind": "sharp", "blur_confidence": 0.9},
    {"path": "1.jpg", "scene": "one", "sharpness_in_scene": 0.4, "blur_kind": "shake", "blur_confidence": 0.8,
     "shake_length_px": 6.04},
    {"path": "0.jpg", "scene": "one", "sharpness_in_scene": 0.7, "blur_kind": "sharp", "blur_confidence": 0.6},
    {"path": "4.jpg", "scene": "two", "blur_kind": "unknown"},
]  # fmt: skip


def measured_desk() -> Desk:
    measures = pa.Table.from_pylist([{"archive": "main", **row} for row in ROWS], schema=MEASURES).select(
        list(MEASURED)
    )
    desk = desk_of(FRAMES, audit_table([]), KIT)
    return dataclasses.replace(desk, measures=measures_beside(FRAMES, measures))


def test_measures_lie_in_the_order_of_the_frames() -> None:
    measures = measured_desk().measures
    assert measures["blur_kind"].astype("str").tolist()[:2] == ["sharp", "shake"]
    assert measures["blur_kind"].isna().tolist() == [False, False, True, False, False]
    assert list(measures_beside(FRAMES, MEASURES.empty_table().select(list(MEASURED))).columns) == []


def test_the_sharpest_other_frame_of_the_scene_is_found() -> None:
    measures = measured_desk().measures
    found = sharpest_of_scene(measures, 1)
    assert found is not None
    assert (found.place, found.frames) == (3, 3)
    assert sharpest_of_scene(measures, 3).place == 0  # type: ignore[union-attr]


def test_a_frame_alone_or_unmeasured_has_none_beside_it() -> None:
    measures = measured_desk().measures
    assert sharpest_of_scene(measures, 2) is None
    assert sharpest_of_scene(measures, 4) is None
    assert sharpest_of_scene(desk_of(FRAMES, audit_table([])).measures, 0) is None


def test_a_frames_page_sets_the_sharpest_beside_it() -> None:
    desk = measured_desk()
    told = text_of(turn_to(desk, "/frame", f"?at={key_of(desk, 1)}")[0])
    for words in (
        "The sharpest other of its scene",
        "3.jpg",
        "Blurred by shake, 80 % sure",
        "6.0 px",
        "40 % of the crispest",
    ):
        assert words in told
    assert "The next sharpest" in text_of(turn_to(desk, "/frame", f"?at={key_of(desk, 3)}")[0])
    assert "In the picture" not in text_of(turn_to(desk, "/frame", f"?at={key_of(desk, 2)}")[0])


def test_where_nothing_is_told_nothing_is_sure() -> None:
    desk = measured_desk()
    told = text_of(turn_to(desk, "/frame", f"?at={key_of(desk, 4)}")[0])
    assert "In the picture" in told
    assert "sure" not in told.split("In the picture", 1)[1][:40]
