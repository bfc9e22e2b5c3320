"""The setting test on the page: its plan, the list to shoot, and what its frames say."""

from __future__ import annotations

from collections.abc import Mapping

import dash_mantine_components as dmc
import pandas as pd
from dash import dcc, html
from dash.development.base_component import Component

from auditor.audit.calibration_series import SettingPlan
from auditor.errors import InputError, SteadykeepError
from auditor.model.workspace import Workspace
from auditor.pipeline.setting_tests import TEST_CAUTION, plan_steps
from dashboards.components import as_table, download, plate, to_do
from dashboards.desk import Desk
from dashboards.figures.calibration import series_chart
from dashboards.filters import Filters, search_of
from dashboards.tested import DEFAULTS, Reading, Source, pairings_to_test, plan_from
from dashboards.theme import CHART_CONFIG
from dashboards.words import exposure, millimetres

__all__ = ["reading_shown", "setting_test"]

_CAUTION = "Do the test before a paid job, never on one; what it tells holds for that distance and that body."
_MEASURES = {"edge_width_px": "edge width, px", "width_px": "edge width, px", "rating": "rating"}


def setting_test(desk: Desk, workspace: Workspace, filters: Filters, rest: Mapping[str, str]) -> list[Component]:
    """Return the form, and below it the plan that the address names."""
    choices = pairings_to_test(desk, workspace)
    if not choices:
        return [to_do("Nothing is typed for any pairing of the kit, so there is nothing to test.")]
    form = _form(choices, rest)
    if "pairing" not in rest:
        return [form]
    try:
        plan = plan_from(workspace, rest)
    except SteadykeepError as error:
        return [form, declined(error)]
    return [form, _plan(desk, plan, filters, rest), _reading_form(), html.Div(id="test-result")]


def declined(error: SteadykeepError) -> Component:
    """Return why there is no plan or no answer."""
    headline, problems = (error.headline, error.problems) if isinstance(error, InputError) else (str(error), ())
    parts = [html.P(f"{headline[0].upper()}{headline[1:]}.", className="failed")]
    return plate("It cannot be done", *parts, html.Ul([html.Li(one) for one in problems]) if problems else None)


def _form(choices: list[dict[str, str]], rest: Mapping[str, str]) -> Component:
    given = {**DEFAULTS, **rest}
    fields = [
        dmc.Select(
            id="test-pairing", label="Pairing", data=choices, value=rest.get("pairing"), searchable=True,
            placeholder="Choose one", comboboxProps={"withinPortal": False},
        ),
        dmc.TextInput(id="test-distance", label="Sensor to target, m", value=given["distance"]),
        dmc.TextInput(id="test-settings", label="Different settings", value=given["settings"]),
        dmc.TextInput(id="test-frames", label="Frames at each", value=given["frames"]),
    ]  # fmt: skip
    return plate(
        "Which setting is best?",
        html.Div(fields, className="filters form"),
        html.Div(dmc.Button("Plan the test", id="test-plan"), className="buttons"),
        note="A series of frames at several settings tells what to type, whatever is engraved. Reckon with "
        "half an hour, most of it typing; more frames make the answer sharper.",
    )


def _plan(desk: Desk, plan: SettingPlan, filters: Filters, rest: Mapping[str, str]) -> Component:
    kept = {key: rest[key] for key in ("pairing", *DEFAULTS) if key in rest}
    query = search_of(Filters(), kept)
    table = pd.DataFrame(
        {
            "Frame": [frame.order for frame in plan.frames],
            "Type": [_typed(frame.setting_mm) for frame in plan.frames],
            "Shutter": [exposure(frame.exposure_time_s) for frame in plan.frames],
        }
    )
    papers = [
        html.Li(
            html.A("The list on A4, to print and fill in", href=f"/paper/setting-test-a4.html{query}", target="_blank")
        ),
        html.Li(html.A("The list on A5", href=f"/paper/setting-test-a5.html{query}", target="_blank")),
        html.Li(html.A("The list as CSV, to fill in", href=f"/paper/setting-test.csv{query}")),
    ]
    return plate(
        "The plan",
        html.Ol([html.Li(step.replace(" (--read)", " below")) for step in plan_steps(plan)]),
        html.Ul(papers),
        html.Details([html.Summary(f"All {len(plan.frames)} frames"), as_table(table)], className="numbers"),
        html.P(f"{_CAUTION} {TEST_CAUTION}"),
        note=f"{len(plan.frames)} frames in random order, so that tiring hands touch all settings alike.",
    )


def _typed(setting_mm: float) -> str:
    return "off" if setting_mm != setting_mm else f"{setting_mm:g} mm"


def _source(name: str, label: str, why: str, example: str = "") -> Component:
    made: Component = dmc.TextInput(
        id={"kind": "test-source", "name": name}, label=label, description=why, value="",
        placeholder=f"such as {example}" if example else "",
    )  # fmt: skip
    return made


def _reading_form() -> Component:
    text = dmc.Textarea(
        id={"kind": "test-source", "name": "text"}, label="Or the filled-in table",
        value="",
        description="Copied from the spreadsheet with its first row; setting_mm, and rating or edge_width_px.",
        minRows=3, maxRows=8, autosize=True,
    )  # fmt: skip
    fields = [
        _source("folder", "The test's folder", "Inside an archive; indexed, audited, and measured or rated.",
                "2026/setting-test"),
        _source("first", "Or from", "By the camera's clock; that body's frames alone.", "2026-05-02 14:20"),
        _source("until", "Until", "Both ends count.", "2026-05-02 14:40"),
        text,
    ]  # fmt: skip
    return plate(
        "What the frames say",
        html.Div(fields, className="filters form entry"),
        html.Div(dmc.Button("Read the test", id="test-read"), className="buttons"),
        note="One of the three is enough. Frames with the stabiliser off are told by the log or the camera's record.",
    )


def reading_shown(reading: Reading, rest: Mapping[str, str], source: Source) -> Component:
    """Return what a test says: in words, as a chart and a table, and what of it can be written."""
    result = reading.result
    unit = _MEASURES.get(result.measured, "sharpness")
    figure = series_chart(
        result.frames, reading.curve, (result.reading.best_mm, result.reading.low_mm, result.reading.high_mm),
        result.plan.predicted_mm, unit,
    )  # fmt: skip
    is_width = reading.table["fitted"].notna().any()
    table = pd.DataFrame(
        {
            "Typed": [millimetres(value) for value in reading.table["setting_mm"]],
            "Frames": reading.table["frames"],
            f"Mean {unit}": [f"{value:.3g}" for value in reading.table["mean"]],
        }
        | ({"Fitted": [f"{value:.3g}" for value in reading.table["fitted"]]} if is_width else {})
    )
    kept = {key: rest[key] for key in ("pairing", *DEFAULTS) if key in rest}
    take = [download("setting-test", Filters(), extra=kept | source.extra)] if source.extra else []
    return plate(
        "The answer" if result.reading.told else "No clear answer",
        html.Ul([html.Li(line) for line in reading.words]),
        dcc.Graph(figure=figure, config=CHART_CONFIG, style={"height": 420}),
        html.Div(
            [html.Details([html.Summary("As a table"), as_table(table)], className="numbers"), *take], className="under"
        ),
        *_writing(reading),
        html.P(_CAUTION, className="told"),
        note="Shaded: where the best setting lies, nine in ten. Dashed: what the kit lets expect. "
        + ("Smaller is sharper." if is_width else "Of ratings only the order is read, so there is no curve."),
    )


def _writing(reading: Reading) -> list[Component]:
    result = reading.result
    if not result.reading.told:
        return []
    pairing = result.plan.pairing
    buttons = []
    if not pairing.lens.is_zoom and pairing.extension_mm[1] == 0:
        words = f"Note {result.lens_setting_mm:.1f} mm at {result.plan.distance_m:g} m for the lens"
        buttons.append(dmc.Button(words, id={"kind": "test-write", "what": "lens", "stamp": reading.stamp}))
    words = f"Note a gain of {result.gain:.3f} for the body"
    buttons.append(
        dmc.Button(words, id={"kind": "test-write", "what": "body", "stamp": reading.stamp}, variant="default")
    )
    return [
        html.P("Note it for one of the two in kit.toml, not for both: it is one measurement.", className="told"),
        html.Div(buttons, className="buttons"),
    ]
