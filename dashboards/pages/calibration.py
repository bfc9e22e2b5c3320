"""Calibration: the photographer's own hand, fitted to the frames, and a test of what to type."""

from __future__ import annotations

from collections.abc import Mapping

import dash_mantine_components as dmc
import pandas as pd
from dash import dcc, html
from dash.development.base_component import Component

from auditor.errors import InputError, SteadykeepError
from auditor.model.workspace import Workspace
from dashboards.audit_age import audit_again
from dashboards.calibrated import FittedHand, doubt_of_stops, fitted_hand, is_judgement, written_in_words
from dashboards.components import Page, as_table, chart, download, heading, labelled, look_again, plate, to_do
from dashboards.desk import Desk
from dashboards.figures.calibration import SHARE_PANEL_PX, STATES, keep_share_chart
from dashboards.filters import Filters, search_of
from dashboards.setting_test import setting_test
from dashboards.weighed import PATIENCE_S, Waiting
from dashboards.words import count_of, exposure, percent, said, spread

__all__ = ["PAGE"]

_TITLE = "Calibration"
_LEAD = "Your own hand and your own stabiliser, from your own frames, in place of judgement."
_CAUTION = (
    "A fit is of the frames you judged, held as you held them then; tired or in the cold you shake otherwise. Test it "
    "before a paid job."
)


def _layout(desk: Desk, filters: Filters, rest: Mapping[str, str]) -> Component:
    workspace = desk.workspace
    if workspace is None:
        return html.Div([heading(_TITLE), to_do("These pages were opened over tables alone, without a workspace.")])
    is_test = rest.get("part") == "test" or "pairing" in rest
    parts = [("Your hand", None, not is_test), ("A setting test", {"part": "test"}, is_test)]
    links = [
        html.Strong(words) if here else dcc.Link(words, href=f"/calibration{search_of(filters, extra)}")
        for words, extra, here in parts
    ]
    shown = setting_test(desk, workspace, filters, rest) if is_test else _hand(desk, workspace, filters, rest)
    said = html.Div(
        [
            html.Div(id="calibration-said", role="status", className="standing"),
            dmc.Button("Take the last change back", id={"kind": "calibration-undo"}, variant="default"),
        ],
        className="changing",
    )
    top = [heading(_TITLE, _LEAD), labelled(html.Nav(links, className="turning"), "Parts of this page")]
    return html.Div([*top, *shown, said, audit_again(workspace)])


def _hand(desk: Desk, workspace: Workspace, filters: Filters, rest: Mapping[str, str]) -> list[Component | None]:
    body = rest.get("on", "")
    try:
        found = fitted_hand(desk, body, PATIENCE_S)
    except Waiting as awaited:
        where = f"/calibration{search_of(filters, {'on': body} if body else None)}"
        return [_now(workspace), _bodies(desk, workspace, filters, body), look_again(where, str(awaited))]
    except SteadykeepError as error:
        return [_now(workspace), _bodies(desk, workspace, filters, body), _declined(error)]
    return [
        _now(workspace),
        _bodies(desk, workspace, filters, found.report.body),
        _figures(desk, found, filters),
        _shares(found, filters),
        _write(workspace, found),
    ]


def _now(workspace: Workspace) -> Component:
    hand = workspace.settings.hand
    told = (
        f"Shake {hand.shake_mrad:g} mrad per axis at 1/60 s, growing with time to the power of {hand.exponent:g}, with "
        f"a spread of {hand.spread_stops:g} stops from frame to frame."
    )
    where = (
        "These are the figures that every workspace begins with: judgement, and not you." if is_judgement(hand) else ""
    )
    return plate("What settings.toml says", html.P(told), html.P(where) if where else None, note="Under [hand].")


def _bodies(desk: Desk, workspace: Workspace, filters: Filters, chosen: str) -> Component | None:
    if len(workspace.kit.bodies) < 2:
        return None
    links: list[Component | str] = []
    for body in workspace.kit.bodies:
        where = f"/calibration{search_of(filters, {'on': body.id})}"
        links.append(html.Strong(body.name) if body.id == chosen else dcc.Link(body.name, href=where))
    return labelled(html.Nav([html.Span("Frames of "), *links], className="turning"), "Bodies")


def _declined(error: SteadykeepError) -> Component:
    headline, problems = (error.headline, error.problems) if isinstance(error, InputError) else (str(error), ())
    return plate(
        "What your frames say",
        html.P(f"Nothing can be fitted: {headline}."),
        html.Ul([html.Li(problem) for problem in problems]) if problems else None,
    )


def _figures(desk: Desk, found: FittedHand, filters: Filters) -> Component:
    fit = found.report.fit
    off = count_of(fit.off, "frame") if fit.off else "none"
    rests = (
        f"{count_of(fit.frames, 'judged frame')} of {desk.name('body', found.report.body)}, {off} of them with the "
        f"stabiliser off, in {count_of(found.bursts, 'burst')}. Frames of a burst are alike, so they tell as much as "
        f"about {fit.effective_frames:.0f} single ones."
    )
    left = found.report.left_out
    out = html.Details(
        [
            html.Summary(f"{count_of(sum(left.values()), 'frame')} left out"),
            html.Ul([html.Li(f"{count_of(number, 'frame')}: {reason}") for reason, number in left.items()]),
        ],
        className="numbers",
    )
    return plate(
        "What your frames say",
        html.P(rests),
        as_table(_told(found.figures)),
        html.Div([out if left else "", download("hand", filters, extra={"on": found.report.body})], className="under"),
        html.Ul([html.Li(line) for line in found.report.doubts]),
        note=f"Median, and where nine in ten lie ({percent(fit.confidence)} interval).",
    )


def _told(figures: pd.DataFrame) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "Figure": figures["figure"],
            "Now": [_value(value, unit) for value, unit in zip(figures["in_files"], figures["unit"], strict=True)],
            "Fitted": [_value(value, unit) for value, unit in zip(figures["fitted"], figures["unit"], strict=True)],
            "90 % interval": [
                f"{_value(low, '')} to {_value(high, unit)}"
                for low, high, unit in zip(figures["low"], figures["high"], figures["unit"], strict=True)
            ],
            "Rests on": ["your frames" if told else "mainly what was believed before" for told in figures["told"]],
        }
    )


def _value(value: float, unit: str) -> str:
    if value != value:
        return "–"
    return f"{value:.2g} {unit if unit != 'share' else ''}".strip()


def _shares(found: FittedHand, filters: Filters) -> Component:
    shares = found.shares
    table = pd.DataFrame(
        {
            "Stabiliser": [said(STATES, state) for state in shares["stabiliser"]],
            "Right setting": shares["focal"],
            "Exposure time": [exposure(time) for time in shares["exposure_time_s"]],
            "Frames": shares["frames"],
            "Kept": shares["kept"],
            "Share": [percent(share) for share in shares["kept_share"]],
            "Nine in ten": [spread(low, high) for low, high in zip(shares["low"], shares["high"], strict=True)],
            "Fitted": [percent(share) for share in shares["fitted"]],
        }
    )
    panels = max(int(shares["stabiliser"].nunique()), 1)
    return plate(
        "Kept, and what the fit lets expect",
        chart(
            "hand-shares",
            keep_share_chart(shares),
            table,
            filters,
            tall_px=110 + SHARE_PANEL_PX * panels,
            extra={"on": found.report.body},
        ),
        note="Marks: what you kept, by the right setting's length, with the interval in which nine in ten lie. Dotted: "
        "the fit, at the very frames of each mark. A mark far off its line is a reason to look at those frames.",
        wide=True,
    )


def _write(workspace: Workspace, found: FittedHand) -> Component:
    words = written_in_words(found.report)
    if not words:
        return plate(
            "Use it", html.P("The frames did not tell enough, so there is nothing to write."), html.P(_CAUTION)
        )
    doubt = doubt_of_stops(workspace, found.report)
    where = {"kind": "hand-write", "body": found.report.body, "stamp": found.stamp}
    return plate(
        "Use it",
        html.P(
            f"Would write {words}. Shake and its growth were fitted together: one is not right without the other. What "
            "else the frames did not tell stays as it is; your comments stay."
        ),
        html.P(doubt) if doubt else None,
        html.Div(dmc.Button("Write what was told", id=where), className="buttons"),
        html.P(_CAUTION, className="told"),
    )


PAGE = Page(path="/calibration", name=_TITLE, layout=_layout)
