"""``sidecar``: give the frames back their lens, in XMP sidecars."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import pandas as pd
import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.errors import InputError
from auditor.model.kit import Kit
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.recording import plan_sidecars
from auditor.pipeline.sidecar_files import MIRROR
from auditor.pipeline.sidecar_showing import Shown, show_sidecars
from auditor.pipeline.sidecar_writing import undo_sidecars, write_sidecars
from auditor.wording import counted

__all__ = ["register"]

_MOST_LINES = 20


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep sidecar ~/steadykeep --write")
    def sidecar(
        workspace: Folder = Path(),
        write: Annotated[bool, typer.Option("--write", help="Write them; without it they are only shown.")] = False,
        undo: Annotated[bool, typer.Option("--undo", help="Put every sidecar back as it was before.")] = False,
        beside: Annotated[
            bool, typer.Option("--beside", help="Beside the frames in the archive, instead of in the workspace.")
        ] = False,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Show, write or undo XMP sidecars.

        They hold lens, focal length and aperture.

        Shows what would change, run by run, until you say --write. Sidecars go into the folder "sidecars" of the
        workspace; only --beside writes into the archive, and there only .xmp files. What other programs put into a
        sidecar stays. --undo puts back byte for byte what was there, unless it was changed since.
        """
        voice = Voice(as_json, quiet)
        if write and undo:
            raise InputError("--write and --undo were both given; choose one")
        opened = open_workspace(workspace)
        if undo:
            _undo(voice, opened)
            return
        with voice.progress("sidecars") as told:
            if write:
                shown = write_sidecars(opened, beside=beside, progress=told)
            else:
                plan = plan_sidecars(opened, beside=beside)
                shown = show_sidecars(plan, plan.changes(told))
        _say(voice, opened, shown, wrote=write, beside=beside)


def _say(voice: Voice, workspace: Workspace, shown: Shown, *, wrote: bool, beside: bool) -> None:
    _runs(voice, workspace.kit, shown.runs)
    new, changed = shown.counts.get("new", 0), shown.counts.get("changed", 0)
    back, same = shown.counts.get("taken-back", 0), shown.counts.get("as-it-is", 0)
    where = "beside the frames" if beside else f"in {workspace.folder / MIRROR}"
    voice.say(
        f"{'Written' if wrote else 'Would be written'} {where}: {new} new sidecars, {changed} changed; "
        f"{same} say so already."
    )
    if back:
        voice.say(f"{'Taken' if wrote else 'Would be taken'} back: {back}, whose lens is not sure any more.")
    for reason, count in shown.left_out.items():
        voice.say(f"Left alone: {counted(count, 'frame')}, {reason}.")
    for name, count in shown.left_to_others.items():
        voice.say(f"Left to another program: {name} in {counted(count, 'sidecar')}, where it says otherwise.")
    _warn(voice, shown.problems)
    if not wrote:
        voice.say("Nothing was written. To write them: --write; into the archive itself: --write --beside.")
    voice.document(
        {
            "written": wrote,
            "beside": beside,
            "new": new,
            "changed": changed,
            "taken_back": back,
            "as_they_are": same,
            "left_out": shown.left_out,
            "left_to_others": shown.left_to_others,
            "problems": shown.problems,
            "runs": shown.runs.to_dict("records"),
        }
    )


def _runs(voice: Voice, kit: Kit, runs: pd.DataFrame) -> None:
    rows = [
        [
            _when(run["first"], run["last"]),
            kit.body(run["body"]).name,
            run["recorded"],
            _lens(kit, run["lens"], run["adapter"]),
            str(run["sidecars"]),
            str(run["new"]),
            str(run["changed"]),
            f"{run['confidence']:.2f}",
            _rests_on(run["evidence"]),
        ]
        for run in runs.to_dict("records")
    ]
    headings = ["When", "Body", "Camera wrote", "Sidecar says", "Sidecars", "New", "Changed", "Sure", "Rests on"]
    voice.table(headings, rows, left=4)


def _rests_on(evidence: Any) -> str:
    """Return what a pairing rests on; without evidence of its own a frame goes with those around it."""
    return "frames around" if pd.isna(evidence) else str(evidence)


def _when(first: Any, last: Any) -> str:
    if pd.isna(first):
        return "no time"
    until = f"{last:%H:%M}" if last.date() == first.date() else f"{last:%Y-%m-%d %H:%M}"
    return f"{first:%Y-%m-%d %H:%M} to {until}"


def _lens(kit: Kit, lens: str, adapter: str) -> str:
    names = [kit.lens(lens).name, *(kit.adapter(part).name for part in adapter.split("+") if part)]
    return ", ".join(names)


def _warn(voice: Voice, problems: tuple[str, ...]) -> None:
    for problem in problems[:_MOST_LINES]:
        voice.warn(problem)
    if len(problems) > _MOST_LINES:
        voice.warn(f"... and {len(problems) - _MOST_LINES} more; --json lists them all")


def _undo(voice: Voice, workspace: Workspace) -> None:
    with voice.progress("putting back") as told:
        done = undo_sidecars(workspace, told)
    voice.say(
        f"{counted(done.put_back, 'sidecar')} put back as they were, {done.removed} removed that had not been there, "
        f"{done.as_they_were} were as before."
    )
    _warn(voice, done.problems)
    voice.document(
        {
            "put_back": done.put_back,
            "removed": done.removed,
            "as_they_were": done.as_they_were,
            "problems": done.problems,
        }
    )
