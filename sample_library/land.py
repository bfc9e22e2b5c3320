"""Scenes on land: hills, streets, a tower."""

from __future__ import annotations

import math

import numpy as np

from sample_library import brushes
from sample_library.brushes import Colour, Sheet

__all__ = ["hills", "street", "tower"]


def _walls(sheet: Sheet, base: float, level: int) -> None:
    """Paint dry walls, each a row of stones."""
    width, height = sheet.width, sheet.height
    for _ in range(2 + 3 * level):
        x, y = sheet.rng.uniform(0, width), base + height * sheet.rng.uniform(0.03, 0.12)
        slope, run = sheet.rng.uniform(-0.25, 0.25), width * sheet.rng.uniform(0.06, 0.26)
        stone = max(2.0, width * 0.0022 * (level + 1))
        for step in np.arange(0, run, 1.25 * stone):
            grey = int(sheet.rng.integers(120, 205))
            at = (x + step, y + slope * step)
            sheet.draw.ellipse((*at, at[0] + 1.3 * stone, at[1] + stone), fill=(grey, grey - 6, grey - 14))


def _trees_and_sheep(sheet: Sheet, base: float, level: int) -> None:
    width, height = sheet.width, sheet.height
    for _ in range(6 + 4 * level):
        x, y = sheet.rng.uniform(0, width), base + height * sheet.rng.uniform(0.0, 0.11)
        size = width * 0.006 * (1 + level) * sheet.rng.uniform(0.6, 1.3)
        if sheet.rng.random() < 0.6:
            sheet.draw.line((x, y, x, y - 1.5 * size), fill=(76, 58, 44), width=max(1, int(size / 5)))
            for leaf in sheet.rng.normal(0, 0.42, (44, 2)):
                spot = (x + (leaf[0] - 0.25) * size, y - 1.9 * size + leaf[1] * size)
                shade = int(sheet.rng.integers(52, 108))
                sheet.draw.ellipse(
                    (*spot, spot[0] + size / 2, spot[1] + size / 2.4), fill=(shade - 18, shade + 18, shade // 2)
                )
        else:
            sheet.draw.ellipse((x, y, x + size, y + 0.6 * size), fill=(238, 234, 222))
            sheet.draw.ellipse((x + 0.85 * size, y, x + 1.15 * size, y + 0.3 * size), fill=(44, 40, 38))


def hills(sheet: Sheet) -> None:
    """Paint green hills with walls, trees and sheep."""
    width, height = sheet.width, sheet.height
    brushes.sky(sheet, int(0.5 * height))
    greens: tuple[Colour, ...] = ((146, 160, 170), (122, 142, 130), (112, 134, 92), (138, 146, 82), (104, 122, 62))
    for level, green in enumerate(greens):
        base = height * (0.40 + 0.13 * level)
        brushes.ridge(sheet, base, 0.10 * height, green)
        _walls(sheet, base, level)
        _trees_and_sheep(sheet, base, level)
    blades = sheet.rng.random((1600, 3))
    for x, y, level in blades:
        at = (x * width, height * (0.80 + 0.2 * y))
        sheet.draw.line(
            (*at, at[0] + (level - 0.5) * 0.01 * width, at[1] - 0.022 * height * (0.4 + y)),
            fill=(90 + int(90 * level), 112 + int(60 * level), 50),
            width=max(1, width // 1100),
        )


def street(sheet: Sheet) -> None:
    """Paint a street between two rows of houses, with lamps."""
    width, height = sheet.width, sheet.height
    ground = int(0.68 * height)
    brushes.sky(sheet, ground)
    brushes.ridge(sheet, 0.52 * height, 0.06 * height, (96, 108, 122))
    for k in np.linspace(0.30, 1.0, 6):  # from the far end towards us
        wide = 0.21 * width * k
        for side in (-1, 1):
            centre = width * (0.5 + side * (0.02 + 0.50 * k**1.25))
            top = ground - 0.66 * height * k * sheet.rng.uniform(0.85, 1.05)
            brushes.house(
                sheet, (centre - wide / 2, top, centre + wide / 2, ground), brushes.any_of(sheet, brushes.HOUSES)
            )
    brushes.mirror(sheet, ground, (86, 82, 80), 0.34)
    for row in range(16):
        y = ground + (height - ground) * (row / 16) ** 1.4
        sheet.draw.line((0, y, width, y), fill=(64, 62, 62), width=max(1, width // 900))
        size = width * (0.012 + 0.03 * row / 16)
        for x in np.arange((row % 2) * size / 2, width, size):
            sheet.draw.line(
                (x, y, x + (x / width - 0.5) * size, y + 0.7 * size), fill=(70, 68, 68), width=max(1, width // 1000)
            )
    for k in (0.42, 0.62, 0.95):
        for side in (-1, 1):
            x, foot = width * (0.5 + side * 0.30 * k), ground + 0.10 * height * k
            top = foot - 0.52 * height * k
            sheet.draw.line((x, foot, x, top), fill=(34, 34, 38), width=max(2, int(0.007 * width * k)))
            brushes.lamp(sheet, (x, top), 0.022 * width * k, (255, 210, 138))


def _masonry(sheet: Sheet, box: tuple[float, float, float, float]) -> None:
    (left, top, right, foot), width = box, sheet.width
    course = 0.024 * sheet.height
    for row in range(int((foot - top) / course)):
        y = top + row * course
        sheet.draw.line((left, y, right, y), fill=(112, 98, 84), width=max(1, width // 800))
        for x in np.arange(left + (row % 2) * course, right, 2 * course):
            tone = float(sheet.rng.uniform(0.82, 1.12))
            block = (x, y, min(x + 2 * course, right), min(y + course, foot))
            sheet.draw.rectangle(block, fill=tuple(int(c * tone) for c in (168, 150, 128)), outline=(112, 98, 84))


def _clock(sheet: Sheet, clock: tuple[float, float], radius: float) -> None:
    width = sheet.width
    dial = (clock[0] - radius, clock[1] - radius, clock[0] + radius, clock[1] + radius)
    sheet.draw.ellipse(dial, fill=(240, 234, 216), outline=(60, 50, 44), width=max(2, width // 260))
    if sheet.light.lamps:
        sheet.shine.ellipse(dial, fill=(150, 140, 104))
    for hour in range(12):
        turn = math.tau * hour / 12
        tick = [
            clock[i] + radius * share * (math.cos(turn), math.sin(turn))[i] for share in (0.78, 0.92) for i in (0, 1)
        ]
        for pen in (sheet.draw, sheet.shine):
            pen.line(tick, fill=(40, 34, 30), width=max(1, width // 420))
    for pen in (sheet.draw, sheet.shine):
        pen.line(
            (*clock, clock[0] + 0.5 * radius, clock[1] - 0.25 * radius), fill=(40, 34, 30), width=max(2, width // 300)
        )
        pen.line(
            (*clock, clock[0] - 0.1 * radius, clock[1] - 0.8 * radius), fill=(40, 34, 30), width=max(1, width // 420)
        )


def tower(sheet: Sheet) -> None:
    """Paint a bell tower over a village."""
    width, height = sheet.width, sheet.height
    brushes.sky(sheet, int(0.86 * height))
    brushes.ridge(sheet, 0.82 * height, 0.08 * height, (84, 98, 92))
    left, right, top, foot = 0.36 * width, 0.64 * width, 0.22 * height, 0.94 * height
    sheet.draw.rectangle((left, top, right, foot), fill=(168, 150, 128))
    _masonry(sheet, (left, top, right, foot))
    sheet.draw.polygon(
        [(left - 0.03 * width, top), (0.5 * width, 0.03 * height), (right + 0.03 * width, top)], fill=(78, 104, 98)
    )
    for share in np.linspace(0, 1, 22):
        sheet.draw.line(
            (0.5 * width, 0.03 * height, left - 0.03 * width + share * (right - left + 0.06 * width), top),
            fill=(58, 80, 76),
            width=max(1, width // 700),
        )
    _clock(sheet, (0.5 * width, 0.36 * height), 0.075 * height)
    for row in range(3):
        for column in range(2):
            x, y = left + (right - left) * (0.24 + 0.42 * column), height * (0.50 + 0.13 * row)
            pane = (x, y, x + 0.028 * width, y + 0.075 * height)
            sheet.draw.rectangle(pane, fill=(36, 40, 52), outline=(220, 208, 186), width=max(1, width // 400))
            if sheet.light.lamps and sheet.rng.random() < 0.7:
                sheet.shine.rectangle(pane, fill=(255, 196, 112))
    for x in np.linspace(0, 1, 11):
        wide = 0.085 * width
        if abs(x - 0.5) > 0.12:
            brushes.house(
                sheet,
                (x * width - wide / 2, height * sheet.rng.uniform(0.70, 0.78), x * width + wide / 2, foot),
                brushes.any_of(sheet, brushes.HOUSES),
            )
    sheet.draw.rectangle((0, foot, width, height), fill=(92, 90, 86))
