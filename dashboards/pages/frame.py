"""One frame: its picture, what was recorded beside what would have been right, and its neighbours."""

from __future__ import annotations

from collections.abc import Hashable, Mapping

import numpy as np
import pandas as pd
from dash import dcc, html
from dash.development.base_component import Component

from dashboards.aside import ASIDE, around, is_aside
from dashboards.components import Page, download, heading, plate, to_do
from dashboards.desk import Desk
from dashboards.filters import Filters, search_of
from dashboards.measured import sharpest_of_scene
from dashboards.pages.frame_limits import limit_plates
from dashboards.pages.frame_run import run_plates
from dashboards.thumbnails import key_of, place_of
from dashboards.whereabouts import frame_place
from dashboards.words import (
    BLUR_KINDS,
    BLUR_VERDICTS,
    CAUSES,
    DASH,
    VERDICTS,
    count_of,
    exposure,
    millimetres,
    percent,
    reason,
    said,
    stops,
    unbroken,
)

__all__ = ["PAGE"]

_TITLE = "A frame"
_NEIGHBOURS = 3


def _layout(desk: Desk, filters: Filters, rest: Mapping[str, str]) -> Component:
    place = place_of(desk, rest.get("at", ""))
    if place is None:
        return html.Div(
            [heading(_TITLE), to_do("This frame is not here, or its file has changed since the link was made.")]
        )
    frame: dict[Hashable, object] = desk.frames.iloc[place].to_dict()
    file = str(frame["path"]).rsplit("/", 1)[-1]
    key = key_of(desk, place)
    picture = html.A(
        html.Img(src=f"/picture/large/{key}.webp", alt=f"Frame {file}", className="large"),
        href=f"/picture/large/{key}.webp",
        target="_blank",
    )
    told = reason(frame) if isinstance(frame["flags"], str) else "Nothing about this frame is flagged."
    take = html.Div(download("frame", Filters(), extra={"at": key}), className="under")
    known = plate("What is known of it", html.P(unbroken(told)), _facts(desk, frame, place), take)
    return html.Div(
        [
            heading(file, f"{frame['archive']}: {frame['path']}"),
            _turning(desk, filters, place, rest),
            *_looking(picture, _sharpest(desk, filters, place), known),
            _neighbours(desk, filters, place),
            *run_plates(desk, place),
            *limit_plates(desk, place, rest),
        ]
    )


def _looking(picture: Component, sharpest: list[Component], known: Component) -> list[Component]:
    """Lay the picture beside the sharpest of its scene where there is one, else beside what is known."""
    if sharpest:
        return [html.Div([plate("This frame", picture), *sharpest], className="plates"), known]
    return [html.Div([html.Section(picture, className="plate"), known], className="plates looking")]


def _turning(desk: Desk, filters: Filters, place: int, rest: Mapping[str, str]) -> Component:
    aside = is_aside(rest)
    listed = desk.flagged_places(filters, aside=aside)
    words = "All that was put aside" if aside else "All frames worth a look"
    extra = ASIDE if aside else None
    back = dcc.Link(words, href=f"/worth-a-look{search_of(filters, extra)}")
    at = np.flatnonzero(listed == place)
    steps = around(desk, filters, place, aside=aside)
    links = [_link(desk, filters, to, said, extra) for to, said in steps]
    number = [html.Span(f"{int(at[0]) + 1} of {count_of(len(listed), 'frame')}")] if at.size else []
    return html.Nav([back, *number, *links], className="turning")


def _link(
    desk: Desk, filters: Filters, place: int, words: str | Component, extra: Mapping[str, str] | None = None
) -> Component:
    return dcc.Link(words, href=f"/frame{search_of(filters, {**(extra or {}), 'at': key_of(desk, place)})}")


def _facts(desk: Desk, frame: Mapping[Hashable, object], place: int) -> Component:
    told = _told(desk, frame) | _measured(desk, place)
    if where := frame_place(desk, place):
        told["Where, to about 1 km"] = where
    if isinstance(frame["problem"], str):
        told["Could not be read whole"] = frame["problem"]
    rows = [html.Tr([html.Th(name, scope="row"), html.Td(value)]) for name, value in told.items()]
    return html.Table(html.Tbody(rows), className="facts")


def _rests_on(frame: Mapping[Hashable, object]) -> str:
    """Return what a pairing rests on; without evidence of its own a frame goes with those around it."""
    evidence = frame["pairing_evidence"]
    if not isinstance(frame["lens"], str):
        return ""
    return f", from {evidence.replace('+', ', ')}" if isinstance(evidence, str) else ", from the frames around it"


def _told(desk: Desk, frame: Mapping[Hashable, object]) -> dict[str, str]:
    sure, chance = _number(frame, "pairing_confidence"), _number(frame, "blur_probability")
    return {
        "Taken": _text(frame["captured_at"])[:19],
        "Body": _named(desk, "body", frame),
        "Lens": _named(desk, "lens", frame),
        "Adapter": _named(desk, "adapter", frame),
        "How sure": f"{percent(sure)}{_rests_on(frame)}",
        "Exposure time": exposure(_number(frame, "exposure_time_s")),
        "Set to": millimetres(_number(frame, "setting_mm")),
        "Right": _right(frame),
        "Setting": said(VERDICTS, frame["setting_verdict"]),
        "Cause": said(CAUSES, frame["setting_cause"]),
        "Shake left over": percent(_number(frame, "residual")),
        "Cost": stops(_number(frame, "stops_lost")),
        "Shake blur, expected": _pixels(_number(frame, "shake_blur_px")),
        "Shake blur": f"{said(BLUR_VERDICTS, frame['blur_verdict'])}, chance {percent(chance)}",
        "Rating": _text(frame["rating"]),
        "Kept": {"True": "yes", "False": "no"}.get(_text(frame["kept"]), "not judged"),
    }


def _measured(desk: Desk, place: int) -> dict[str, str]:
    """Return what the pixels said, set beside what was expected; nothing where the frame was not measured."""
    if "blur_kind" not in desk.measures:
        return {}
    measured: dict[Hashable, object] = desk.measures.iloc[place].to_dict()
    if not isinstance(measured["blur_kind"], str):
        return {}
    sure, sharpness = _number(measured, "blur_confidence"), _number(measured, "sharpness_in_scene")
    how_sure = "" if sure is None else f", {percent(sure)} sure"
    told = {"In the picture": said(BLUR_KINDS, measured["blur_kind"]) + how_sure}
    if measured["blur_kind"] == "shake":
        told["Shake in the picture"] = _pixels(_number(measured, "shake_length_px"))
    if sharpness is not None:
        told["Sharpness in its scene"] = f"{percent(sharpness)} of the crispest"
    return told


def _sharpest(desk: Desk, filters: Filters, place: int) -> list[Component]:
    """Set the sharpest frame of the same scene beside this one."""
    found = sharpest_of_scene(desk.measures, place)
    if found is None:
        return []
    own, other = (_sharpness(desk, at) for at in (place, found.place))
    file = str(desk.frames["path"].iloc[found.place]).rsplit("/", 1)[-1]
    title = "The sharpest other of its scene" if other >= own else "The next sharpest of its scene"
    picture = html.Img(src=f"/picture/large/{key_of(desk, found.place)}.webp", alt=f"Frame {file}", className="large")
    frame = desk.frames.iloc[found.place]
    under = f"{exposure(float(frame['exposure_time_s']))}, set to {millimetres(float(frame['setting_mm']))}"
    return [
        plate(
            title,
            _link(desk, filters, found.place, picture),
            html.P([_link(desk, filters, found.place, file), f": {under}; {percent(other)} of the crispest."]),
            html.P(
                f"Of {count_of(found.frames, 'frame')}; sharpness is compared within a scene only.", className="note"
            ),
        )
    ]


def _sharpness(desk: Desk, place: int) -> float:
    return float(np.nan_to_num(desk.measures["sharpness_in_scene"].iloc[place], nan=-1.0))


def _right(frame: Mapping[Hashable, object]) -> str:
    best, low, high = (_number(frame, f"right_setting_{part}mm") for part in ("", "low_", "high_"))
    told = millimetres(best)
    return f"{told} ({millimetres(low)} to {millimetres(high)})" if low and high and high > low else told


def _number(frame: Mapping[Hashable, object], column: str) -> float | None:
    value = frame[column]
    return float(value) if isinstance(value, (int, float)) and np.isfinite(value) else None


def _text(value: object) -> str:
    return DASH if value is None or value is pd.NaT or value is pd.NA or value != value else str(value)


def _pixels(value: float | None) -> str:
    return DASH if value is None else f"{value:.1f} px"


def _named(desk: Desk, kind: str, frame: Mapping[Hashable, object]) -> str:
    key = frame[kind]
    return desk.name(kind, key) if isinstance(key, str) else "Not known"


def _neighbours(desk: Desk, filters: Filters, place: int) -> Component:
    """Show the frames shot just before and after on the same body: often one of them is the sharper one."""
    at = np.flatnonzero(desk.in_order == place)
    if not at.size:
        return html.Div()
    around = range(int(at[0]) - _NEIGHBOURS, int(at[0]) + _NEIGHBOURS + 1)
    places = [int(desk.in_order[to]) for to in around if 0 <= to < len(desk.in_order)]
    body = desk.frames["body"].cat.codes
    same = [other for other in places if body.iloc[other] == body.iloc[place]]
    return plate(
        "Just before and after",
        html.Ul([_neighbour(desk, filters, other, is_this=other == place) for other in same], className="strip"),
    )


def _neighbour(desk: Desk, filters: Filters, place: int, *, is_this: bool) -> Component:
    frame = desk.frames.iloc[place]
    file = str(frame["path"]).rsplit("/", 1)[-1]
    picture = html.Img(src=f"/picture/small/{key_of(desk, place)}.webp", alt="", className="thumb")
    under = f"{exposure(float(frame['exposure_time_s']))}, set to {millimetres(float(frame['setting_mm']))}"
    words = html.Span([picture, html.Span(file), html.Span(under, className="quiet")])
    return html.Li(words if is_this else _link(desk, filters, place, words), className="this" if is_this else "")


PAGE = Page(path="/frame", name=_TITLE, layout=_layout, in_nav=False)
