"""What the pages change: the callbacks of forms and buttons, each over a workspace."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from dash import ALL, Dash, Input, Output, ctx
from dash.development.base_component import Component

from auditor.model.answers import ANSWERS_FILE
from auditor.model.aside import ASIDE_FILE
from auditor.model.workspace import KIT_FILE, LOG_FILE, SETTINGS_FILE
from dashboards.audit_age import add_audit_age
from dashboards.calibration_work import add_calibration_work
from dashboards.desk import Desk
from dashboards.jobs import Job, Standing, workspace_job
from dashboards.kit_work import add_kit_work
from dashboards.kit_writes import workspace_kits
from dashboards.log_work import add_log
from dashboards.log_writes import Log
from dashboards.pages.index import standing_shown
from dashboards.pages.questions import questions_shown
from dashboards.run_work import add_run
from dashboards.run_writes import RunWrites
from dashboards.undoing import undoable
from dashboards.writes import Answers, workspace_answers

__all__ = ["add_work"]


def add_work(app: Dash, now: Callable[[], Desk], folder: Path) -> None:
    """
    Bind the job of the index page, the log's form, the questions, a frame's confirmation, the kit, calibration.

    Parameters
    ----------
    app : Dash
    now : callable
        Returns the desk as it is.
    folder : Path
        The workspace.
    """
    _add_job(app, workspace_job(folder))
    add_audit_age(app, folder)
    noted = undoable([folder / name for name in (LOG_FILE, ANSWERS_FILE, ASIDE_FILE)])
    add_log(app, now, Log(folder, noted))
    add_run(app, now, RunWrites(folder, noted))
    _add_answers(app, now, workspace_answers(folder))
    files = undoable([folder / KIT_FILE, folder / SETTINGS_FILE])
    add_kit_work(app, folder, workspace_kits(folder, files))
    add_calibration_work(app, now, folder, files)


def _pressed() -> Mapping[str, Any] | str | None:
    """Return the id of the button pressed; a page that is just being laid presses none."""
    return ctx.triggered_id if ctx.triggered and ctx.triggered[0]["value"] else None


def _add_job(app: Dash, job: Job) -> None:
    @app.callback(
        Output("job-standing", "children"),
        Output("job-watch", "disabled"),
        Input("job-watch", "n_intervals"),
        Input({"kind": "job-start", "what": ALL}, "n_clicks"),
    )
    def watch(_passed: int | None, _clicks: list[int | None]) -> tuple[Component, bool]:
        return standing_shown(_started(job, _pressed()))


def _started(job: Job, pressed: Mapping[str, Any] | str | None) -> Standing:
    if isinstance(pressed, Mapping):
        return job.start(pressed["what"] == "read")
    return job.standing()


def _add_answers(app: Dash, now: Callable[[], Desk], answers: Answers) -> None:
    @app.callback(
        Output("answers-said", "children"),
        Output("questions-shown", "children"),
        Input({"kind": "answer", "question": ALL, "choice": ALL, "first": ALL}, "n_clicks"),
        Input({"kind": "answer-undo"}, "n_clicks"),
        prevent_initial_call=True,
    )
    def answer(_clicks: list[int | None], _undo: int | None) -> tuple[str, Component]:
        return _answered(answers, _pressed()), questions_shown(now())


def _answered(answers: Answers, pressed: Mapping[str, Any] | str | None) -> str:
    if not isinstance(pressed, Mapping):
        return ""
    if pressed["kind"] == "answer-undo":
        return answers.undo()
    first = dt.datetime.fromisoformat(str(pressed["first"]))
    return answers.give(int(pressed["question"]), int(pressed["choice"]), first)
