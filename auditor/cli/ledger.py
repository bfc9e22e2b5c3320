"""``ledger``: keep rates with their intervals."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.workspace import open_workspace
from auditor.pipeline.auditing import ledger_of

__all__ = ["Grouping", "register"]


class Grouping(StrEnum):
    """What the rows of the ledger are."""

    LENS = "lens"
    PAIRING = "pairing"
    BODY = "body"
    TRIP = "trip"
    FOCAL = "focal"


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep ledger ~/steadykeep --by pairing")
    def ledger(
        workspace: Folder = Path(),
        by: Annotated[Grouping, typer.Option(help="What each row is.")] = Grouping.LENS,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Count the keepers, with intervals.

        A rate is not proof: a lens that was used in the dark keeps less than one used at noon.
        """
        voice = Voice(as_json, quiet)
        found = ledger_of(open_workspace(workspace), by.value)
        rows = found.rows.to_dict("records")
        voice.table(
            [by.value.capitalize(), "Frames", "Judged", "Kept", "Keep rate", "95 % interval"],
            [
                [
                    str(row["id"]),
                    f"{row['frames']}",
                    f"{row['judged']}",
                    f"{row['kept']}",
                    f"{row['keep_rate']:.0%}" if row["judged"] else "-",
                    f"{row['low']:.0%} to {row['high']:.0%}" if row["judged"] else "-",
                ]
                for row in rows
            ],
        )
        for reason, count in found.left_out.items():
            voice.say(f"Left out: {count} frames, {reason}.")
        voice.say("Frames of one burst are counted singly. A low rate may be the light's or the setting's fault.")
        voice.document({"by": by.value, "rows": rows, "left_out": found.left_out})
