from __future__ import annotations

from dashboards.figures.breathing import breathing_chart


def test_measured_points_are_drawn_by_distance_over_the_value_at_infinity() -> None:
    figure = breathing_chart([(1.0, 54.5), (0.45, 59.1)], 51.6)
    assert (list(figure.data[0].x), list(figure.data[0].y)) == ([0.45, 1.0], [59.1, 54.5])
    assert "at 0.45 m: 59.1 mm" in figure.data[0].customdata[0]
    assert figure.layout.shapes[0].y0 == 51.6
    assert (figure.layout.xaxis.title.text[-1], figure.layout.yaxis.title.text[-2:]) == ("m", "mm")
