"""Scenes at the water: harbour fronts, boats, lanterns, a ferry."""

from __future__ import annotations

import numpy as np

from sample_library import brushes
from sample_library.brushes import Sheet

__all__ = ["boats", "ferry", "lanterns", "quay"]


def _shore(sheet: Sheet, waterline_px: int, tall: float) -> None:
    """Paint hills and a row of houses standing at the water."""
    width, height = sheet.width, sheet.height
    brushes.sky(sheet, waterline_px)
    brushes.ridge(sheet, 0.66 * waterline_px, 0.16 * height, (122, 140, 150))
    brushes.ridge(sheet, 0.84 * waterline_px, 0.10 * height, (86, 106, 92))
    x = -0.02 * width
    while x < width:
        wide = width * sheet.rng.uniform(0.055, 0.10) * (0.6 + tall)
        top = waterline_px - wide * sheet.rng.uniform(1.3, 2.0)
        brushes.house(sheet, (x, top, x + wide, waterline_px - 0.018 * height), brushes.any_of(sheet, brushes.HOUSES))
        x += wide * sheet.rng.uniform(1.0, 1.12)
    quay = (0, waterline_px - 0.022 * height, width, waterline_px)
    sheet.draw.rectangle(quay, fill=(112, 106, 100))
    for stone in np.arange(0, width, 0.022 * width):
        sheet.draw.line((stone, quay[1], stone + 0.004 * width, quay[3]), fill=(70, 66, 64), width=max(1, width // 900))


def _harbour(sheet: Sheet, *, fleet: int, boat_share: float, lanterns: int = 0, tall: float = 0.5) -> None:
    waterline = int(sheet.height * 0.56)
    _shore(sheet, waterline, tall)
    for row, (near, share) in enumerate(((0.0, 0.6), (0.10, 1.0))):
        spots = (np.arange(fleet) + sheet.rng.uniform(0.05, 0.6, fleet)) / fleet
        for spot in spots + 0.25 * row / fleet:
            length = sheet.width * boat_share * share * sheet.rng.uniform(0.8, 1.15)
            at = (spot * sheet.width - length / 3, waterline - 1)
            brushes.boat(sheet, at, length, brushes.any_of(sheet, brushes.HULLS), lanterns)
        if row == 0:
            brushes.mirror(sheet, waterline, (60, 88, 100))
            waterline += int(near * sheet.height) + int(0.12 * sheet.height)
    for x, y in sheet.rng.random((26, 2)):
        at = (x * sheet.width, sheet.height * (0.66 + 0.33 * y))
        size = sheet.width * 0.004 * (0.5 + y)
        sheet.draw.ellipse((at[0], at[1], at[0] + 2 * size, at[1] + 1.4 * size), fill=(222, 98, 52))


def quay(sheet: Sheet) -> None:
    """Paint a harbour front with small boats."""
    _harbour(sheet, fleet=6, boat_share=0.13, tall=0.55)


def boats(sheet: Sheet) -> None:
    """Paint a harbour with boats close by."""
    _harbour(sheet, fleet=5, boat_share=0.23, tall=0.3)


def lanterns(sheet: Sheet) -> None:
    """Paint boats hung with lanterns."""
    _harbour(sheet, fleet=4, boat_share=0.24, lanterns=7, tall=0.3)


def ferry(sheet: Sheet) -> None:
    """Paint a ferry with rows of windows and a string of lamps."""
    width, height = sheet.width, sheet.height
    waterline = int(0.66 * height)
    _shore(sheet, int(0.5 * height), 0.2)
    sheet.draw.rectangle((0, int(0.5 * height), width, waterline), fill=(48, 66, 80))
    deck = [0.62, 0.50, 0.38, 0.29]
    for level, top in enumerate(deck):
        inset = width * (0.06 + 0.05 * level)
        floor = waterline if level == 0 else (deck[level - 1] - 0.08) * height
        box = (inset, (top - 0.08) * height, width - inset * 1.3, floor)
        sheet.draw.rectangle(box, fill=((202, 196, 184), (30, 62, 96))[level == 0])
        sheet.shine.rectangle(box, fill=0)
        count = 26 - 4 * level
        for k in range(count):
            x = box[0] + (box[2] - box[0]) * (k + 0.3) / count
            pane = (x, box[1] + 0.025 * height, x + 0.4 * (box[2] - box[0]) / count, box[1] + 0.055 * height)
            sheet.draw.rectangle(pane, fill=(44, 54, 64))
            if sheet.rng.random() < 0.8 * sheet.light.lamps:
                sheet.shine.rectangle(pane, fill=(255, 204, 126))
            sheet.draw.line((x, box[1], x, box[1] - 0.012 * height), fill=(236, 232, 224), width=max(1, width // 700))
        sheet.draw.line(
            (box[0], box[1] - 0.012 * height, box[2], box[1] - 0.012 * height),
            fill=(236, 232, 224),
            width=max(1, width // 600),
        )
    sheet.draw.rectangle((0.47 * width, 0.09 * height, 0.56 * width, 0.22 * height), fill=(190, 64, 50))
    sheet.draw.rectangle((0.47 * width, 0.12 * height, 0.56 * width, 0.15 * height), fill=(240, 234, 220))
    for k in range(24):
        share = (k + 0.5) / 24
        at = (width * share, height * (0.10 + 0.16 * abs(2 * share - 1) ** 1.5))
        brushes.lamp(sheet, at, 0.007 * width, ((255, 180, 90), (255, 226, 150), (238, 110, 96))[k % 3])
    brushes.mirror(sheet, waterline, (24, 40, 56), 0.5)
