"""The first page, for the evening after the trip: what was shot with what, and where the setting was wrong."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

import pandas as pd
from dash import dcc, html
from dash.development.base_component import Component

from auditor.model.whereabouts import sentence
from dashboards.components import Page, chart, download, guarded_layout, heading, plate, scrolling
from dashboards.desk import Desk
from dashboards.figures.timeline import timeline_chart
from dashboards.filters import Filters, narrowed, search_of
from dashboards.runs import mounted_runs, trips_at_a_glance, wrong_stretches
from dashboards.verdicts import opening
from dashboards.whereabouts import TripPlaces, places_by_trip, shortly
from dashboards.words import DASH, VERDICTS, count_of, days, millimetres, moment, percent, reason, said, stops, unbroken

__all__ = ["PAGE"]

_TITLE = "After the trip"
_STRETCHES_SHOWN = 8
_TRIPS_SHOWN = 40


def _layout(desk: Desk, filters: Filters) -> Component:
    trips, places = trips_at_a_glance(desk, filters), places_by_trip(desk, filters)
    printed = _printed(desk, trips, has_places=bool(places))
    parts = [
        _stretches(desk, filters),
        _trips(trips, filters, places) if len(trips) > 1 else None,
        _timeline(desk, filters, trips),
        _where(places) if len(trips) == 1 else None,
    ]
    return html.Div(
        [
            heading(_TITLE, opening(desk, filters), *_lacking(desk), *_asked(desk), *printed),
            *(part for part in parts if part is not None),
        ]
    )


def _asked(desk: Desk) -> list[Component]:
    waiting = [question for question in desk.questions if not question.answered]
    if not waiting:
        return []
    frames = count_of(sum(question.frames for question in waiting), "frame")
    told = f"{count_of(len(waiting), 'question')} that only you can answer would settle {frames}"
    return [html.Span([f"{told}: ", dcc.Link("answer them", href="/questions"), "."])]


def _lacking(desk: Desk) -> list[Component]:
    """Say which bodies no lens of the kit fits: of their frames nothing can be told before it does."""
    counts = desk.lensless
    if not counts:
        return []
    names = [desk.name("body", body) for body in counts]
    more = f" and {len(names) - 2} more" if len(names) > 2 else ""
    frames = count_of(sum(one.frames for one in counts.values()), "frame")
    told = f"No lens of the kit fits {', '.join(names[:2])}{more}, so of {frames} no lens can be told: "
    return [html.Span([told, dcc.Link("add its lenses and adapters", href="/kit"), "."])]


def _where(places: Mapping[str, TripPlaces]) -> Component | None:
    """Tell where the one trip was; nothing where no frame tells."""
    if not places:
        return None
    [(found, without)] = places.values()
    return plate(
        "Where it was",
        html.P(f"{sentence(found, without)}."),
        note="Rounded to about a kilometre when it was read; the names are yours, from [[places]] in settings.toml.",
    )


def _trips(trips: pd.DataFrame, filters: Filters, places: Mapping[str, TripPlaces]) -> Component:
    columns = ("Trip", "Days", *(["Where"] if places else []), "Frames", "Set wrong", "Kept", "To print")
    head = html.Tr([html.Th(name, scope="col") for name in columns])
    rows = [
        html.Tr(
            [
                html.Th(_link(str(trip["trip"]), narrowed(filters, trip=(str(trip["trip"]),)), path="/"), scope="row"),
                html.Td(days(trip["first"], trip["last"]) if pd.notna(trip["first"]) else "No time"),
                *([html.Td(shortly(places.get(str(trip["trip"]), ((), 0))[0]) or DASH)] if places else []),
                html.Td(f"{trip['frames']}", className="number"),
                html.Td(f"{trip['wrong']}", className="number telling" if trip["wrong"] else "number"),
                html.Td(_kept(trip["kept"], trip["judged"]), className="number"),
                html.Td(_report(str(trip["trip"]), "Report")),
            ]
        )
        for _, trip in trips.head(_TRIPS_SHOWN).iterrows()
    ]
    table = scrolling(html.Table([html.Thead(head), html.Tbody(rows)]), "Trips")
    return plate("Trips", table, html.Div(download("trips", filters), className="under"))


def _printed(desk: Desk, trips: pd.DataFrame, *, has_places: bool) -> list[Component]:
    """Offer the report where one trip is looked at; where several are, each has it in its row."""
    if len(trips) != 1 or desk.workspace is None:
        return []
    trip = str(trips["trip"].iloc[0])
    plain = _report(trip, "Its report, to print")
    return [plain, _report(trip, "The same with its places", places="yes")] if has_places else [plain]


def _report(trip: str, words: str, **more: str) -> Component:
    address = f"/paper/trip.html?{urlencode({'trip': trip, **more})}"
    return html.A(words, href=address, target="_blank", title=f"Report of {trip}")


def _kept(kept: int, judged: int) -> str:
    return f"{percent(kept / judged)} of {judged}" if judged else "not judged"


def _link(words: str, filters: Filters, path: str) -> Component:
    return dcc.Link(words, href=path + search_of(filters))


def _stretches(desk: Desk, filters: Filters) -> Component:
    stretches = wrong_stretches(desk, filters)
    if stretches.empty:
        return plate("Where the setting was wrong", html.P("Nowhere, as far as can be told from what was recorded."))
    shown = stretches.head(_STRETCHES_SHOWN)
    more = len(stretches) - len(shown)
    items = [_stretch(desk, filters, run) for _, run in shown.iterrows()]
    return plate(
        "Where the setting was wrong",
        html.Ol(items, className="stretches"),
        html.Div(
            [html.Span(f"{more} shorter or less costly ones are in the CSV." if more else ""),
             download("wrong-stretches", filters)],
            className="under",
        ),
        note=f"{count_of(len(stretches), 'stretch', 'stretches')}, the costliest first.",
    )  # fmt: skip


def _stretch(desk: Desk, filters: Filters, run: pd.Series[Any]) -> Component:
    lens = desk.name("lens", str(run["lens"])) if pd.notna(run["lens"]) else "Lens not known"
    adapter = desk.name("adapter", str(run["adapter"])) if pd.notna(run["adapter"]) and run["adapter"] else ""
    where = [str(run["trip"])] if pd.notna(run["trip"]) else []
    where += [desk.name("body", str(run["body"]))] if pd.notna(run["body"]) else []
    when = ", ".join([*where, f"{moment(run['first'])} to {moment(run['last'], run['first'])}"])
    cost = [count_of(int(run["frames"]), "frame")]
    if pd.notna(run["stops_lost"]):
        cost.append(f"half of them lost {stops(float(run['stops_lost']))} or more")
    if run["blur_likely"]:
        cost.append(f"shake blur likely in {int(run['blur_likely'])}")
    told = reason({key: run[key] for key in ("setting_verdict", "setting_mm", "right_setting_mm", "setting_cause")})
    return html.Li(
        [
            html.H3([lens, html.Span(f" with {adapter}", className="quiet") if adapter else ""]),
            html.P(when, className="when"),
            html.P(unbroken(told)),
            html.P([f"{', '.join(cost)}. ", _link("See its frames", _view(filters, run), path="/worth-a-look")]),
        ]
    )


def _view(filters: Filters, run: pd.Series[Any]) -> Filters:
    """Return the filters that show a stretch's frames, to the minute."""
    chosen = {key: (str(run[key]),) for key in ("trip", "body", "lens") if pd.notna(run[key])}
    verdict = (str(run["setting_verdict"]),)
    since, until = (run[end].to_pydatetime().replace(second=0, microsecond=0) for end in ("first", "last"))
    return narrowed(filters, **chosen, verdict=verdict, since=since, until=until)


def _timeline(desk: Desk, filters: Filters, trips: pd.DataFrame) -> Component:
    latest = str(trips["trip"].iloc[0]) if len(trips) else ""
    shown = narrowed(filters, trip=(latest,)) if len(trips) > 1 else filters
    runs = mounted_runs(desk, shown)
    runs["mounted"] = [
        _mounted(desk, lens, adapter) for lens, adapter in zip(runs["lens"], runs["adapter"], strict=True)
    ]
    runs["body_name"] = [desk.name("body", str(body)) if pd.notna(body) else "" for body in runs["body"]]
    table = pd.DataFrame(
        {
            "From": [moment(first) for first in runs["first"]],
            "Lens": runs["mounted"],
            "Body": runs["body_name"],
            "Frames": runs["frames"],
            "Set to": [millimetres(float(typed)) for typed in runs["setting_mm"]],
            "Right": [millimetres(float(right)) for right in runs["right_setting_mm"]],
            "Setting": [said(VERDICTS, verdict) for verdict in runs["setting_verdict"]],
        }
    )
    lines = max(int(runs["mounted"].nunique()), 2)
    title = f"What was shot with what: {latest}" if latest else "What was shot with what"
    return plate(
        title,
        chart("mounted", timeline_chart(runs), table, shown, tall_px=110 + 38 * lines),
        note="From left to right frame by frame, with a mark where a day begins."
        + (" This is the latest trip; choose another above." if len(trips) > 1 else ""),
    )


def _mounted(desk: Desk, lens: object, adapter: object) -> str:
    if not isinstance(lens, str):
        return "Not known"
    return desk.name("lens", lens) + (
        f" + {desk.name('adapter', adapter)}" if isinstance(adapter, str) and adapter else ""
    )


PAGE = Page(path="/", name=_TITLE, layout=guarded_layout(_TITLE, _layout), held=True)
