"""From a painted scene to the picture a body writes: view, focus, shake, noise, JPEG."""

from __future__ import annotations

import io
import math
import zlib
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageChops, ImageFilter

from sample_library.scenes import paint
from sample_library.shots import PICTURE_PX, Shot
from sample_library.story import Story

__all__ = ["Darkroom", "encode", "open_darkroom", "shake_kernel", "shaken", "take_picture"]

SPARE = 1.18
"""The painted scene is this much wider than the widest lens sees, so that the camera can point elsewhere."""

OVERSAMPLING = 1.25
"""Painted px for one px of the longest lens used on the scene."""

WIDEST_SCENE_PX = 2400
JPEG_QUALITY = 78
NOISE_LEVELS = {200: 1.2, 400: 1.7, 800: 2.6, 1600: 3.8}
"""Standard deviation of the noise in 8-bit levels, by ISO. Invented."""

_NOISE_TILE_PX = 900


class Darkroom:
    """The painted scenes, each with the focal length it was painted for, and the noise."""

    def __init__(
        self, scenes: Mapping[str, Image.Image], widest_mm: Mapping[str, float], noise: Mapping[int, Image.Image]
    ):
        self.scenes = scenes
        self.widest_mm = widest_mm
        self.noise = noise


def _noise_tile(level: float, rng: np.random.Generator) -> Image.Image:
    """Return noise around 128, softened a little as demosaicing does."""
    white = rng.standard_normal((_NOISE_TILE_PX, _NOISE_TILE_PX)).astype(np.float32)
    soft = (white + 0.5 * np.roll(white, 1, 0) + 0.5 * np.roll(white, 1, 1)) / np.float32(math.sqrt(1.5))
    tile = Image.fromarray(np.clip(128 + level * soft, 0, 255).astype(np.uint8))
    return Image.merge("RGB", (tile, tile, tile))


def open_darkroom(shots: Sequence[Shot], story: Story, seed: int) -> Darkroom:
    """Paint every scene as large as the longest lens used on it asks for."""
    used: dict[str, list[Shot]] = {}
    for shot in shots:
        used.setdefault(shot.scene, []).append(shot)
    scenes, widest_mm = {}, {}
    for name, views in used.items():
        focal = [shot.right_mm for shot in views]
        widest_mm[name] = min(focal)
        width = min(WIDEST_SCENE_PX, round(PICTURE_PX[0] * OVERSAMPLING * SPARE * max(focal) / min(focal)))
        height = width if any(shot.vertical for shot in views) else width * 3 // 4
        rng = np.random.default_rng([seed, zlib.crc32(name.encode()), 3])
        scenes[name] = paint(story.scenes[name].painter, story.scenes[name].light, (width, height), rng)
    noise = {iso: _noise_tile(level, np.random.default_rng([seed, iso])) for iso, level in NOISE_LEVELS.items()}
    return Darkroom(scenes, widest_mm, noise)


def _view(shot: Shot, room: Darkroom, rng: np.random.Generator) -> Image.Image:
    """Return what the lens sees of the scene: half the focal length, twice as much."""
    scene = room.scenes[shot.scene]
    long_px = scene.width / SPARE * room.widest_mm[shot.scene] / shot.right_mm
    short_px = long_px * PICTURE_PX[1] / PICTURE_PX[0]
    wide, tall = (short_px, long_px) if shot.vertical else (long_px, short_px)
    wobble = rng.uniform(-0.004, 0.004, 2)
    spare = ((scene.width - wide) / 2, (scene.height - tall) / 2)
    left, top = (
        float(np.clip(room_px * (1 + 0.9 * aim) + at * long_px, 0, 2 * room_px))
        for room_px, aim, at in zip(spare, shot.pan, wobble, strict=True)
    )
    size = (PICTURE_PX[1], PICTURE_PX[0]) if shot.vertical else PICTURE_PX
    return scene.resize(size, Image.Resampling.BICUBIC, box=(left, top, left + wide, top + tall))


def shake_kernel(length_px: float, direction_deg: float) -> npt.NDArray[np.float32]:
    """
    Return the trace of a steady, straight shake as weights that sum to 1.

    ``direction_deg`` counts counter-clockwise from the horizontal; rows go down.

    Examples
    --------
    >>> np.round(shake_kernel(2.0, 0.0), 2).tolist()
    [[0.25, 0.5, 0.25]]
    """
    turn = math.radians(direction_deg)
    steps = max(2, math.ceil(length_px * 8))
    along = (np.arange(steps) + 0.5) / steps - 0.5
    xs, ys = along * length_px * math.cos(turn), -along * length_px * math.sin(turn)
    reach_x, reach_y = math.ceil(abs(xs).max() - 1e-9), math.ceil(abs(ys).max() - 1e-9)
    kernel = np.zeros((2 * reach_y + 2, 2 * reach_x + 2), np.float64)
    column, row = np.floor(xs).astype(int), np.floor(ys).astype(int)
    over_x, over_y = xs - column, ys - row
    for dx, dy, weight in (
        (0, 0, (1 - over_x) * (1 - over_y)), (1, 0, over_x * (1 - over_y)),
        (0, 1, (1 - over_x) * over_y), (1, 1, over_x * over_y),
    ):  # fmt: skip
        np.add.at(kernel, (row + dy + reach_y, column + dx + reach_x), weight)
    return (kernel[: 2 * reach_y + 1, : 2 * reach_x + 1] / steps).astype(np.float32)


def shaken(picture: Image.Image, kernel: npt.NDArray[np.float32]) -> Image.Image:
    """Return a picture smeared along a trace, in linear light (gamma 2 is near enough for a made-up scene)."""
    levels = np.asarray(picture, np.float32)
    reach_y, reach_x = kernel.shape[0] // 2, kernel.shape[1] // 2
    linear = np.pad(levels * levels, ((reach_y, reach_y), (reach_x, reach_x), (0, 0)), mode="edge")
    height, width = levels.shape[:2]
    total = np.zeros_like(levels)
    for row, column in np.argwhere(kernel > 0):
        total += kernel[row, column] * linear[row : row + height, column : column + width]
    return Image.fromarray(np.sqrt(total).round().astype(np.uint8))


def take_picture(shot: Shot, room: Darkroom, seed: int) -> Image.Image:
    """Return the picture of a shot, upright."""
    rng = np.random.default_rng([seed, zlib.crc32(shot.path.encode()), 4])
    picture = _view(shot, room, rng)
    if shot.defocus_px:
        picture = picture.filter(ImageFilter.GaussianBlur(shot.defocus_px))
    if shot.shake_px > 0.3:
        picture = shaken(picture, shake_kernel(shot.shake_px, shot.shake_deg))
    left, top = (int(rng.integers(0, _NOISE_TILE_PX - side)) for side in picture.size)
    noise = room.noise[shot.segment.iso].crop((left, top, left + picture.width, top + picture.height))
    return ImageChops.add(picture, noise, scale=1, offset=-128)


def encode(picture: Image.Image) -> bytes:
    """Return a picture as JPEG, without any metadata of ours."""
    stream = io.BytesIO()
    picture.save(stream, "JPEG", quality=JPEG_QUALITY)
    return stream.getvalue()
