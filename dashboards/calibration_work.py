"""The callbacks of the calibration's page: plan, read, write what was told, take back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Literal

from dash import ALL, Dash, Input, Output, State, ctx, no_update
from dash.development.base_component import Component

from auditor.errors import InputError, SteadykeepError
from auditor.model.workspace import open_workspace
from auditor.pipeline.calibrating import write_hand
from auditor.pipeline.setting_tests import write_setting
from dashboards.audit_age import age_in_words
from dashboards.calibrated import fitted_hand, written_in_words
from dashboards.desk import Desk
from dashboards.filters import filters_from_search, rest_of, search_of
from dashboards.setting_test import declined, reading_shown
from dashboards.tested import Source, read_test
from dashboards.undoing import Undoable

__all__ = ["add_calibration_work"]

_FORM = ("pairing", "distance", "settings", "frames")
_MEANWHILE = (
    "The frames or the files changed meanwhile, nothing was written; open this page again to see it as it is now."
)


def add_calibration_work(app: Dash, now: Callable[[], Desk], folder: Path, files: Undoable) -> None:
    """
    Bind the page.

    Parameters
    ----------
    app : Dash
    now : callable
        Returns the desk as it is.
    folder : Path
        The workspace.
    files : Undoable
        Over its kit.toml and settings.toml.
    """

    @app.callback(
        Output("address", "search", allow_duplicate=True),
        Input("test-plan", "n_clicks"),
        *[State(f"test-{name}", "value") for name in _FORM],
        State("address", "search"),
        prevent_initial_call=True,
    )
    def plan(clicks: int | None, pairing: Any, distance: Any, settings: Any, frames: Any, search: str | None) -> Any:
        return _planned((pairing, distance, settings, frames), search) if clicks else no_update

    @app.callback(
        Output("test-result", "children"),
        Input("test-read", "n_clicks"),
        State({"kind": "test-source", "name": ALL}, "value"),
        State({"kind": "test-source", "name": ALL}, "id"),
        State("address", "search"),
        running=[(Output("test-read", "loading"), True, False)],
        prevent_initial_call=True,
    )
    def read(clicks: int | None, values: list[Any], ids: list[Any], search: str | None) -> Any:
        return _shown(now(), _source(values, ids), rest_of(search)) if clicks else no_update

    @app.callback(
        Output("calibration-said", "children"),
        Output("audit-age", "children", allow_duplicate=True),
        Input({"kind": "hand-write", "body": ALL, "stamp": ALL}, "n_clicks"),
        Input({"kind": "test-write", "what": ALL, "stamp": ALL}, "n_clicks"),
        Input({"kind": "calibration-undo"}, "n_clicks"),
        State({"kind": "test-source", "name": ALL}, "value"),
        State({"kind": "test-source", "name": ALL}, "id"),
        State("address", "search"),
        prevent_initial_call=True,
    )
    def write(
        _hand: list[Any], _test: list[Any], _undo: int | None, values: list[Any], ids: list[Any], search: str | None
    ) -> Any:
        pressed = ctx.triggered_id if ctx.triggered and ctx.triggered[0]["value"] else None
        if not isinstance(pressed, Mapping):
            return no_update, no_update
        if pressed["kind"] == "calibration-undo":
            said = files.undo()
        elif pressed["kind"] == "hand-write":
            said = _hand_written(now(), folder, files, pressed)
        else:
            said = _test_written(now(), files, pressed, (_source(values, ids), rest_of(search)))
        return said, age_in_words(folder)


def _planned(values: tuple[Any, ...], search: str | None) -> Any:
    """Return the address of a plan, with the filters as they are."""
    given = {key: value for key, value in zip(_FORM, values, strict=True) if isinstance(value, str) and value}
    if "pairing" not in given:
        return no_update
    return search_of(filters_from_search(search), {"part": "test", **given})


def _source(values: list[Any], ids: list[Any]) -> Source:
    known = ("text", "folder", "first", "until")
    given = {str(one.get("name")): value for one, value in zip(ids, values, strict=True) if isinstance(value, str)}
    return Source(**{key: given[key] for key in known if key in given})


def _shown(desk: Desk, source: Source, rest: Mapping[str, str]) -> Component:
    try:
        return reading_shown(read_test(desk, rest, source), rest, source)
    except SteadykeepError as error:
        return declined(error)


def _hand_written(desk: Desk, folder: Path, files: Undoable, pressed: Mapping[str, Any]) -> str:
    try:
        found = fitted_hand(desk, str(pressed["body"]))
        if found.stamp != pressed["stamp"]:
            return _MEANWHILE
        words = written_in_words(found.report)
        files.do(f"hand from {found.report.body}", lambda: write_hand(open_workspace(folder), found.report))
    except SteadykeepError as error:
        return str(error)
    return f"Written: {words}." if words else "The frames did not tell enough, nothing was written."


def _test_written(
    desk: Desk, files: Undoable, pressed: Mapping[str, Any], given: tuple[Source, Mapping[str, str]]
) -> str:
    what: Literal["lens", "body"] = "lens" if pressed["what"] == "lens" else "body"
    try:
        reading = read_test(desk, given[1], given[0])
        workspace = desk.workspace
        if workspace is None or reading.stamp != pressed["stamp"]:
            return _MEANWHILE
        files.do(f"setting test of {reading.result.plan.name}", lambda: write_setting(workspace, reading.result, what))
    except InputError as error:
        return str(error)
    pairing = reading.result.plan.pairing
    if what == "body":
        return f'Written to kit.toml: stabiliser_gain = {reading.result.gain:.4f} of "{pairing.body.id}".'
    return (
        f"Written to kit.toml: {reading.result.lens_setting_mm:.1f} mm at {reading.result.plan.distance_m:g} m under "
        f'breathing of "{pairing.lens.id}".'
    )
