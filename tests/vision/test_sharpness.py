"""Edge slopes and widths on edges whose blur is known exactly."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from auditor.vision.edge_points import edge_points, pooled
from auditor.vision.edge_width import edge_width_px, gaussian_edge_slope, sharp_fraction
from auditor.vision.sharpness import (
    EdgeSlopes,
    Orientations,
    edge_slopes,
    edge_slopes_over_scales,
    summary,
)
from tests.vision.pictures import disc, gaussian, squares, swept

TEN_TO_NINETY = 2.5631  # 2 × the 90 % point of the standard normal distribution, any table


def width_of(picture: np.ndarray) -> float:
    return edge_width_px([edges.crispest for edges in edge_slopes_over_scales(picture)])


@pytest.mark.parametrize("sigma_px", [0.8, 1.0, 1.5, 2.0, 2.5, 3.0])
def test_width_of_gaussian_edges(sigma_px: float) -> None:
    # The pixel itself is a box of 1 px, variance 1/12. The crispest part is asked for, so the width may come out low.
    expected = TEN_TO_NINETY * np.sqrt(sigma_px**2 + 1 / 12)
    assert 0.85 * expected < width_of(squares(kernel=gaussian(sigma_px))) < 1.10 * expected


@pytest.mark.parametrize("diameter_px", [4, 6, 8])
def test_width_of_disc_edges(diameter_px: int) -> None:
    # Behind a disc an edge has risen by x/r·√(1−x²/r²)/π + arcsin(x/r)/π: 10-90 % in .687 d. Its steepest slope is
    # 4/(π d), and the Gaussian of that slope is 2.5631/√(2π)·πd/4 = .803 d wide. What is read lies between.
    assert 0.95 * 0.687 * diameter_px < width_of(squares(kernel=disc(diameter_px))) < 1.05 * 0.803 * diameter_px


@pytest.mark.parametrize("length_px", [4, 5, 6])
def test_worst_orientation_sees_straight_motion(length_px: int) -> None:
    # Across the motion an edge rises evenly: 10-90 % in .8 L; the Gaussian of slope 1/L is 1.0225 L wide.
    edges = edge_slopes(squares(kernel=swept(length_px)))
    assert 0.95 * 0.8 * length_px < edge_width_px([edges.everywhere.worst]) < 1.05 * 1.0225 * length_px
    assert edges.crispest > 1.3 * edges.everywhere.worst


def test_a_pixel_is_the_least_width() -> None:
    assert width_of(squares()) == pytest.approx(0.8, abs=0.3)
    assert edge_width_px([0.6], scale=2.0) == pytest.approx(1.6)


def test_width_rises_with_blur_and_falls_with_slope() -> None:
    widths = [width_of(squares(kernel=gaussian(sigma_px))) for sigma_px in (0.6, 1.0, 1.6, 2.4, 3.4)]
    assert widths == sorted(widths)
    slopes = [gaussian_edge_slope(width) for width in np.linspace(0, 30, 40)]
    assert slopes == sorted(slopes, reverse=True)
    assert slopes[-1] > 1 / 8  # the limit of a plain ramp: 2 px over the window's 8


def test_coarser_scale_is_read_where_the_window_is_too_small() -> None:
    wide = gaussian_edge_slope(12.0)
    assert edge_width_px([wide, gaussian_edge_slope(6.0), gaussian_edge_slope(3.0)]) == pytest.approx(12.0, rel=1e-3)


@pytest.mark.parametrize(("contrast", "level"), [(1.0, 0.0), (0.45, 20.0), (0.45, 110.0)])
def test_contrast_and_brightness_do_not_matter(contrast: float, level: float) -> None:
    plain = edge_slopes(squares(kernel=gaussian(1.2)))
    changed = edge_slopes(contrast * squares(kernel=gaussian(1.2)) + level)
    assert changed.crispest == pytest.approx(plain.crispest, rel=0.03)


@pytest.mark.parametrize("upright", [False, True])
def test_direction_of_motion(upright: bool) -> None:
    edges = edge_slopes(squares(kernel=swept(9, upright=upright)))
    expected = 90.0 if upright else 0.0
    off = abs((edges.everywhere.direction_deg - expected + 90) % 180 - 90)
    assert off < 10
    assert edges.everywhere.anisotropy > 4 * edge_slopes(squares(kernel=disc(7))).everywhere.anisotropy


def test_turning_the_picture_turns_the_direction() -> None:
    flat = edge_slopes(squares(kernel=swept(9)))
    turned = edge_slopes(np.ascontiguousarray(np.rot90(squares(kernel=swept(9)))))
    apart = (turned.everywhere.direction_deg - flat.everywhere.direction_deg) % 180
    assert apart == pytest.approx(90, abs=4)
    assert turned.crispest == pytest.approx(flat.crispest, rel=0.02)


def test_crispest_part_speaks_for_a_picture_with_little_in_focus() -> None:
    sharp, soft = squares(), squares(kernel=gaussian(5))
    mixed = soft.copy()
    mixed[256:512, 256:512] = sharp[256:512, 256:512]
    assert edge_slopes(mixed).crispest > 0.85 * edge_slopes(sharp).crispest
    assert edge_slopes(mixed).at_crispest.worst > 1.5 * edge_slopes(soft).everywhere.worst


@pytest.mark.parametrize("spread", [4.0, 10.0])
def test_noise_does_not_make_a_soft_picture_crisp(spread: float) -> None:
    soft = squares(1024, gaussian(4))
    noise = cv2.GaussianBlur(np.random.default_rng(2).normal(0, 1, soft.shape).astype(np.float32), (0, 0), 0.6)
    noisy = soft + spread * noise / noise.std()
    crisp = edge_slopes(squares(1024)).crispest
    found = edge_slopes(noisy).crispest
    assert np.isnan(found) or found < 0.75 * crisp


@pytest.mark.parametrize("picture", [np.full((400, 600), 90, np.uint8), np.zeros((60, 60), np.uint8)])
def test_nothing_is_said_of_a_plain_wall(picture: np.ndarray) -> None:
    edges = edge_slopes(picture)
    assert np.isnan(edges.crispest)
    assert np.isnan(edges.everywhere.worst)
    assert edges.judged_tiles == 0
    assert np.isnan(sharp_fraction(edges))
    assert np.isnan(edge_width_px([edges.crispest]))


def test_blocks_give_what_the_picture_gives() -> None:
    picture = squares()
    whole = edge_points(picture)
    halves = pooled([edge_points(picture[:, :384]), edge_points(picture[:, 384:])])
    assert abs(halves.slopes.size - whole.slopes.size) < 0.05 * whole.slopes.size
    assert summary(halves).crispest == pytest.approx(summary(whole).crispest, rel=0.03)
    assert halves.grid == (1, 144)


def test_sharp_fraction_counts_judged_tiles_only() -> None:
    alike = Orientations(0.3, 0.0, 0.0)
    tiles = np.array([[0.3, np.nan], [0.1, 0.26]])
    assert sharp_fraction(EdgeSlopes(0.3, alike, alike, tiles, 0.0)) == pytest.approx(2 / 3)
