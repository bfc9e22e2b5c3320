"""
Scenes with depth, made of flat photographs, and what a camera sees of them from another place or through another lens.

A scene is a photograph as far background, ground that comes nearer towards the lower edge, and up to eight pieces of
another photograph standing nearer. Depth is in units of the nearest thing.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.vision.strangers import read

__all__ = ["FOCAL_PX", "SIZE_PX", "Piece", "flat", "photograph", "scene", "seen_from"]

SIZE_PX = (1600, 1067)
FOCAL_PX = 1.2 * SIZE_PX[0]
LARGEST = 2.0  # pictures are kept at up to twice the frame's size, so that a long lens has something to show

Floats = NDArray[np.float32]


@dataclass(frozen=True)
class Piece:
    """
    A picture in depth.

    Attributes
    ----------
    grey : array of uint8
        The picture; it fills the frame, at any size.
    opaque : array of float32, shape of the frame
        Where there is something, 0-1.
    nearness : array of float32, shape of the frame
        1 over the depth; 1 is the nearest thing.
    box : tuple of float
        Left, top, right and lower end of what is opaque. [px]
    """

    grey: NDArray[np.uint8]
    opaque: Floats
    nearness: Floats
    box: tuple[float, float, float, float]


def photograph(place: Path) -> NDArray[np.uint8]:
    """Return a photograph in the frame's proportions, as large as it is and at most twice the frame."""
    grey = read(place)
    scale = min(LARGEST, max(1.0, grey.shape[1] / SIZE_PX[0]))
    size = (round(SIZE_PX[0] * scale), round(SIZE_PX[1] * scale))
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.uint8)


def _places() -> tuple[Floats, Floats]:
    y, x = np.mgrid[0 : SIZE_PX[1], 0 : SIZE_PX[0]].astype(np.float32)
    return x, y


def scene(background: NDArray[np.uint8], other: NDArray[np.uint8], random: np.random.Generator) -> list[Piece]:
    """Return the pieces of a scene, the farthest first."""
    width, height = SIZE_PX
    x, y = _places()
    far, ground = random.uniform(0.02, 0.15), random.uniform(0.15, 0.6)
    horizon = random.uniform(0.4, 0.7) * height
    rise = np.clip((y - horizon) / (height - horizon), 0, 1)
    nearness = (far + (ground - far) * rise).astype(np.float32)
    pieces = [Piece(background, np.ones_like(x), nearness, (0, 0, width, height))]
    for near in sorted(random.uniform(0.25, 1.0, int(random.integers(2, 9)))):
        across, down = random.uniform(0.05, 0.16) * width, random.uniform(0.08, 0.3) * height
        middle = random.uniform(0, width), random.uniform(0.3, 1.0) * height
        inside = np.hypot((x - middle[0]) / across, (y - middle[1]) / down)
        opaque = np.clip((1 - inside) * 12, 0, 1).astype(np.float32)
        box = (middle[0] - across, middle[1] - down, middle[0] + across, middle[1] + down)
        pieces.append(Piece(other, opaque, np.full_like(x, near), box))
    return pieces


def flat(background: NDArray[np.uint8]) -> list[Piece]:
    """Return a facade: everything at the distance of the nearest thing."""
    x, _ = _places()
    return [Piece(background, np.ones_like(x), np.ones_like(x), (0, 0, *SIZE_PX))]


def seen_from(
    pieces: list[Piece],
    sideways: float,
    forward: float,
    turn: NDArray[np.float64],
    longer: float = 1.0,
    bent: float = 0.0,
) -> NDArray[np.uint8]:
    """
    Return a view.

    Parameters
    ----------
    pieces : list of Piece
        The scene, the farthest first.
    sideways, forward : float
        Where from: in frame widths (of the plain lens) that the nearest thing moves by, and in its distance.
    turn : array, shape (3, 3)
        Rotation of the camera.
    longer : float
        Focal length over that of the plain lens.
    bent : float
        Radial distortion at half the frame's diagonal; positive draws the corners in.
    """
    width, height = SIZE_PX
    x, y = _places()
    x, y = x - (width - 1) / 2, y - (height - 1) / 2
    if bent:
        drawn_in = 1 + bent * (x * x + y * y) / ((width / 2) ** 2 + (height / 2) ** 2)
        x, y = x * drawn_in, y * drawn_in
    focal = FOCAL_PX * longer
    r = turn.astype(np.float32)
    rays = [r[row, 0] * x / focal + r[row, 1] * y / focal + r[row, 2] for row in range(3)]
    x, y = rays[0] / rays[2] * FOCAL_PX, rays[1] / rays[2] * FOCAL_PX
    view = np.zeros((height, width), np.float32)
    for piece in pieces:
        _lay(piece, (sideways * width, forward), (x, y), longer, view)
    return np.clip(np.round(view), 0, 255).astype(np.uint8)


def _lay(piece: Piece, step: tuple[float, float], rays: tuple[Floats, Floats], longer: float, view: Floats) -> None:
    """Lay a piece over the view, only where it is seen."""
    width, height = SIZE_PX
    near = float(piece.nearness.mean())
    constant = not np.ptp(piece.nearness)
    part = np.s_[0:height, 0:width]
    if constant:
        there = np.array(piece.box) - np.array([width - 1, height - 1] * 2) / 2
        there[[0, 2]] += step[0] * near
        there /= 1 - step[1] * near
        x, y = rays
        hit = (x >= there[0] - 2) & (x <= there[2] + 2) & (y >= there[1] - 2) & (y <= there[3] + 2)
        rows, columns = np.flatnonzero(hit.any(axis=1)), np.flatnonzero(hit.any(axis=0))
        if not rows.size:
            return
        part = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    x, y = rays[0][part], rays[1][part]
    depth: Floats = np.full(x.shape, near, np.float32)
    for _ in range(1 if constant else 6):  # where a ray meets the piece, its nearness not known before
        across = x * (1 - step[1] * depth) - step[0] * depth + (width - 1) / 2
        down = y * (1 - step[1] * depth) + (height - 1) / 2
        if not constant:
            depth = cv2.remap(piece.nearness, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    wide = min(piece.grey.shape[1], round(width * longer))
    grey = piece.grey if wide >= piece.grey.shape[1] else _reduced(piece.grey, wide)
    fine = grey.shape[1] / width
    grey = cv2.remap(
        grey.astype(np.float32),
        (across + 0.5) * fine - 0.5,
        (down + 0.5) * fine - 0.5,
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REFLECT,
    )
    opaque = cv2.remap(piece.opaque, across, down, cv2.INTER_LINEAR, borderValue=0.0)
    view[part] += opaque * (grey - view[part])


def _reduced(grey: NDArray[np.uint8], width: int) -> NDArray[np.uint8]:
    size = (width, round(width * SIZE_PX[1] / SIZE_PX[0]))
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.uint8)
