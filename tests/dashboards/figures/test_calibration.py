from __future__ import annotations

import pandas as pd
import plotly.io as pio

from auditor.audit.calibration_curves import SHARE_COLUMNS
from dashboards.figures.calibration import STATES, keep_share_chart, series_chart


def _shares() -> pd.DataFrame:
    rows = [
        ("set right", "25-50 mm", 1 / 60, 8, 3.4, 6, 0.75, 0.33, 0.95, 0.58),
        ("set right", "up to 25 mm", 1 / 30, 4, 4.0, 3, 0.75, 0.3, 0.9, 0.6),
        ("off", "25-50 mm", 1 / 60, 5, 5.0, 1, 0.2, 0.05, 0.5, 0.3),
    ]
    return pd.DataFrame(rows, columns=list(SHARE_COLUMNS))


def test_a_panel_a_state_a_mark_a_band_with_counts_and_interval():
    figure = keep_share_chart(_shares())
    assert [note.text for note in figure.layout.annotations] == [STATES["set right"], STATES["off"]]
    marks = [trace for trace in figure.data if trace.mode == "markers"]
    lines = [trace for trace in figure.data if trace.mode == "lines"]
    assert [trace.name for trace in marks] == ["up to 25 mm", "25-50 mm", "25-50 mm"]
    assert [trace.showlegend for trace in marks] == [True, True, False]
    assert list(lines[1].y) == [0.58]
    assert "kept 6 of 8 frames: 75 %" in marks[1].customdata[0]
    assert "33 to 95 %" in marks[1].customdata[0]
    assert marks[1].error_y.array[0] == 0.95 - 0.75
    assert figure.layout.xaxis2.title.text == "exposure time, s"
    assert list(figure.layout.xaxis2.ticktext) == ["1/60", "1/30"]
    assert marks[0].marker.symbol != marks[1].marker.symbol


def test_a_test_shows_frames_means_curve_best_and_expected():
    frames = pd.DataFrame({"setting_mm": [80.0, 80.0, 90.0], "response": [9.0, 11.0, 5.0]})
    curve = pd.DataFrame({"setting_mm": [80.0, 90.0], "fitted": [10.0, 5.0]})
    figure = series_chart(frames, curve, (91.0, 90.0, 92.0), 87.6, "edge width, px")
    assert [trace.name for trace in figure.data] == ["a frame", "mean of a setting", "fitted"]
    assert list(figure.data[1].y) == [10.0, 5.0]
    assert figure.layout.yaxis.title.text == "edge width, px"
    assert {note.text for note in figure.layout.annotations} == {"best 91 mm", "expected 87.6 mm"}
    assert {(shape.x0, shape.x1) for shape in figure.layout.shapes} == {(90.0, 92.0), (91.0, 91.0), (87.6, 87.6)}


def test_ratings_have_no_curve_and_nothing_says_so():
    frames = pd.DataFrame({"setting_mm": [80.0, 90.0], "response": [2.0, 5.0]})
    none = pd.DataFrame({"setting_mm": [80.0, 90.0], "fitted": [float("nan")] * 2})
    assert len(series_chart(frames, none, (89.0, 88.0, 90.0), 92.0, "rating").data) == 2
    for empty in (keep_share_chart(_shares().iloc[:0]), series_chart(frames.iloc[:0], none, (1, 1, 1), 1, "x")):
        assert "No" in pio.to_json(empty) or "no frame" in pio.to_json(empty)
