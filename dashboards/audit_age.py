"""Whether the audit still fits the user's files, and the offer to make it anew."""

from __future__ import annotations

from pathlib import Path

import dash_mantine_components as dmc
from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from auditor.model.workspace import KIT_FILE, SETTINGS_FILE, Workspace
from dashboards.components import plate

__all__ = ["add_audit_age", "age_in_words", "audit_again"]


def age_in_words(folder: Path) -> str:
    """Say whether kit.toml or settings.toml was changed after the last audit."""
    audited = _changed(folder / "store" / "audit" / "_manifest.json")
    if audited is None:
        return "Nothing was audited yet."
    files = (KIT_FILE, SETTINGS_FILE)
    newer = [name for name in files if (_changed(folder / name) or 0) > audited]
    if not newer:
        return "The audit is newer than the kit and the settings."
    verb = "was" if len(newer) == 1 else "were"
    return f"{' and '.join(newer)} {verb} changed after the last audit: what the other pages show is out of date."


def _changed(path: Path) -> int | None:
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return None


def audit_again(workspace: Workspace) -> Component:
    """Return the offer to audit again, with how old the audit is; its id is ``audit-age``."""
    return plate(
        "The audit",
        html.P(age_in_words(workspace.folder), id="audit-age", role="status"),
        html.Div(
            [dmc.Button("Audit again", id={"kind": "job-start", "what": "audit"}, variant="default")],
            className="buttons",
        ),
        html.Div(id="job-standing", role="status", className="standing"),
        dcc.Interval(id="job-watch", interval=1000),
    )


def add_audit_age(app: Dash, folder: Path) -> None:
    """Tell the audit's age anew whenever the job says something, as at its end."""

    @app.callback(
        Output("audit-age", "children", allow_duplicate=True),
        Input("job-standing", "children"),
        prevent_initial_call=True,
    )
    def age(_said: object) -> str:
        return age_in_words(folder)
