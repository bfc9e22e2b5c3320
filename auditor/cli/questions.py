"""``questions``: what only the photographer knows."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from auditor.audit.clocks import ClockOffset, offset_sentence
from auditor.audit.questions import Question, pairing_name, question_sentence
from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.workspace import open_workspace
from auditor.pipeline.questioning import Asked, ask, names_of

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep questions ~/steadykeep --most 5")
    def questions(
        workspace: Folder = Path(),
        most: Annotated[int, typer.Option(min=1, max=1000, help="How many to ask at most.")] = 10,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Ask what only you can know.

        These are the fewest questions whose answers settle the most doubtful frames.

        Each is one stretch of frames. Answer with the answer command; the next audit uses what you said.
        """
        voice = Voice(as_json, quiet)
        opened = open_workspace(workspace)
        asked, names = ask(opened, most=most), names_of(opened)
        _say(voice, asked, names, workspace)
        voice.document(
            {
                "frames": asked.frames,
                "doubtful": asked.doubtful,
                "questions": [_question(question, names) for question in asked.questions],
                "clocks": [_clock(offset) for offset in asked.clocks],
            }
        )


def _say(voice: Voice, asked: Asked, names: dict[str, str], workspace: Path) -> None:
    for problem in asked.problems:
        voice.warn(problem)
    for question in asked.questions:
        voice.say(f"{question.number}. {question_sentence(question, names)}")
        for place, choice in enumerate(question.candidates, start=1):
            voice.say(f"     {place}  {pairing_name(choice.lens, choice.adapter, names)} ({choice.chance:.0%})")
    if asked.questions:
        voice.say(f"Answer with: steadykeep answer {workspace} --question 1 --lens 1")
        voice.say("0 stands for a lens that the kit does not name; better still, add it to the kit.")
    else:
        voice.say("Nothing is in doubt that one answer would settle.")
    for offset in asked.clocks:
        voice.say(offset_sentence(offset))


def _question(question: Question, names: dict[str, str]) -> dict[str, Any]:
    return {
        "number": question.number,
        "sentence": question_sentence(question, names),
        "trip": question.trip,
        "body": question.body,
        "first": question.first,
        "last": question.last,
        "frames": question.frames,
        "setting_mm": question.setting_mm,
        "doubtful": question.doubtful,
        "candidates": [
            {"lens": choice.lens, "adapter": choice.adapter, "chance": choice.chance} for choice in question.candidates
        ],
        "paths": [list(path) for path in question.paths],
    }


def _clock(offset: ClockOffset) -> dict[str, Any]:
    return {
        "body": offset.body,
        "against": offset.against,
        "trip": offset.trip,
        "add_minutes": offset.add_minutes,
        "agrees_now": offset.agrees_now,
        "agrees_then": offset.agrees_then,
        "compared": offset.compared,
    }
