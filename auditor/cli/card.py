"""``card``: what to type and how slow to go, for each pairing."""

from __future__ import annotations

import dataclasses
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.cards import CAUTION, Card, distance_words, shutter_words
from auditor.model.workspace import open_workspace
from auditor.pipeline.carding import make_cards, write_card_sheet, write_card_table

__all__ = ["PaperSize", "register"]


class PaperSize(StrEnum):
    """Paper that a sheet is made for."""

    A4 = "a4"
    A5 = "a5"


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep card ~/steadykeep --paper a5 --explain orla-50+m42-reducer")
    def card(  # noqa: PLR0913  (each is an option of the command)
        workspace: Folder = Path(),
        pairing: Annotated[
            list[str] | None,
            typer.Option(metavar="LENS+ADAPTER@BODY", help="Only this pairing; may be given more than once."),
        ] = None,
        paper: Annotated[PaperSize, typer.Option(help="Paper to print on.")] = PaperSize.A4,
        output: Annotated[
            Path | None, typer.Option(help="Where to write it, .html or .csv.", show_default="card.html in WORKSPACE")
        ] = None,
        explain: Annotated[
            str | None, typer.Option(metavar="PAIRING", help="Print where each number of one card comes from instead.")
        ] = None,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Make a card to print for the camera bag.

        For each pairing: what to type at each distance, how exact, how slow by hand, how deep.
        """
        voice = Voice(as_json, quiet)
        opened = open_workspace(workspace)
        if explain is not None:
            _explain(voice, make_cards(opened, [explain]))
            return
        cards = make_cards(opened, pairing or ())
        path = output or opened.folder / "card.html"
        if path.suffix.lower() == ".csv":
            write_card_table(cards, path)
        else:
            write_card_sheet(cards, path, paper=paper.value)
        _list(voice, cards)
        voice.say(f"Written: {path}")
        voice.say(CAUTION)
        voice.document({"written": str(path), "cards": [dataclasses.asdict(each) for each in cards]})


def _list(voice: Voice, cards: tuple[Card, ...]) -> None:
    rows = []
    for each in cards:
        typed = ", ".join(f"{line.type_mm:g} at {distance_words(line.distance_m)}" for line in each.settings)
        middle = each.shutters[1] if each.shutters else None
        rows.append(
            [
                each.pairing,
                typed or "nothing, the lens tells the body",
                shutter_words(middle.off.value) if middle else "–",
                shutter_words(middle.on.value) if middle else "–",
            ]
        )
    voice.table(["Pairing", "Type, mm", "80 % sharp: off", "on"], rows, left=2)


def _explain(voice: Voice, cards: tuple[Card, ...]) -> None:
    for each in cards:
        voice.say(each.pairing)
        for step in each.steps:
            voice.say(f"  {step.name}: {step.value}")
            voice.say(f"      {step.formula}")
            voice.say(f"      with {step.inputs}")
            voice.say(f"      from {step.source}")
        for note in each.notes:
            voice.say(f"  note: {note}")
    voice.say(CAUTION)
    voice.document({"cards": [dataclasses.asdict(each) for each in cards]})
