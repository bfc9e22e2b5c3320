"""What limited a frame on its page: the same as in the export, told in words, with what was taken for granted."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from auditor.model.workspace import open_workspace
from auditor.pipeline.calibrating import blur_budgets
from dashboards.figures.limits import limits_chart
from dashboards.limits import IN_SHORT, limits_csv, limits_in_words, limits_of, limits_table
from dashboards.thumbnails import key_of
from dashboards.watched import workspace_desk
from tests.dashboards.desks import three_row_desk


def test_each_frame_says_what_the_export_says(sample_workspace: Path) -> None:
    desk = workspace_desk(sample_workspace)()
    exported = blur_budgets(open_workspace(sample_workspace)).set_index(["archive", "path"])
    seen = set()
    for place in range(0, len(desk), 23):
        limits = limits_of(desk, place)
        if limits is None:
            continue
        frame = desk.frames.iloc[place]
        row = exported.loc[(frame["archive"], frame["path"])]
        assert limits.limiting == (row["limiting_cause"] if isinstance(row["limiting_cause"], str) else None)
        for name in ("mtf50_low_lp_mm", "mtf50_high_lp_mm", "mtf50_high_cycles_px"):
            assert getattr(limits, name) == pytest.approx(row[name], rel=1e-5, nan_ok=True)
        if limits.limiting:
            worst = limits.causes.loc[limits.causes["mtf50_low_lp_mm"].idxmin()]
            assert worst["cause"] == limits.limiting
            assert worst["smear_high_um"] == limits.causes["smear_high_um"].max()
        seen.add(limits.limiting)
    assert len(seen) > 1


def test_widths_are_those_of_the_handbook(sample_workspace: Path) -> None:
    desk = workspace_desk(sample_workspace)()
    place = next(p for p in range(len(desk)) if (limits := limits_of(desk, p)) and "aperture" not in limits.not_noted)
    limits = limits_of(desk, place)
    assert limits is not None
    causes = limits.causes.set_index("cause")
    # A smear of length d has the transfer function sinc(d ν), half at d ν = 0.6034 (the root of sin(πx) = πx/2).
    assert causes.loc["pixels", "mtf50_low_lp_mm"] == pytest.approx(603.4 / limits.pixel_um, rel=1e-3)
    assert causes.loc["pixels", "smear_low_um"] == pytest.approx(limits.pixel_um, rel=1e-6)
    # Diffraction at an f-number N cuts off at 1/(λN) and is at half its contrast at 0.404 of that; the Airy disc is
    # 2.44 λN wide (Goodman, Introduction to Fourier Optics: incoherent transfer function of a circular pupil).
    cut_off = 2.44 * 1000 / causes.loc["diffraction", "width_low_um"]
    assert causes.loc["diffraction", "mtf50_low_lp_mm"] == pytest.approx(0.404 * cut_off, rel=2e-3)


def test_words_say_the_cause_what_is_left_and_what_was_taken(sample_workspace: Path) -> None:
    desk = workspace_desk(sample_workspace)()
    told = {place: limits_in_words(limits) for place in range(0, len(desk), 7) if (limits := limits_of(desk, place))}
    together = " ".join(sentence for sentences in told.values() for sentence in sentences)
    for words in ("Shake limited it most", "line pairs per mm", "taken as still", "taken as far"):
        assert words in together


def test_without_a_lens_or_a_workspace_there_is_nothing(sample_workspace: Path) -> None:
    desk = workspace_desk(sample_workspace)()
    unknown = int(np.flatnonzero(desk.frames["lens"].isna().to_numpy())[0])
    assert limits_of(desk, unknown) is None
    assert limits_of(three_row_desk(), 0) is None
    assert limits_csv(desk, {"at": key_of(desk, unknown)}).empty
    assert limits_csv(desk, {}).empty
    known = int(desk.flagged[0])
    taken = limits_csv(desk, {"at": key_of(desk, known)})
    assert taken["limiting"].sum() == 1


def test_a_chart_of_nothing_known_says_so_and_a_range_is_told() -> None:
    causes = pd.DataFrame({"cause": list(IN_SHORT), "smear_low_um": [np.nan] * 5, "smear_high_um": [np.nan] * 5})
    assert "Nothing of it is known" in str(limits_chart(causes, dict(IN_SHORT), None).layout.annotations)
    ranged = causes.assign(smear_low_um=[1.0, 0, 0, 2, 3], smear_high_um=[1.0, 0, 0, 9, 3])
    (bars,) = limits_chart(ranged, dict(IN_SHORT), "diffraction").data
    assert list(bars.text) == ["1.0 µm", "none", "none", "2.0 to 9.0 µm – the most", "3.0 µm"]


def test_a_range_is_told_as_one_in_the_table(sample_workspace: Path) -> None:
    desk = workspace_desk(sample_workspace)()
    place = next(p for p in range(len(desk)) if (limits := limits_of(desk, p)) and "aperture" in limits.not_noted)
    limits = limits_of(desk, place)
    assert limits is not None
    table = limits_table(limits).set_index("Cause")
    assert " to " in table.loc["Diffraction", "As wide on the sensor as"]
    assert "no limit" in table["Leaves by itself"].tolist()
