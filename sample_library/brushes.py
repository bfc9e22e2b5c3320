"""Brushes for made-up scenes: grain of materials, skies, hills, houses, boats, lamps, and water that mirrors them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageChops, ImageDraw, ImageFilter

__all__ = [
    "HOUSES",
    "HULLS",
    "LIGHTS",
    "Colour",
    "Sheet",
    "any_of",
    "boat",
    "cloth",
    "develop",
    "grain",
    "house",
    "lamp",
    "mirror",
    "new_sheet",
    "ridge",
    "sky",
]  # fmt: skip

Colour = tuple[int, int, int]
FloatArray = npt.NDArray[np.float32]


@dataclass(frozen=True)
class Light:
    """Sky from zenith to horizon, what the daylight does to each colour, and whether lamps are lit."""

    zenith: Colour
    horizon: Colour
    ambient: tuple[float, float, float]
    lamps: float


LIGHTS = {
    "morning": Light((122, 164, 204), (250, 226, 196), (1.03, 0.98, 0.90), 0.0),
    "day": Light((86, 142, 200), (214, 228, 236), (1.0, 1.0, 1.0), 0.0),
    "dusk": Light((58, 66, 116), (244, 152, 104), (0.74, 0.60, 0.66), 0.9),
    "night": Light((16, 22, 54), (84, 88, 140), (0.36, 0.38, 0.54), 1.0),
}


@dataclass(frozen=True)
class Sheet:
    """A scene being painted: what daylight shows, what shines by itself, and the dice."""

    base: Image.Image
    glow: Image.Image
    light: Light
    rng: np.random.Generator

    @property
    def width(self) -> int:
        """Width in px."""
        return self.base.width

    @property
    def height(self) -> int:
        """Height in px."""
        return self.base.height

    @property
    def draw(self) -> ImageDraw.ImageDraw:
        """A pen for what daylight shows."""
        return ImageDraw.Draw(self.base)

    @property
    def shine(self) -> ImageDraw.ImageDraw:
        """A pen for what shines by itself."""
        return ImageDraw.Draw(self.glow)


HOUSES: tuple[Colour, ...] = (
    (178, 62, 52), (226, 180, 92), (232, 226, 212), (94, 128, 148), (196, 112, 70), (120, 146, 108), (208, 150, 146),
)  # fmt: skip
HULLS: tuple[Colour, ...] = ((38, 70, 104), (168, 54, 46), (34, 92, 84), (224, 214, 190), (60, 60, 68), (206, 148, 60))


def any_of(sheet: Sheet, colours: tuple[Colour, ...]) -> Colour:
    """Return one of some colours, by the scene's dice."""
    return colours[int(sheet.rng.integers(len(colours)))]


def new_sheet(size: tuple[int, int], light: str, rng: np.random.Generator) -> Sheet:
    """Return an empty scene."""
    return Sheet(Image.new("RGB", size), Image.new("RGB", size), LIGHTS[light], rng)


def _shade(colour: Sequence[float], by: float) -> Colour:
    red, green, blue = (max(0, min(255, round(channel * by))) for channel in colour)
    return red, green, blue


def _mix(a: Colour, b: Colour, share: float) -> Colour:
    red, green, blue = (round(x + (y - x) * share) for x, y in zip(a, b, strict=True))
    return red, green, blue


def grain(size: tuple[int, int], rng: np.random.Generator, finest_px: float = 1.6, octaves: int = 5) -> FloatArray:
    """
    Return the grain of a material: noise of several sizes added up, finest as strong as coarsest ÷ 2.

    Shape (height, width), mean about 0, mostly within ±1.
    """
    width, height = size
    total = np.zeros((height, width), np.float32)
    for octave in range(octaves):
        cell = finest_px * 2.2**octave
        small = rng.integers(0, 256, (max(2, int(height / cell)), max(2, int(width / cell))), dtype=np.uint8)
        layer = Image.fromarray(small).resize((width, height), Image.Resampling.BILINEAR)
        total += (np.asarray(layer, np.float32) - 128) * ((0.55 + 0.1 * octave) / 128)
    return total / np.float32(math.sqrt(octaves) * 0.75)


def sky(sheet: Sheet, horizon_px: int) -> None:
    """Paint a sky down to the horizon, with clouds by day and stars by night."""
    light = sheet.light
    ramp = np.linspace(0, 1, max(2, horizon_px), dtype=np.float32)[:, None] ** 1.3
    colours = np.array(light.zenith, np.float32) * (1 - ramp) + np.array(light.horizon, np.float32) * ramp
    rows = np.repeat(colours[:, None, :], 16, axis=1)
    image = Image.fromarray(rows.astype(np.uint8)).resize((sheet.width, horizon_px))
    if light.lamps < 1:
        puffs = grain((sheet.width // 4, horizon_px // 4), sheet.rng, 9, 4)
        mask = Image.fromarray((np.clip(puffs - 0.2, 0, 0.6) * 300).astype(np.uint8)).resize(image.size)
        image.paste(Image.new("RGB", image.size, _mix(light.horizon, (255, 250, 244), 0.6)), (0, 0), mask)
    # The sky gives the light and is not dimmed by it: it is painted brighter by what developing takes away.
    sheet.base.paste(image, (0, 0))
    if light.lamps == 1:
        for x, y, level in sheet.rng.random((150, 3)):
            at, size = (x * sheet.width, y * horizon_px), 0.7 + 1.3 * level
            sheet.shine.ellipse((*at, at[0] + size, at[1] + size), fill=_shade((220, 226, 255), 0.35 + 0.65 * level))


def ridge(sheet: Sheet, base_px: float, rise_px: float, colour: Colour, rough: int = 9) -> None:
    """Paint a ridge of hills that fills everything below it."""
    count = 2**rough
    steps = np.cumsum(sheet.rng.standard_normal(count))
    steps -= np.linspace(steps[0], steps[-1], count)
    line = steps / max(1e-6, float(np.abs(steps).max())) * rise_px
    xs = np.linspace(0, sheet.width, count)
    points = [(float(x), float(base_px - y)) for x, y in zip(xs, line, strict=True)]
    outline = [*points, (sheet.width, sheet.height), (0, sheet.height)]
    sheet.draw.polygon(outline, fill=colour)
    sheet.shine.polygon(outline, fill=0)  # hides the stars behind it


def house(sheet: Sheet, box: tuple[float, float, float, float], colour: Colour) -> None:
    """Paint a gabled house front with windows; some are lit when lamps are."""
    left, top, right, bottom = box
    wide, eaves, pen = right - left, top + 0.28 * (bottom - top), sheet.draw
    pen.rectangle((left, eaves, right, bottom), fill=colour)
    sheet.shine.rectangle((left, eaves, right, bottom), fill=0)
    for course in np.arange(eaves, bottom, max(3.0, wide / 26)):  # clapboard
        pen.line((left, course, right, course), fill=_shade(colour, 0.86))
    roof = _shade((92, 58, 50), float(sheet.rng.uniform(0.75, 1.25)))
    pen.polygon([(left - 0.04 * wide, eaves), ((left + right) / 2, top), (right + 0.04 * wide, eaves)], fill=roof)
    columns, rows = max(2, int(sheet.rng.integers(2, 4))), max(2, int((bottom - eaves) / wide * 2.4))
    for row in range(rows):
        for column in range(columns):
            x = left + wide * (column + 0.5) / columns - 0.09 * wide
            y = eaves + (bottom - eaves) * (row + 0.25) / rows
            pane = (x, y, x + 0.18 * wide, y + 0.42 * (bottom - eaves) / rows)
            pen.rectangle(pane, fill=(46, 54, 66), outline=(236, 232, 222), width=max(1, int(wide / 60)))
            if sheet.rng.random() < 0.55 * sheet.light.lamps:
                sheet.shine.rectangle(pane, fill=_shade((255, 196, 110), float(sheet.rng.uniform(0.6, 1.0))))
            middle = (pane[0] + pane[2]) / 2
            pen.line((middle, pane[1], middle, pane[3]), fill=(236, 232, 222), width=max(1, int(wide / 90)))
            sheet.shine.line((middle, pane[1], middle, pane[3]), fill=(0, 0, 0), width=max(1, int(wide / 90)))


def boat(sheet: Sheet, at: tuple[float, float], length_px: float, colour: Colour, lanterns: int = 0) -> None:
    """Paint a sailing boat with mast and rigging; lanterns hang from it when asked for."""
    x, water = at
    draught, pen = 0.16 * length_px, sheet.draw
    hull = [
        (x, water - draught),
        (x + length_px, water - 1.25 * draught),
        (x + 0.86 * length_px, water),
        (x + 0.1 * length_px, water),
    ]
    pen.polygon(hull, fill=colour)
    sheet.shine.polygon(hull, fill=0)
    line = max(1, int(length_px / 130))
    pen.line((x, water - draught, x + length_px, water - 1.25 * draught), fill=(240, 236, 224), width=3 * line)
    pen.line(
        (x + 0.05 * length_px, water - 0.5 * draught, x + 0.92 * length_px, water - 0.55 * draught),
        fill=_shade(colour, 0.7),
        width=line,
    )
    cabin = (x + 0.2 * length_px, water - 2.0 * draught, x + 0.42 * length_px, water - 1.05 * draught)
    pen.rectangle(cabin, fill=(232, 226, 210))
    pen.rectangle(
        (cabin[0] + 0.03 * length_px, cabin[1] + 0.2 * draught, cabin[2] - 0.03 * length_px, cabin[1] + 0.6 * draught),
        fill=(40, 52, 66),
    )
    mast, top = x + 0.55 * length_px, water - (1.1 + 0.3 * sheet.rng.random()) * length_px
    pen.line((mast, water - draught, mast, top), fill=(150, 112, 72), width=2 * line)
    for foot in (x + 0.02 * length_px, x + 0.98 * length_px, x + 0.3 * length_px, x + 0.8 * length_px):
        pen.line((mast, top, foot, water - 1.1 * draught), fill=(70, 66, 62), width=line)
    pen.polygon(
        [(mast, top), (mast, top + 0.05 * length_px), (mast + 0.1 * length_px, top + 0.02 * length_px)],
        fill=(196, 60, 52),
    )
    for k in range(lanterns):
        share = (k + 0.5) / lanterns
        at_x, at_y = x + share * length_px, water - draught * (1.5 + 3.4 * math.sin(math.pi * share))
        lamp(sheet, (at_x, at_y), 0.025 * length_px, [(255, 150, 70), (255, 206, 110), (240, 96, 84)][k % 3])


def lamp(sheet: Sheet, at: tuple[float, float], radius_px: float, colour: Colour = (255, 206, 130)) -> None:
    """Paint a lamp with ribs; it shines when lamps are lit."""
    x, y = at
    box = (x - radius_px, y - 1.15 * radius_px, x + radius_px, y + 1.15 * radius_px)
    sheet.draw.ellipse(box, fill=_shade(colour, 0.8))
    if sheet.light.lamps:
        sheet.shine.ellipse(box, fill=_shade(colour, sheet.light.lamps))
    for share in (-0.5, 0.0, 0.5):
        half = 1.15 * radius_px * math.sqrt(1 - share * share)
        rib = (x + share * radius_px, y - half, x + share * radius_px, y + half)
        sheet.shine.line(rib, fill=_shade(colour, 0.55 * sheet.light.lamps), width=max(1, int(radius_px / 9)))
    sheet.draw.line(
        (x, y - 1.15 * radius_px, x, y - 1.6 * radius_px), fill=(50, 44, 40), width=max(1, int(radius_px / 6))
    )


def cloth(sheet: Sheet, box: tuple[float, float, float, float], colours: Sequence[Colour], stripes: int) -> None:
    """Paint a striped awning with a scalloped edge."""
    left, top, right, bottom = box
    step = (right - left) / stripes
    for k in range(stripes):
        colour, x = colours[k % len(colours)], left + k * step
        sheet.draw.rectangle((x, top, x + step, bottom), fill=colour)
        sheet.draw.ellipse((x, bottom - step / 2, x + step, bottom + step / 2), fill=_shade(colour, 0.9))


def mirror(sheet: Sheet, waterline_px: int, tint: Colour, strength: float = 0.62) -> None:
    """Fill everything below a line with water that mirrors what is above it, rippled."""
    depth = sheet.height - waterline_px
    reach = min(depth, waterline_px)
    rows = np.arange(depth)
    ripple = sheet.rng.standard_normal(depth // 3 + 2).repeat(3)[:depth] * (1 + rows / depth * sheet.width / 90)
    pick = np.clip(waterline_px - 1 - rows * reach // depth, 0, waterline_px - 1)
    columns = (np.arange(sheet.width)[None, :] + np.rint(ripple).astype(np.int64)[:, None]) % sheet.width
    for layer, fade in ((sheet.base, strength), (sheet.glow, 0.55)):
        above = np.asarray(layer)
        water = above[pick[:, None], columns].astype(np.float32) * fade
        if layer is sheet.base:
            water += np.array(tint, np.float32) * (1 - fade)
            waves = grain((sheet.width // 3, depth), sheet.rng, 1.8, 3)
            streaks = np.asarray(Image.fromarray(waves).resize((sheet.width, depth), Image.Resampling.BILINEAR))
            water *= 1 + 0.22 * streaks[:, :, None]
        layer.paste(Image.fromarray(np.clip(water, 0, 255).astype(np.uint8)), (0, waterline_px))


def develop(sheet: Sheet, rough: float = 0.13) -> Image.Image:
    """Return the finished scene: grain of the materials, daylight, lamps, and what the lamps light up around them."""
    texture = 1 + rough * grain(sheet.base.size, sheet.rng, 1.5, 2)
    light = np.array(sheet.light.ambient, np.float32)
    if not sheet.light.lamps:
        return _toned(np.asarray(sheet.base, np.float32) * texture[:, :, None] * light)
    small = sheet.glow.resize((sheet.width // 8, sheet.height // 8), Image.Resampling.BOX)
    near = small.filter(ImageFilter.GaussianBlur(small.width / 60)).resize(sheet.base.size, Image.Resampling.BILINEAR)
    far = small.filter(ImageFilter.GaussianBlur(small.width / 9)).resize(sheet.base.size, Image.Resampling.BILINEAR)
    # However many lamps, a lit wall is no brighter than by day.
    lit = light + (1 - light) * (1 - np.exp(np.asarray(far, np.float32) * np.float32(-12 / 255)))
    picture = _toned(np.asarray(sheet.base, np.float32) * texture[:, :, None] * lit)
    return ImageChops.add(ImageChops.screen(picture, near), sheet.glow)


def _toned(levels: FloatArray) -> Image.Image:
    return Image.fromarray(np.clip(levels, 0, 255).astype(np.uint8))
