"""``log add``, ``log show`` and ``log import``: the shoot log."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.errors import LogError
from auditor.model.documents import read_text
from auditor.model.log import LOG_COLUMNS, LogRow
from auditor.model.workspace import open_workspace
from auditor.pipeline.shoot_log import add_log_row, import_log, planned_import
from auditor.wording import counted

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    log = typer.Typer(help="Keep the shoot log: what was mounted when.", no_args_is_help=True)
    app.add_typer(log, name="log")
    _register_add(log)
    _register_show(log)
    _register_import(log)


def _register_add(log: typer.Typer) -> None:
    @log.command(epilog="Example: steadykeep log add --lens orla-50 --adapter m42-reducer --setting-mm 36")
    def add(  # noqa: PLR0913  (one option a column of the log)
        workspace: Folder = Path(),
        start: Annotated[str, typer.Option(help="Local time.", show_default="now")] = "",
        end: Annotated[str, typer.Option(help="Until when, if not until the next row.")] = "",
        body: Annotated[str, typer.Option(help="Body, id in the kit.", show_default="the only one")] = "",
        lens: Annotated[str, typer.Option(help="Lens, id in the kit.")] = "",
        adapter: Annotated[str, typer.Option(help="Adapter; several joined by +, lens side first.")] = "",
        support: Annotated[str, typer.Option(help="hand, monopod, tripod or braced.")] = "",
        stabiliser: Annotated[str, typer.Option(help="on or off.")] = "",
        setting_mm: Annotated[str, typer.Option(help="Focal length typed into the body.")] = "",
        focal_mm: Annotated[str, typer.Option(help="Position of a zoom.")] = "",
        focus_distance_m: Annotated[str, typer.Option(help="Focus distance.")] = "",
        aperture: Annotated[str, typer.Option(help="Aperture, such as 2.8.")] = "",
        subject: Annotated[str, typer.Option(help="still, walking, running, or a speed in m/s.")] = "",
        note: Annotated[str, typer.Option(help="Anything else.")] = "",
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """Note a change of what is mounted."""
        voice = Voice(as_json, quiet)
        given = locals()
        values = {name: given[name] for name in LOG_COLUMNS}
        values["start"] = start or dt.datetime.now().strftime("%Y-%m-%d %H:%M")
        row = add_log_row(open_workspace(workspace), values)
        voice.say("Noted: " + _sentence(row))
        voice.document(_fields(row))


def _register_show(log: typer.Typer) -> None:
    @log.command(epilog="Example: steadykeep log show ~/steadykeep")
    def show(workspace: Folder = Path(), as_json: AsJson = False, quiet: Quiet = False) -> None:
        """List the rows of the log, and those that cannot be read."""
        voice = Voice(as_json, quiet)
        read = open_workspace(workspace).log
        used = [name for name in LOG_COLUMNS if any(getattr(row, name) is not None for row in read.rows)]
        voice.table(used, [[_cell(getattr(row, name)) for name in used] for row in read.rows], left=len(used))
        voice.say(f"{counted(len(read.rows), 'row')}.")
        for problem in read.problems:
            voice.warn(problem)
        voice.document({"rows": [_fields(row) for row in read.rows], "problems": read.problems})


def _register_import(log: typer.Typer) -> None:
    @log.command("import", epilog="Example: steadykeep log import notes.csv ~/steadykeep --write")
    def take_in(
        file: Annotated[Path, typer.Argument(help="A CSV with the columns of log.csv, in any order.")],
        workspace: Folder = Path(),
        write: Annotated[bool, typer.Option("--write", help="Add the rows; without it they are only shown.")] = False,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """Show which rows of a CSV are new to the log, and add them with --write."""
        voice = Voice(as_json, quiet)
        opened, incoming = open_workspace(workspace), read_text(file, LogError)
        plan = planned_import(opened, incoming, file.name)
        for row in plan.rows:
            voice.say(f"line {row.line}: {_sentence(row)}")
        for sentence in (*plan.refused, *plan.remarks):
            voice.warn(sentence)
        written = len(import_log(opened, incoming, file.name, plan).rows) if write and plan.rows else 0
        voice.say(
            f"New rows: {len(plan.rows)}. Already in the log: {plan.doubles}. "
            f"Reasons to leave one out: {len(plan.refused)}."
        )
        if plan.rows:
            voice.say("The new ones were added to log.csv." if written else "Nothing was written; --write adds them.")
        voice.document(
            {"rows": [_fields(row) for row in plan.rows], "doubles": plan.doubles, "refused": plan.refused,
             "written": written}
        )  # fmt: skip


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, dt.datetime):
        return value.isoformat(" ", "minutes" if value.second == 0 else "seconds")
    return f"{value:g}".replace("inf", "∞") if isinstance(value, float) else str(value)


def _sentence(row: LogRow) -> str:
    return ", ".join(f"{name} {_cell(getattr(row, name))}" for name in LOG_COLUMNS if getattr(row, name) is not None)


def _fields(row: LogRow) -> dict[str, object]:
    # JSON has no infinity, and null would say that nothing was noted.
    return {name: "∞" if value == math.inf else value for name, value in asdict(row).items() if name != "line"}
