"""What limited a frame."""

from __future__ import annotations

import math

import numpy as np
import pytest

from auditor.optics.depth_of_field import defocus_disc_um
from auditor.shake.budget import CAUSES, SUBJECT_SPEEDS_M_S, blur_budget, blur_widths, left_for_shake_um


def test_each_cause_can_limit():
    causes = blur_widths(
        [40.0, 1.0, 1.0, 1.0, 1.0],
        subject_speed_m_s=[0, 1.4, 0, 0, 0],
        exposure_time_s=1 / 60,
        magnification=[0.001, 0.01, 0.05, 0.0, 0.0],
        lens=(50.0, [4.0, 8.0, 1.4, 32.0, 2.0], 1.0),
        pixel_um=4.0,
    )
    budget = blur_budget(causes)
    assert [budget.limiting(k) for k in range(5)] == ["shake", "subject", "focus", "diffraction", "pixels"]
    assert set(CAUSES) == {budget.limiting(k) for k in range(5)}


def test_together_is_below_each_alone():
    budget = blur_budget(blur_widths([5.0, 20.0], lens=(50.0, 8.0, 1.0), magnification=0.02))
    assert (budget.together_lp_mm < budget.alone_lp_mm.min(axis=0)).all()
    assert budget.together_cycles_px == pytest.approx(budget.together_lp_mm * 4.0 / 1000)
    assert (np.diff(np.take_along_axis(budget.alone_lp_mm, budget.ranking, axis=0), axis=0) >= 0).all()


def test_combined_value_of_the_check_list():
    # Exact product of MTFs, L = 30, N = 8, p = 6 µm: 18.41 lp/mm (computed).
    budget = blur_budget(blur_widths(30.0, lens=(50.0, 8.0, 0.0), pixel_um=6.0))
    assert budget.together_lp_mm[0] == pytest.approx(18.41, abs=0.1)


def test_walking_subject():
    # 1.4 m/s square-on at 5 m, 50 mm, 1/125 s: 113.1 µm (computed; common practice for the speed).
    causes = blur_widths(
        1.0, subject_speed_m_s=SUBJECT_SPEEDS_M_S["walking"], exposure_time_s=1 / 125, magnification=50 / 4950
    )
    assert causes.subject_um == pytest.approx(113.1, abs=0.1)


def test_focus_error_is_the_disc_of_a_point_behind():
    causes = blur_widths(1.0, magnification=50 / 1950, lens=(50.0, 2.0, 5.0))
    assert causes.disc_um == pytest.approx(defocus_disc_um(50.0, 2.0, 2.0, 2.1), rel=1e-6)


def test_not_known_is_not_blamed():
    budget = blur_budget(blur_widths([math.nan, 5.0], lens=(50.0, [8.0, math.nan], 1.0)))
    assert [budget.limiting(k) for k in range(2)] == ["", ""]


def test_what_is_left_for_shake():
    # 3-4-5 triangle; nothing where the others use it up.
    assert left_for_shake_um([5.0, 5.0], [3.0, 6.0]).tolist() == [4.0, 0.0]
