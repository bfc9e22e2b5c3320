"""What the darkroom does to a picture, measured in the picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from sample_library import SampleLibrary
from sample_library.darkroom import SPARE, Darkroom, encode, shake_kernel, shaken, take_picture
from sample_library.scenes import PAINTERS, paint
from sample_library.shots import PICTURE_PX, Shot
from sample_library.story import load_story
from tests.sample_library.conftest import Scenario, file_of


@pytest.mark.parametrize("length_px", [0.5, 2.0, 5.3, 14.0])
@pytest.mark.parametrize("direction_deg", [0.0, 30.0, 90.0, 135.0])
def test_a_trace_has_its_weight_length_and_direction(length_px: float, direction_deg: float) -> None:
    """A straight trace has variance L²/12 along it; laying it on a grid bilinearly adds at most 1/4 px² a direction."""
    kernel = shake_kernel(length_px, direction_deg).astype(np.float64)
    rows, columns = np.indices(kernel.shape)
    x, y = columns - columns.mean(), -(rows - rows.mean())
    along = x * np.cos(np.radians(direction_deg)) + y * np.sin(np.radians(direction_deg))
    across = -x * np.sin(np.radians(direction_deg)) + y * np.cos(np.radians(direction_deg))

    assert kernel.sum() == pytest.approx(1, abs=1e-6)
    assert (kernel * along).sum() == pytest.approx(0, abs=1e-6)
    assert 0 <= (kernel * along**2).sum() - (length_px**2 / 12) <= 0.25 + 1e-6
    assert 0 <= (kernel * across**2).sum() <= 0.25 + 1e-6


def test_shaking_keeps_the_light() -> None:
    """A bright point on black: the squares of the levels, linear light, add up to what they were."""
    levels = np.zeros((31, 31, 3), np.uint8)
    levels[15, 15] = 250

    smeared = np.asarray(shaken(Image.fromarray(levels), shake_kernel(6.0, 0.0)), np.float64)

    assert (smeared**2).sum() == pytest.approx((levels.astype(float) ** 2).sum(), rel=0.02)
    assert set(np.argwhere(smeared[:, :, 0])[:, 0]) == {15}


def _ramp_room(width_px: int, widest_mm: float) -> Darkroom:
    """Return a scene whose grey level says how far to the right it is, with no noise."""
    ramp = np.tile(np.linspace(0, 255, width_px), (width_px * 3 // 4, 1)).astype(np.uint8)
    scene = Image.merge("RGB", [Image.fromarray(ramp)] * 3)
    calm = Image.new("RGB", (900, 900), (128, 128, 128))
    return Darkroom({"ramp": scene}, {"ramp": widest_mm}, dict.fromkeys((200, 400, 800, 1600), calm))


def _ramp_span(shot: Shot, room: Darkroom) -> float:
    levels = np.asarray(
        take_picture(replace(shot, scene="ramp", shake_px=0.0, defocus_px=0.0, vertical=False), room, 7)
    )
    middle = levels[PICTURE_PX[1] // 2, :, 0].astype(float)
    return float(middle[-6] - middle[5])


def test_twice_the_focal_length_sees_half_as_much(first_scenario: Scenario) -> None:
    shot = replace(first_scenario.shots[0], pan=(0.0, 0.0))
    room = _ramp_room(1600, 40.0)

    wide, tele = (_ramp_span(replace(shot, right_mm=focal), room) for focal in (40.0, 80.0))

    assert wide / tele == pytest.approx(2.0, rel=0.03)  # grey levels are whole: ± 1 in about 100
    assert wide == pytest.approx(255 / SPARE * (PICTURE_PX[0] - 11) / PICTURE_PX[0], abs=2.5)


def _on_disk(library: SampleLibrary, shot: Shot) -> Image.Image:
    with Image.open(file_of(library, shot.path)) as picture:
        return picture.convert("RGB")


def _steepest(picture: Image.Image) -> tuple[float, float]:
    """Return the steepest slopes of a picture, along its rows and along its columns, above the noise."""
    grey = np.asarray(picture.convert("L"), np.float64)[8:-8, 8:-8]
    along_rows, along_columns = (np.percentile(np.abs(np.diff(grey, axis=axis)), 99.5) for axis in (1, 0))
    return float(along_rows), float(along_columns)


def test_pictures_on_disk_are_shaken_as_the_answers_say(
    library: SampleLibrary, first_scenario: Scenario, room: Darkroom
) -> None:
    """Against the same exposure held still, slopes along the shake are gentler, and gentler than those across it."""
    shaken_shots = [
        shot
        for shot in first_scenario.shots
        if shot.shake_px > 2.4 and not shot.vertical and not shot.defocus_px and not shot.path.endswith("DNG")
    ]
    level = [shot for shot in shaken_shots if min(shot.shake_deg, 180 - shot.shake_deg) < 15]
    upright = [shot for shot in shaken_shots if abs(shot.shake_deg - 90) < 15]
    assert len(level) >= 3
    assert len(upright) >= 3
    for shots, along in ((level, 0), (upright, 1)):
        for shot in shots:
            still = _steepest(take_picture(replace(shot, shake_px=0.0), room, first_scenario.seed))
            moved = _steepest(_on_disk(library, shot))
            assert moved[along] < 0.75 * still[along], shot.path
            assert moved[along] / still[along] < 0.95 * moved[1 - along] / still[1 - along], shot.path


def test_missed_focus_is_soft_both_ways(library: SampleLibrary, first_scenario: Scenario, room: Darkroom) -> None:
    missed = [s for s in first_scenario.shots if s.defocus_px and not s.vertical and not s.path.endswith("DNG")]
    assert missed
    for shot in missed:
        sharp = _steepest(take_picture(replace(shot, shake_px=0.0, defocus_px=0.0), room, first_scenario.seed))
        soft = _steepest(_on_disk(library, shot))
        assert max(soft[0] / sharp[0], soft[1] / sharp[1]) < 0.75, shot.path


def test_neighbours_across_a_lens_change_show_the_same_scene(first_scenario: Scenario) -> None:
    for earlier, later in (
        ("vell-fold-sixty", "vell-fold-unsaid"),
        ("ferry-deck", "forgotten-setting"),
        ("skerra-pier-fifty", "skerra-pier-wider"),
        ("forgotten-setting", "ferry-home"),
    ):
        last = [shot for shot in first_scenario.shots if shot.segment.id == earlier][-1]
        first = next(shot for shot in first_scenario.shots if shot.segment.id == later)
        assert last.scene == first.scene
        assert not np.isclose(last.right_mm, first.right_mm, rtol=0.2)


STORY_SCENES = sorted({(scene.painter, scene.light) for scene in load_story().scenes.values()})


def test_every_painter_is_used() -> None:
    assert {painter for painter, _ in STORY_SCENES} == set(PAINTERS)


@pytest.mark.parametrize(("painter", "light"), STORY_SCENES)
def test_every_scene_has_edges_to_measure(painter: str, light: str) -> None:
    scene = paint(painter, light, (480, 360), np.random.default_rng(3))
    grey = np.asarray(scene.convert("L"), np.float64)

    assert scene.size == (480, 360)
    assert grey.std() > 12
    assert np.percentile(np.abs(np.diff(grey, axis=1)), 99) > 12
    assert len(encode(scene)) > 8000
