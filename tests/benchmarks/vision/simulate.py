"""
Put known blur into real photographs, as a camera would have recorded it.

In linear light: shallow depth of field, a moving subject or a lens's astigmatism, then the blur of the whole frame and
the lens's own; then shot and read noise with the correlation that demosaicking leaves, noise reduction, a tone curve,
sharpening and JPEG. Run by hand; writes grey JPEG files and ``frames.json`` into a folder.

    python -m tests.benchmarks.vision.simulate FOLDER
"""

from __future__ import annotations

import json
import sys
from dataclasses import asdict, dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.vision.scenes import FIT_SCENES, SMALL_FIT_SCENES, TEST_SCENES, scene_path

Picture = NDArray[np.float32]


@dataclass(frozen=True)
class Simulated:
    """What was put into one frame."""

    file: str
    scene: str
    variant: int
    kind: str  # sharp, shake, defocus, moved
    shape: str  # linear, walk, disc, gauss, -
    size_px: float  # 0 where nothing was put in
    direction_deg: float  # counter-clockwise; nan where there is none
    in_focus: float  # share of the frame in the focal plane
    iso: int
    sharpening: float
    noise_reduction: str  # none, mild, heavy
    quality: int
    astigmatism_px: float


def motion_kernel(length_px: float, angle_deg: float) -> NDArray[np.float32]:
    """Return a straight, even motion of a length; counter-clockwise angle as seen in the picture."""
    steps = np.linspace(-0.5, 0.5, max(3, int(length_px * 8))) * length_px
    return _trace_kernel(
        np.column_stack([steps * np.cos(np.deg2rad(angle_deg)), -steps * np.sin(np.deg2rad(angle_deg))])
    )


def walk_kernel(length_px: float, random: np.random.Generator) -> tuple[NDArray[np.float32], float]:
    """Return a random walk with momentum and its main direction; length is sqrt(12 × largest variance)."""
    velocity, place, trace = random.normal(size=2), np.zeros(2), []
    for _ in range(400):
        velocity = 0.985 * velocity + 0.17 * random.normal(size=2)
        place = place + velocity
        trace.append(place.copy())
    points = np.array(trace) - np.mean(trace, axis=0)
    values, vectors = np.linalg.eigh(np.cov(points.T))
    points *= length_px / np.sqrt(12 * values[-1])
    main = vectors[:, -1]
    return _trace_kernel(points), float(np.rad2deg(np.arctan2(-main[1], main[0])) % 180)


def disc_kernel(radius_px: float) -> NDArray[np.float32]:
    """Return an even disc, antialiased."""
    size = 2 * int(np.ceil(radius_px)) + 3
    fine = 8
    axis = (np.arange(size * fine) + 0.5) / fine - size / 2
    inside = (axis[:, None] ** 2 + axis[None, :] ** 2 <= radius_px**2).astype(np.float64)
    kernel = inside.reshape(size, fine, size, fine).mean(axis=(1, 3))
    return (kernel / kernel.sum()).astype(np.float32)


def gauss_kernel(sigma_px: float) -> NDArray[np.float32]:
    """Return a Gaussian."""
    line = cv2.getGaussianKernel(2 * int(np.ceil(4 * sigma_px)) + 1, sigma_px)
    return (line @ line.T).astype(np.float32)


def _trace_kernel(points: NDArray[np.float64]) -> NDArray[np.float32]:
    half = int(np.ceil(np.abs(points).max())) + 2
    kernel = np.zeros((2 * half + 1, 2 * half + 1))
    x, y = points[:, 0] + half, points[:, 1] + half
    x0, y0 = np.floor(x).astype(int), np.floor(y).astype(int)
    for dx in (0, 1):
        for dy in (0, 1):
            weight = np.abs(1 - dx - (x - x0)) * np.abs(1 - dy - (y - y0))
            np.add.at(kernel, (y0 + dy, x0 + dx), weight)
    return (kernel / kernel.sum()).astype(np.float32)


def blurred(light: Picture, kernel: NDArray[np.float32]) -> Picture:
    """Return linear light spread by a kernel."""
    return cv2.filter2D(light, cv2.CV_32F, cv2.flip(kernel, -1), borderType=cv2.BORDER_REFLECT_101)


def to_linear(grey: NDArray[np.uint8]) -> Picture:
    """Return linear light of an sRGB-coded picture, with clipped lights given back some of their strength."""
    coded = grey.astype(np.float32) / 255
    light = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return light * np.where(coded > 0.985, np.float32(2.0), np.float32(1.0))


def to_coded(light: Picture) -> Picture:
    """Return the sRGB-coded picture, 0-255, clipped."""
    light = np.clip(light, 0, 1)
    coded = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
    return (coded * 255).astype(np.float32)


def soft_patch(light: Picture, share: float, random: np.random.Generator) -> Picture:
    """Return a smooth mask of about this share, over one of the places with most detail."""
    height, width = light.shape
    detail = cv2.absdiff(cv2.GaussianBlur(light, (0, 0), 1), cv2.GaussianBlur(light, (0, 0), 3)) / (light + 0.05)
    side = max(24, int(np.sqrt(share * height * width)))
    strength = cv2.blur(detail, (side, side), borderType=cv2.BORDER_CONSTANT)
    rows, columns = np.nonzero(strength >= np.quantile(strength, 0.97))
    pick = random.integers(len(rows))
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    stretch = random.uniform(0.7, 1.4)
    radius = np.sqrt(share * height * width / np.pi)
    distance = np.hypot((x - columns[pick]) / stretch, (y - rows[pick]) * stretch) / radius
    return np.clip((1.15 - distance) / 0.3, 0, 1).astype(np.float32)


def mixed(mask: Picture, inside: Picture, outside: Picture) -> Picture:
    return mask * inside + (1 - mask) * outside


def _astigmatic(light: Picture, strength_px: float) -> Picture:
    """Return the picture as an old lens draws it: spread along or across the radius, growing with its square."""
    height, width = light.shape
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    x, y = (x - width / 2) / (width / 2), (y - height / 2) / (height / 2)
    field, angle = np.clip((x**2 + y**2) / 2, 0, 1), np.arctan2(-y, x) % np.pi
    out, total = np.zeros_like(light), np.zeros_like(light)
    for index in range(6):
        spread = blurred(light, motion_kernel(max(2.0, strength_px), 30.0 * index))
        near = np.clip(1 - np.abs((angle - np.deg2rad(30 * index) + np.pi / 2) % np.pi - np.pi / 2) / (np.pi / 6), 0, 1)
        out += near * spread
        total += near
    return mixed(field.astype(np.float32), out / np.maximum(total, 1e-6), light)


def developed(light: Picture, made: Simulated, random: np.random.Generator) -> NDArray[np.uint8]:
    """Return what the camera writes: noise, noise reduction, tone curve and sharpening."""
    full_well = 0.9 * 30000 * 100 / made.iso
    read = 3.0 / full_well * 1.5
    spread = np.sqrt(np.maximum(light, 0) / full_well + read**2).astype(np.float32)
    white = random.standard_normal(light.shape, dtype=np.float32)
    noise = cv2.GaussianBlur(white, (0, 0), 0.55)
    coded = to_coded(light + spread * noise / noise.std())
    if made.noise_reduction == "mild":
        coded = cv2.addWeighted(coded, 0.5, cv2.bilateralFilter(coded, 5, 18, 1.5), 0.5, 0)
    elif made.noise_reduction == "heavy":
        coded = cv2.bilateralFilter(coded, 7, 35, 2.5)
    if made.sharpening:
        radius = random.uniform(0.7, 1.3)
        coded = coded + made.sharpening * (coded - cv2.GaussianBlur(coded, (0, 0), radius))
    return np.clip(np.round(coded), 0, 255).astype(np.uint8)


def frame(light: Picture, made: Simulated, random: np.random.Generator) -> tuple[NDArray[np.uint8], Simulated]:
    """Return one simulated frame and what was put in, its direction filled in."""
    scene, direction = light, made.direction_deg
    if made.kind == "moved":
        mask = soft_patch(light, random.uniform(0.08, 0.3), random)
        direction = float(random.uniform(0, 180))
        kernel = motion_kernel(made.size_px, direction)
        scene = mixed(blurred(mask, kernel), blurred(light, kernel), light)
    elif made.in_focus < 1:
        mask = soft_patch(light, made.in_focus, random)
        scene = mixed(mask, light, blurred(light, disc_kernel(random.uniform(7, 18))))
    if made.astigmatism_px:
        scene = _astigmatic(scene, made.astigmatism_px)
    if made.kind == "shake":
        if made.shape == "linear":
            direction = float(random.uniform(0, 180))
            kernel = motion_kernel(made.size_px, direction)
        else:
            kernel, direction = walk_kernel(made.size_px, random)
        scene = blurred(scene, kernel)
    elif made.kind == "defocus":
        kernel = disc_kernel(made.size_px / 2) if made.shape == "disc" else gauss_kernel(made.size_px / 4)
        scene = blurred(scene, kernel)
    scene = blurred(scene, gauss_kernel(random.uniform(0.5, 0.8)))
    return developed(scene, made, random), Simulated(**{**asdict(made), "direction_deg": direction})


# Kind, shape and range of sizes in px (PSF length or diameter; a Gaussian's is 4 sigma): VISION's severities.
_MENU = (
    *[("sharp", "-", 0.0, 0.0)] * 7,
    *[("shake", shape, low, high) for shape in ("linear", "walk") for low, high in ((3, 5), (8, 12), (20, 40))],
    ("shake", "linear", 6, 30),
    ("shake", "walk", 12, 30),
    *[("defocus", "disc", low, high) for low, high in ((3, 5), (8, 12), (20, 40), (12, 20))],
    *[("defocus", "gauss", low, high) for low, high in ((4, 6), (8, 14))],
    ("moved", "linear", 10, 40),
)


def menu(scene: str, variant: int, random: np.random.Generator) -> list[Simulated]:
    """Return what is to be put into the frames of one view of a scene."""
    frames = []
    for number, (kind, shape, low, high) in enumerate(_MENU):
        iso = int(random.choice([200, 400, 800, 1600, 3200, 6400, 12800], p=[0.2, 0.16, 0.2, 0.16, 0.13, 0.1, 0.05]))
        reduction = "none" if iso < 1600 else str(random.choice(["none", "mild", "heavy"], p=[0.3, 0.45, 0.25]))
        plain = kind in ("moved",) or random.random() > 0.4
        frames.append(
            Simulated(
                file=f"{scene}-{variant}-{number:02d}.jpg",
                scene=scene,
                variant=variant,
                kind=kind,
                shape=shape,
                size_px=float(np.exp(random.uniform(np.log(low), np.log(high)))) if high else 0.0,
                direction_deg=float("nan"),
                in_focus=1.0 if plain else float(random.choice([0.04, 0.08, 0.15, 0.25])),
                iso=iso,
                sharpening=0.0 if random.random() < 0.5 else float(random.uniform(0.3, 1.5)),
                noise_reduction=reduction,
                quality=int(random.integers(82, 96)),
                astigmatism_px=float(random.uniform(3, 9)) if random.random() < 0.12 else 0.0,
            )
        )
    return frames


# Scale of the photograph, share of each side that is kept, and whether it is laid on its side: two whole frames and,
# for fitting, two parts of it. Reduced until it is crisp pixel for pixel.
_VIEWS = ((0.6, 1.0, False), (0.75, 1.0, False), (0.6, 0.65, True), (0.45, 0.8, True))
_MOST_PX = 6_000_000


def view(scene: str, variant: int, random: np.random.Generator) -> Picture:
    """Return linear light of one view of a scene."""
    grey = cv2.imread(str(scene_path(scene)), cv2.IMREAD_GRAYSCALE)
    scale, share, aside = _VIEWS[variant]
    if scene in SMALL_FIT_SCENES:
        scale = 1.0
    scale = min(scale, float(np.sqrt(_MOST_PX / grey.size)))
    grey = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    height, width = (round(share * side) for side in grey.shape)
    top = int(random.integers(grey.shape[0] - height + 1))
    left = int(random.integers(grey.shape[1] - width + 1))
    grey = grey[top : top + height, left : left + width]
    return to_linear(np.ascontiguousarray(np.rot90(grey)) if aside else grey)


def _variants(scene: str) -> tuple[int, ...]:
    if scene in SMALL_FIT_SCENES:
        return (0,)
    return (0, 1, 2, 3) if scene in FIT_SCENES else (0, 1)


def main(folder: Path) -> None:
    """Write all frames and what was put into them."""
    folder.mkdir(parents=True, exist_ok=True)
    everything: list[dict[str, object]] = []
    for index, scene in enumerate((*FIT_SCENES, *SMALL_FIT_SCENES, *TEST_SCENES)):
        for variant in _variants(scene):
            random = np.random.default_rng([20261124, index, variant])
            light = view(scene, variant, random)
            for planned in menu(scene, variant, random):
                picture, made = frame(light, planned, random)
                cv2.imwrite(str(folder / made.file), picture, [cv2.IMWRITE_JPEG_QUALITY, made.quality])
                everything.append(asdict(made))
        (folder / "frames.json").write_text(json.dumps(everything, indent=0), encoding="utf-8")
        print(scene, len(everything), flush=True)


if __name__ == "__main__":
    cv2.setNumThreads(1)
    main(Path(sys.argv[1]))
