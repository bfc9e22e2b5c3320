"""Somebody to photograph: nobody there is."""

from __future__ import annotations

import math

import numpy as np
from PIL import Image, ImageFilter

from sample_library import brushes
from sample_library.brushes import Colour, Sheet

__all__ = ["portrait"]


def _knitting(sheet: Sheet, at: tuple[float, float], side: float, coat: Colour) -> None:
    (cx, cy), pen = at, sheet.draw
    for k in range(46):
        y = cy + side * (0.28 + 0.016 * k)
        for x in np.arange(cx - 0.40 * side, cx + 0.40 * side, 0.018 * side):
            if abs(x - cx) < 0.12 * side + 0.6 * (y - cy - 0.24 * side) and y < sheet.height:
                pen.line(
                    (x, y, x + 0.008 * side, y + 0.009 * side),
                    fill=tuple(min(255, c + 46) for c in coat),
                    width=max(1, int(side / 260)),
                )
                pen.line(
                    (x + 0.016 * side, y, x + 0.008 * side, y + 0.009 * side),
                    fill=tuple(c // 2 for c in coat),
                    width=max(1, int(side / 260)),
                )


def _face(sheet: Sheet, at: tuple[float, float], side: float, hair: Colour) -> None:
    (cx, cy), pen = at, sheet.draw
    for x in (cx - 0.06 * side, cx + 0.06 * side):
        pen.ellipse((x - 0.026 * side, cy - 0.032 * side, x + 0.026 * side, cy - 0.006 * side), fill=(246, 242, 236))
        pen.ellipse((x - 0.012 * side, cy - 0.032 * side, x + 0.012 * side, cy - 0.007 * side), fill=(52, 66, 60))
        pen.ellipse((x - 0.003 * side, cy - 0.029 * side, x + 0.004 * side, cy - 0.022 * side), fill=(255, 255, 255))
        pen.arc(
            (x - 0.034 * side, cy - 0.062 * side, x + 0.034 * side, cy - 0.02 * side),
            200,
            340,
            fill=hair,
            width=max(2, int(side / 130)),
        )
    pen.line(
        (cx, cy - 0.01 * side, cx - 0.018 * side, cy + 0.06 * side, cx + 0.012 * side, cy + 0.066 * side),
        fill=(184, 132, 108),
        width=max(1, int(side / 200)),
    )
    pen.arc(
        (cx - 0.055 * side, cy + 0.05 * side, cx + 0.055 * side, cy + 0.125 * side),
        20,
        160,
        fill=(164, 76, 70),
        width=max(2, int(side / 110)),
    )


def _figure(sheet: Sheet, at: tuple[float, float], side: float, colours: tuple[Colour, Colour, Colour]) -> None:
    (cx, cy), (coat, skin, hair), pen = at, colours, sheet.draw
    outline = ((-0.42, 9.0), (-0.36, 0.36), (-0.12, 0.24), (0.12, 0.24), (0.36, 0.36), (0.42, 9.0))
    shoulders = [(cx + x * side, min(sheet.height, cy + y * side)) for x, y in outline]
    pen.polygon(shoulders, fill=coat)
    # Whoever stands in front of the lights hides them.
    head = (cx - 0.17 * side, cy - 0.25 * side, cx + 0.17 * side, cy + 0.20 * side)
    sheet.shine.polygon(shoulders, fill=0)
    sheet.shine.ellipse(head, fill=0)
    _knitting(sheet, at, side, coat)
    pen.rectangle(
        (cx - 0.06 * side, cy + 0.12 * side, cx + 0.06 * side, cy + 0.27 * side),
        fill=tuple(int(c * 0.85) for c in skin),
    )
    pen.ellipse((cx - 0.15 * side, cy - 0.20 * side, cx + 0.15 * side, cy + 0.20 * side), fill=skin)
    for strand in sheet.rng.random((170, 3)):
        angle = math.pi * (1.02 + 0.96 * strand[0])
        start = (cx + 0.14 * side * math.cos(angle), cy - 0.02 * side + 0.19 * side * math.sin(angle))
        end = (
            start[0] + (start[0] - cx) * 0.45,
            start[1] + side * (0.05 + 0.16 * strand[1]) * (abs(start[0] - cx) > 0.07 * side),
        )
        pen.line(
            (*start, *end), fill=tuple(int(c * (0.6 + 0.7 * strand[2])) for c in hair), width=max(1, int(side / 300))
        )
    pen.ellipse((cx - 0.17 * side, cy - 0.25 * side, cx + 0.17 * side, cy - 0.09 * side), fill=(64, 74, 96))
    for k in range(22):  # ribs of the cap
        x = cx - 0.165 * side + 0.015 * side * k
        half = 0.08 * side * math.sqrt(max(0.0, 1 - ((x - cx) / (0.17 * side)) ** 2))
        pen.line(
            (x, cy - 0.17 * side - half, x, cy - 0.17 * side + half), fill=(96, 108, 132), width=max(1, int(side / 320))
        )
    _face(sheet, at, side, hair)


def portrait(sheet: Sheet) -> None:
    """Paint somebody in a knitted jersey, with discs of light far behind."""
    width, height = sheet.width, sheet.height
    side = min(width, height)
    cx, cy = width / 2, 0.46 * height
    background = Image.new(
        "RGB", sheet.base.size, brushes.LIGHTS["day"].zenith if not sheet.light.lamps else (70, 66, 84)
    )
    sheet.base.paste(background)
    for x, y, size, hue in sheet.rng.random((60, 4)):
        disc = side * (0.03 + 0.06 * size)
        colour = ((232, 190, 120), (120, 150, 168), (190, 120, 92), (150, 172, 130))[int(hue * 4)]
        box = (x * width - disc, y * height - disc, x * width + disc, y * height + disc)
        sheet.draw.ellipse(box, fill=colour)
        if sheet.light.lamps and hue > 0.55:
            sheet.shine.ellipse(box, fill=tuple(int(c * 0.5) for c in colour))
    for layer in (sheet.base, sheet.glow):
        layer.paste(layer.filter(ImageFilter.GaussianBlur(side / 60)))
    coat, skin, hair = (
        brushes.any_of(sheet, brushes.HULLS),
        (224, 176, 146),
        ((72, 50, 38), (150, 104, 60), (190, 186, 180))[int(sheet.rng.integers(3))],
    )
    _figure(sheet, (cx, cy), side, (coat, skin, hair))
    if sheet.light.lamps:
        brushes.lamp(sheet, (cx + 0.27 * side, cy + 0.34 * side), 0.065 * side, (255, 186, 100))
