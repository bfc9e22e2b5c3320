"""
Keep rates and sharp rates as counted, keep rates under the same conditions.

By lens, body, adapter, trip, aperture and slowness.
"""

from __future__ import annotations

import pandas as pd
from dash import html
from dash.development.base_component import Component

from auditor.errors import SteadykeepError
from dashboards.components import Page, chart, guarded_layout, heading, look_again, plate
from dashboards.desk import Desk
from dashboards.figures.keep_rates import keep_rate_chart, keep_rate_steps, kept_and_sharp_chart
from dashboards.figures.weighed import fair_chart
from dashboards.filters import Filters, search_of
from dashboards.rates import keep_rates, keep_rates_by_aperture, keep_rates_by_slowness
from dashboards.sharp_rates import FIELDS, kept_and_sharp_by_lens, sharp_of
from dashboards.weighed import COMPARISON_EXPLAINED, PATIENCE_S, Waiting, fair_rates, fair_sentences
from dashboards.words import DASH, count_of, percent, spread

__all__ = ["PAGE", "rate_table", "sharp_note"]

_TITLE = "Keep rates"


def _layout(desk: Desk, filters: Filters) -> Component:
    lens = keep_rates(desk, filters, "lens")
    judged = int(lens["judged"].sum())
    told = f"{count_of(int(lens['kept'].sum()), 'frame')} kept of {count_of(judged, 'judged frame')}"
    left = int(lens["frames"].sum()) - judged
    told += f"; {count_of(left, 'frame')} in trips that were never judged are not in any rate." if left else "."
    caution = (
        "As counted, a lens used in the dark looks worse than it is. Intervals of counts are at 95 % if frames were "
        "independent; those of one burst are not, so the true doubt is wider. A rate is not proof."
    )
    plates = [
        _plate("Lens by lens", "keep-rates-by-lens", lens, filters, "Lens"),
        _kept_and_sharp(desk, filters),
        _fair(desk, filters, "lens"),
        _slow(desk, filters),
        _aperture(desk, filters),
        _plate("Body by body", "keep-rates-by-body", keep_rates(desk, filters, "body"), filters, "Body"),
        _fair(desk, filters, "body"),
        _plate(
            "Adapter by adapter", "keep-rates-by-adapter", keep_rates(desk, filters, "adapter"), filters,
            "Adapter",
        ),
        _fair(desk, filters, "pairing"),
        _plate("Trip by trip", "keep-rates-by-trip", keep_rates(desk, filters, "trip"), filters, "Trip"),
    ]  # fmt: skip
    notes = [html.P(caution, className="note"), html.P(sharp_note(lens), className="note")]
    return html.Div(
        [heading(_TITLE, told), *notes, html.Div([one for one in plates if one is not None], className="plates")]
    )


def rate_table(rates: pd.DataFrame, first: str) -> pd.DataFrame:
    """Return keep rates, and where frames were measured sharp ones, as a reader sees them."""
    table = pd.DataFrame(
        {
            first: rates["name"],
            "Frames": rates["frames"],
            "Judged": rates["judged"],
            "Kept": rates["kept"],
            "Keep rate": [percent(rate) for rate in rates["keep_rate"]],
            "95 % interval": [spread(low, high) for low, high in zip(rates["low"], rates["high"], strict=True)],
        }
    )
    if "sharp" not in rates:
        return table
    ends = zip(rates["sharp_low"], rates["sharp_high"], strict=True)
    table["Blur told"], table["Sharp"] = rates["sharp_judged"], rates["sharp"]
    table["Sharp rate"] = [percent(rate) for rate in rates["sharp_rate"]]
    table["95 % interval of it"] = [spread(low, high) for low, high in ends]
    return table


def sharp_note(rates: pd.DataFrame) -> str:
    """Say what the sharp rate is of, what is in none, and how far to trust it."""
    if "sharp" not in rates:
        return "How many frames are sharp is not known: none was measured. Run steadykeep measure to set it beside."
    never, unknown = int(rates["never_measured"].sum()), int(rates["sharp_unknown"].sum())
    left = [f"{count_of(never, 'frame')} never measured"] if never else []
    left += [f"{count_of(unknown, 'frame')} of which the pixels cannot tell"] if unknown else []
    return (
        f"Sharp is what the pixels say of {count_of(int(rates['sharp_judged'].sum()), 'frame')}"
        + (f"; {' and '.join(left)} are in no rate. " if left else ". ")
        + "It is an estimate: about one answer in twenty is wrong, and blur under about 6 px of the full picture often "
        "passes as sharp. A sharp frame may be dull, and a kept one soft."
    )


def _kept_and_sharp(desk: Desk, filters: Filters) -> Component | None:
    """Return the plate that sets what was kept against what is sharp, none where nothing was measured."""
    if sharp_of(desk, filters) is None:
        return None
    fields = kept_and_sharp_by_lens(desk, filters)
    figure = kept_and_sharp_chart(fields, FIELDS)
    tall = 120 + 34 * max(len(fields), 3)
    return plate(
        "Kept and sharp, lens by lens",
        chart("kept-and-sharp", figure, field_table(fields), filters, tall_px=tall),
        note="Of the frames that were both judged and told. Many sharp frames that were not kept: look at the motifs "
        "before the lens. Many kept though soft: the pixels ask for more than you do.",
    )


def field_table(fields: pd.DataFrame) -> pd.DataFrame:
    """Return kept against sharp as a reader sees it."""
    return pd.DataFrame(
        {"Lens": fields["name"], **{name: fields[field] for field, name in FIELDS.items()}, "Both told": fields["both"]}
    )


def _plate(title: str, name: str, rates: pd.DataFrame, filters: Filters, first: str) -> Component:
    has_a_rate = rates["judged"] + rates.get("sharp_judged", 0) > 0
    tall = 100 + 34 * max(int(has_a_rate.sum()), 3)
    return plate(title, chart(name, keep_rate_chart(rates), rate_table(rates, first), filters, tall_px=tall))


_FAIR = {
    "lens": ("Lens by lens, under the same conditions", "Lens"),
    "body": ("Body by body, under the same conditions", "Body"),
    "pairing": ("Pairing by pairing, under the same conditions", "Pairing"),
}


def _fair(desk: Desk, filters: Filters, by: str) -> Component:
    title, first = _FAIR[by]
    try:
        fair = fair_rates(desk, by, PATIENCE_S / len(_FAIR))
    except Waiting as awaited:
        return plate(title, look_again(f"/keep-rates{search_of(filters)}", str(awaited)))
    except SteadykeepError as error:
        return plate(title, html.P(f"Nothing can be compared: {error}"))
    told = [html.Li(sentence) for sentence in fair_sentences(desk, by)]
    meant = [html.Li([html.Strong(f"{column}: "), meaning]) for column, meaning in COMPARISON_EXPLAINED.items()]
    tall = 100 + (44 if by == "pairing" else 34) * max(int(fair["points"].notna().sum()), 3)
    return plate(
        title,
        chart(f"fair-by-{by}", fair_chart(fair), _fair_table(fair, first), filters, tall_px=tall),
        html.Details([html.Summary("In words"), html.Ul(told)], className="numbers"),
        html.Details([html.Summary("What the columns mean"), html.Ul(meant)], className="numbers"),
        note="Each against all the others, at the conditions it was itself used under. The whole archive is compared, "
        "whatever is chosen above. An interval that holds 0 does not show which is better.",
    )


def _fair_table(fair: pd.DataFrame, first: str) -> pd.DataFrame:
    """Return a fair comparison as a reader sees it, the raw rates beside the fair ones."""
    known = fair["points"].notna()
    ends = zip(fair["low"], fair["high"], known, strict=True)
    return pd.DataFrame(
        {
            first: fair["name"],
            "As counted": _pairs(fair["counted"], fair["others_counted"]),
            "Same conditions": _pairs(fair["fair"], fair["others_fair"]),
            "Difference": [f"{round(points):+d}" if points == points else DASH for points in fair["points"]],
            "95 % interval": [f"{low:+.0f} to {high:+.0f}" if there else DASH for low, high, there in ends],
            "Left out": [f"{left} of {judged}" for left, judged in zip(fair["left_out"], fair["judged"], strict=True)],
            "Said": fair["verdict"],
        }
    )


def _pairs(mine: pd.Series[float], others: pd.Series[float]) -> list[str]:
    return [
        f"{percent(one)} / {percent(other)}" if one == one else DASH for one, other in zip(mine, others, strict=True)
    ]


def _slow(desk: Desk, filters: Filters) -> Component:
    rates = keep_rates_by_slowness(desk, filters)
    return plate(
        "By how slow the exposure was",
        chart(
            "keep-rates-by-slowness", keep_rate_steps(rates, "stops slower than 1 ÷ right setting"),
            rate_table(rates, "Stops slower"), filters,
        ),
        note="0 is an exposure of one second divided by the right setting in mm; 3 is eight times as long. "
        + _left_out(rates, "a lens, an exposure time or a right setting"),
    )  # fmt: skip


def _aperture(desk: Desk, filters: Filters) -> Component:
    rates = keep_rates_by_aperture(desk, filters)
    return plate(
        "By aperture",
        chart("keep-rates-by-aperture", keep_rate_steps(rates, "f-number, to the nearest stop"),
              rate_table(rates, "F-number"), filters),
        note=_left_out(rates, "a recorded aperture"),
    )  # fmt: skip


def _left_out(rates: pd.DataFrame, what: str) -> str:
    left = rates.attrs["left_out"]
    return f"{count_of(left, 'frame')} without {what} left out." if left else ""


PAGE = Page(path="/keep-rates", name=_TITLE, layout=guarded_layout(_TITLE, _layout), held=True)
