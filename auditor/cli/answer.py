"""``answer``: record what was mounted."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated, Any

import typer

from auditor.audit.questions import pairing_name
from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.errors import AnswersError
from auditor.model.answers import Answer
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.answering import take_back_answer
from auditor.pipeline.questioning import answer_question, answer_span, names_of
from auditor.wording import counted

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep answer ~/steadykeep --question 1 --lens hale-85 --adapter m42-reducer")
    def answer(  # noqa: PLR0913  (a question or a time, and what was on)
        workspace: Folder = Path(),
        question: Annotated[int, typer.Option(help="Number of the question, as questions shows it.")] = 0,
        lens: Annotated[str, typer.Option(help="Lens, id in the kit; or the number of a choice, 0 for none.")] = "",
        adapter: Annotated[str, typer.Option(help="Adapters joined by +.", show_default="the only one that fits")] = "",
        body: Annotated[str, typer.Option(help="Body, with --during.", show_default="the only one")] = "",
        during: Annotated[
            str, typer.Option(help="A time instead of a question: 2026-05-02T14:20/2026-05-02T14:41.")
        ] = "",
        undo: Annotated[bool, typer.Option("--undo", help="Take back the answer given last.")] = False,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Record what was mounted. It outranks every other source from the next audit on.

        Kept in answers.csv beside the log, one row an answer, so that you can read and mend it.
        """
        voice = Voice(as_json, quiet)
        opened = open_workspace(workspace)
        names = names_of(opened)
        if undo:
            taken = take_back_answer(opened)
            voice.say(f"Taken back: {_said(taken, names)}.")
            voice.document({"taken_back": _values(taken)})
            return
        if not lens:
            raise AnswersError("which lens was it? nothing was recorded", ["such as --lens orla-50"])
        if question:
            said, frames = answer_question(opened, question, lens, adapter)
        else:
            said, frames = answer_span(opened, _span(opened, during, body, (lens, adapter)))
        voice.say(f"Recorded for {counted(frames, 'frame')}: {_said(said, names)}. Run audit again to use it.")
        voice.document({"recorded": _values(said), "frames": frames})


def _span(opened: Workspace, during: str, body: str, pairing: tuple[str, str]) -> Answer:
    bodies = opened.kit.bodies
    if not during or (not body and len(bodies) != 1):
        raise AnswersError(
            "which frames? nothing was recorded",
            ["such as --question 1", "or --body one --during 2026-05-02T14:20/2026-05-02T14:41"],
        )
    ends = during.split("/")
    try:
        first, last = (dt.datetime.fromisoformat(end).replace(tzinfo=None) for end in ends)
    except ValueError:
        raise AnswersError(
            f'"{during}" is not two times, such as 2026-05-02T14:20/2026-05-02T14:41; nothing was recorded'
        ) from None
    if last < first:
        raise AnswersError(f'"{during}": the second time is before the first, nothing was recorded')
    return Answer(first, last, body or bodies[0].id, *pairing)


def _said(answer: Answer, names: dict[str, str]) -> str:
    until = f"{answer.last:%H:%M}" if answer.last.date() == answer.first.date() else f"{answer.last:%Y-%m-%d %H:%M}"
    return f"{answer.first:%Y-%m-%d %H:%M} to {until}, {pairing_name(answer.lens, answer.adapter, names)}"


def _values(answer: Answer) -> dict[str, Any]:
    return {
        "first": answer.first,
        "last": answer.last,
        "body": answer.body,
        "lens": answer.lens,
        "adapter": answer.adapter,
    }
