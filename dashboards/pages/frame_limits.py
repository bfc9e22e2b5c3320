"""What limited a frame, on its page."""

from __future__ import annotations

from collections.abc import Mapping

from dash import html
from dash.development.base_component import Component

from dashboards.components import chart, plate
from dashboards.desk import Desk
from dashboards.figures.limits import limits_chart
from dashboards.filters import Filters
from dashboards.limits import IN_SHORT, limits_in_words, limits_of, limits_table

__all__ = ["limit_plates"]

_NOTE = (
    "Expected from time, setting, aperture and distance, not seen in the picture. Each bar is the straight smear that "
    "would cost as much contrast; the longest limits."
)


def limit_plates(desk: Desk, place: int, rest: Mapping[str, str]) -> list[Component]:
    """Return the plate with the causes of blur; none where there is nothing to work them out from."""
    limits = limits_of(desk, place)
    if limits is None:
        return []
    figure = limits_chart(limits.causes, dict(IN_SHORT), limits.limiting)
    told = [html.P(sentence) for sentence in limits_in_words(limits)]
    extra = {"at": rest["at"]}
    shown = chart("limits-of-frame", figure, limits_table(limits), Filters(), tall_px=230, extra=extra)
    return [plate("What limited this frame", *told, shown, note=_NOTE)]
