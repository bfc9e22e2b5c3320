"""Scenes, sharpness inside them, and the pairs of frames worth comparing."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from auditor.audit.scenes import Crispness, add_scene, add_sharpness_in_scene, pairs_across_changes

HERE = np.tile(np.arange(0, 128, 4, dtype=np.uint8), (21, 1))
ELSEWHERE = np.ascontiguousarray(np.random.default_rng(1).integers(0, 255, (21, 32)), np.uint8)


def frames(rows: list[dict[str, object]]) -> pd.DataFrame:
    plain: dict[str, object] = {
        "archive": "main",
        "model": "Silverline 2",
        "body_serial_number": None,
        "lens_model": None,
        "f_number": None,
        "focal_length_mm": 50.0,
        "photographic_sensitivity": 200,
        "captured_at": None,
    }
    table = pd.DataFrame([{**plain, "path": f"{number}.jpg", **row} for number, row in enumerate(rows)])
    table["captured_at"] = pd.to_datetime(table["captured_at"])
    return table


def scenes(rows: list[dict[str, object]], pictures: list[np.ndarray | None] | None = None) -> list[str | None]:
    table = frames(rows)
    return add_scene(table, pictures or [HERE] * len(rows))["scene"].tolist()


def at(second: float) -> dict[str, object]:
    return {"captured_at": pd.Timestamp("2026-05-02 10:00") + pd.Timedelta(seconds=second)}


def test_a_burst_is_one_scene_named_after_its_first_frame() -> None:
    assert scenes([at(0), at(1), at(50)]) == ["main/0.jpg"] * 3


@pytest.mark.parametrize(
    "other",
    [
        at(61),
        {**at(1), "focal_length_mm": 85.0},
        {**at(1), "lens_model": "Orla 50"} | {"focal_length_mm": 35.0},
        {**at(1), "photographic_sensitivity": 1600},
        {**at(1), "model": "Nightline 1"},
        {"captured_at": None},
    ],
)
def test_what_begins_another_scene(other: dict[str, object]) -> None:
    assert len(set(scenes([at(0), other]))) == 2


def test_another_picture_begins_another_scene() -> None:
    assert len(set(scenes([at(0), at(1)], [HERE, ELSEWHERE]))) == 2


def test_frames_without_times_need_all_but_identical_neighbours_in_one_folder() -> None:
    assert len(set(scenes([{}, {}]))) == 1
    assert len(set(scenes([{"path": "a/1.jpg"}, {"path": "b/1.jpg"}]))) == 2


def test_iso_may_differ_by_two_stops_from_the_first_frame_at_most() -> None:
    rows = [{**at(n), "photographic_sensitivity": iso} for n, iso in enumerate((200, 800, 1600))]
    assert scenes(rows) == ["main/0.jpg", "main/0.jpg", "main/2.jpg"]
    unknown = [{**at(0), "photographic_sensitivity": None}, at(1)]
    assert len(set(scenes(unknown))) == 1


def test_a_frame_that_was_not_decoded_has_no_scene_and_does_not_part_its_neighbours() -> None:
    assert scenes([at(0), at(1), at(2)], [HERE, None, HERE]) == ["main/0.jpg", None, "main/0.jpg"]


def test_rows_and_their_order_stay() -> None:
    table = frames([at(5), at(0), at(3)])
    found = add_scene(table, [HERE] * 3)
    assert found["path"].tolist() == table["path"].tolist()
    assert set(found["scene"]) == {"main/1.jpg"}
    assert "scene" not in table


def test_raw_sharpness_is_shown_nowhere() -> None:
    raw = Crispness([0.123, 0.3], [1.0, 2.0])
    assert "0.123" not in repr(raw)
    with pytest.raises(TypeError):
        assert raw < raw  # type: ignore[operator]


def test_sharpness_in_scene_is_the_ratio_to_the_crispest_of_that_scene_only() -> None:
    table = frames([at(0), at(1), at(500)]).assign(scene=["a", "a", None])
    found = add_sharpness_in_scene(table, Crispness([0.2, 0.4, 0.9], [1, 1, 1]))
    assert found["sharpness_in_scene"].tolist()[:2] == [0.5, 1.0]
    assert pd.isna(found["sharpness_in_scene"].iloc[2])


def test_a_scene_with_too_few_edges_somewhere_is_ranked_by_gradients_throughout() -> None:
    raw = Crispness([0.4, np.nan, 0.3], [10.0, 4.0, 8.0])
    assert raw.within(["a"] * 3).tolist() == [1.0, 0.4, 0.8]


def test_pairs_only_across_pauses_that_suffice_to_change_a_lens() -> None:
    rows = [at(0), at(1), at(60), at(61), at(62), at(2000)]
    assert pairs_across_changes(frames(rows)) == [(1, 2), (1, 3)]


def test_the_second_pair_may_lie_before_the_pause() -> None:
    assert pairs_across_changes(frames([at(0), at(1), at(60)])) == [(1, 2), (0, 2)]
    assert pairs_across_changes(frames([at(0), at(60)])) == [(0, 1)]


def test_no_pair_where_both_sides_are_settled() -> None:
    known = {"lens_model": "Own 25", "f_number": 2.8}
    assert pairs_across_changes(frames([{**at(0), **known}, {**at(60), **known}])) == []
    assert pairs_across_changes(frames([{**at(0), **known}, at(60)])) == [(0, 1)]
    sure = frames([at(0), at(60)]).assign(pairing_confidence=[0.99, 0.98])
    assert pairs_across_changes(sure) == []
    assert pairs_across_changes(sure.assign(pairing_confidence=[0.99, np.nan])) == [(0, 1)]


def test_no_pair_between_two_bodies_or_without_times() -> None:
    assert pairs_across_changes(frames([at(0), {**at(60), "model": "Nightline 1"}])) == []
    assert pairs_across_changes(frames([{}, {}])) == []
