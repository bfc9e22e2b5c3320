"""Scenes close by: rope, thistles, market stalls."""

from __future__ import annotations

import math

import numpy as np
from PIL import Image, ImageFilter

from sample_library import brushes
from sample_library.brushes import Colour, Sheet

__all__ = ["market", "rope", "thistle"]

FRUIT: tuple[Colour, ...] = (
    (196, 52, 44), (232, 150, 48), (124, 158, 62), (236, 208, 96), (122, 70, 110), (170, 186, 196),
)  # fmt: skip


def rope(sheet: Sheet) -> None:
    """Paint a coil of rope from above, in polar coordinates."""
    width, height = sheet.width, sheet.height
    ys, xs = np.mgrid[0:height, 0:width].astype(np.float32)
    dx, dy = (xs - 0.5 * width) / height, (ys - 0.52 * height) / height
    radius, angle = np.hypot(dx, dy), np.arctan2(dy, dx)
    turn = radius * 9.5 + angle / (2 * np.pi)
    across = (turn % 1.0) * 2 - 1
    round_ = np.sqrt(np.clip(1 - across**2, 0, 1))
    strand = np.sin(angle * np.maximum(6, np.floor(turn) * 9) + across * 3.0)
    fibre = np.sin(angle * np.maximum(6, np.floor(turn) * 9) * 5 + across * 15.0)
    tone = (0.25 + 0.75 * round_) * (0.78 + 0.22 * strand + 0.10 * fibre)
    rope = np.stack([tone * 214, tone * 184, tone * 138], axis=-1)
    planks = 0.75 + 0.25 * np.sin(ys / height * 60 + 0.6 * np.sin(xs / width * 9)) * (np.sin(ys / height * 8) > -0.98)
    deck = np.stack([planks * 118, planks * 96, planks * 78], axis=-1)
    inside = ((radius > 0.06) & (radius < 0.46))[:, :, None]
    sheet.base.paste(Image.fromarray(np.clip(np.where(inside, rope, deck), 0, 255).astype(np.uint8)))


def thistle(sheet: Sheet) -> None:
    """Paint thistles close up."""
    width, height = sheet.width, sheet.height
    sheet.base.paste((118, 140, 84), (0, 0, width, height))
    for x, y, size, hue in sheet.rng.random((70, 4)):
        disc = height * (0.04 + 0.09 * size)
        colour = ((150, 170, 96), (96, 124, 70), (186, 178, 120), (140, 120, 160))[int(hue * 4)]
        sheet.draw.ellipse((x * width - disc, y * height - disc, x * width + disc, y * height + disc), fill=colour)
    sheet.base.paste(sheet.base.filter(ImageFilter.GaussianBlur(height / 45)))
    for cx, cy, size in ((0.5, 0.42, 0.30), (0.22, 0.62, 0.18), (0.80, 0.66, 0.16)):
        x, y, reach = cx * width, cy * height, size * height
        sheet.draw.line(
            (x, y + 0.4 * reach, x + 0.1 * reach, height), fill=(78, 108, 62), width=max(2, int(reach / 12))
        )
        for share, tone in sheet.rng.random((420, 2)):
            angle, length = math.pi * (1.12 + 0.76 * share), reach * (0.75 + 0.35 * tone)
            tip = (x + length * math.cos(angle), y + length * math.sin(angle))
            petal = (int(130 + 90 * tone), int(60 + 70 * tone), int(150 + 80 * tone))
            sheet.draw.line((x + 0.25 * (tip[0] - x), y, *tip), fill=petal, width=max(1, int(reach / 130)))
        sheet.draw.ellipse((x - 0.42 * reach, y - 0.12 * reach, x + 0.42 * reach, y + 0.62 * reach), fill=(86, 116, 70))
        for row in range(9):
            for column in range(11):
                u, v = (column - 5) / 5.5 + (row % 2) * 0.09, (row - 4) / 5.2
                if u * u + v * v < 0.85:
                    at = (x + 0.42 * reach * u, y + 0.25 * reach + 0.37 * reach * v)
                    spine = (at[0] + 0.07 * reach * u, at[1] - 0.10 * reach)
                    sheet.draw.line((*at, *spine), fill=(196, 208, 158), width=max(1, int(reach / 90)))


def _board(sheet: Sheet, k: int) -> None:
    """Paint a slate with the prices."""
    width, height = sheet.width, sheet.height
    board = (width * (k / 3 + 0.07), 0.33 * height, width * (k / 3 + 0.25), 0.43 * height)
    sheet.draw.rectangle(board, fill=(38, 44, 42), outline=(170, 130, 86), width=max(2, width // 200))
    for line in range(3):
        y = board[1] + (board[3] - board[1]) * (line + 0.7) / 4
        for dash in np.arange(board[0] + 0.012 * width, board[2] - 0.02 * width, 0.014 * width):
            sheet.draw.line(
                (dash, y, dash + 0.008 * width * sheet.rng.random(), y),
                fill=(232, 230, 218),
                width=max(1, width // 420),
            )


def _crate(sheet: Sheet, corner: tuple[float, float], wide: float, tall: float) -> None:
    (x0, y0), width, colour = corner, sheet.width, brushes.any_of(sheet, FRUIT)
    sheet.draw.rectangle(
        (x0, y0, x0 + wide, y0 + tall), fill=(146, 104, 64), outline=(88, 60, 38), width=max(2, width // 260)
    )
    for u, v, shade in sheet.rng.random((34, 3)):
        size = 0.17 * wide
        at = (x0 + 0.03 * wide + u * 0.78 * wide, y0 + 0.02 * tall + v * 0.5 * tall)
        ball = tuple(int(c * (0.65 + 0.45 * shade)) for c in colour)
        sheet.draw.ellipse(
            (*at, at[0] + size, at[1] + size),
            fill=tuple(min(255, c) for c in ball),
            outline=tuple(int(c * 0.45) for c in colour),
        )
        sheet.draw.ellipse(
            (at[0] + 0.25 * size, at[1] + 0.2 * size, at[0] + 0.42 * size, at[1] + 0.34 * size),
            fill=(250, 246, 236),
        )


def market(sheet: Sheet) -> None:
    """Paint market stalls with crates of fruit."""
    width, height = sheet.width, sheet.height
    sheet.base.paste((92, 84, 80), (0, 0, width, height))
    for x in np.arange(0, width, width / 9):
        sheet.draw.line((x, 0, x, height), fill=(70, 62, 58), width=max(2, width // 160))
    for k, colours in enumerate(
        (((190, 58, 50), (240, 232, 216)), ((44, 96, 116), (240, 232, 216)), ((214, 160, 60), (240, 232, 216)))
    ):
        brushes.cloth(sheet, (width * k / 3, 0.06 * height, width * (k + 0.97) / 3, 0.26 * height), colours, 11)
        _board(sheet, k)
        if sheet.light.lamps or k == 1:
            brushes.lamp(sheet, (width * (k + 0.5) / 3, 0.31 * height), 0.024 * width)
        if sheet.light.lamps:
            for string in range(5):
                brushes.lamp(
                    sheet, (width * (k + 0.1 + 0.2 * string) / 3, 0.455 * height), 0.012 * width, (255, 190, 110)
                )
    for place in range(24):
        row, column = divmod(place, 6)
        _crate(sheet, (width * column / 6, height * (0.48 + 0.13 * row)), width / 6 * 0.95, 0.12 * height)
