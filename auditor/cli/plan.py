"""``plan``: which lenses to keep, to use differently, or to sell."""

from __future__ import annotations

import math
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from auditor.audit.fair.words import percent
from auditor.audit.plan_words import CAUTION, explained, reasons, what_if_sentence
from auditor.audit.planning import LensPlan
from auditor.audit.reach import WhatIf
from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.settings import Plan
from auditor.model.workspace import open_workspace
from auditor.pipeline.planning import plan_of
from auditor.wording import counted

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep plan ~/steadykeep --what-if hale-35 --what-if bruna-135")
    def plan(
        workspace: Folder = Path(),
        what_if: Annotated[
            list[str] | None,
            typer.Option("--what-if", metavar="LENS", help="Show what goes with this lens. Repeatable."),
        ] = None,
        explain: Annotated[bool, typer.Option("--explain", help="Say of every number where it comes from.")] = False,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Weigh which lenses to keep or sell.

        Each verdict comes with its reasons. A lens is never proposed for sale because its setting was forgotten. The
        weights are yours: [plan] in settings.toml.
        """
        voice, opened = Voice(as_json, quiet), open_workspace(workspace)
        found, weights = plan_of(opened, what_if or ()), opened.settings.plan
        _print_table(voice, found.lenses)
        for one in found.lenses:
            voice.say()
            voice.say(f"{one.lens}: {one.verdict}")
            for reason in reasons(one, weights):
                voice.say(f"  - {reason}")
            for line in explained(one, weights) if explain else ():
                voice.say(f"      {line}")
        voice.say()
        if found.sold:
            voice.say(f"Sold already, and only compared with: {', '.join(found.sold)}.")
        if found.unknown:
            voice.say(f"{counted(found.unknown, 'frame')} without a known lens: in no figure.")
        if found.what_if is not None:
            _print_what_if(voice, found.what_if)
        voice.say(CAUTION)
        voice.document(
            {
                "lenses": [_document(one, weights) for one in found.lenses],
                "sold": found.sold,
                "unknown": found.unknown,
                "what_if": None if found.what_if is None else _thought(found.what_if),
            }
        )


def _print_table(voice: Voice, plans: list[LensPlan]) -> None:
    voice.table(
        [
            "Lens",
            "Verdict",
            "Keepers a year",
            "Same conditions",
            "In reach of others",
            "Setting's fault",
            "A keeper cost",
        ],
        [
            [
                one.lens,
                one.verdict,
                _known(one.evidence.usage.keepers_a_year, 0),
                _fair(one),
                percent(one.evidence.cover.covered),
                percent(one.evidence.saved.share),
                _known(one.evidence.price_a_keeper, 1),
            ]
            for one in plans
        ],
        left=2,
    )


def _known(value: float, digits: int) -> str:
    return f"{value:.{digits}f}" if math.isfinite(value) else "-"


def _fair(one: LensPlan) -> str:
    fair = one.evidence.fair
    if fair is None or fair.difference is None or fair.rates is None:
        return "-"
    return f"{percent(fair.rates[0].rate)} ({fair.difference.low * 100:+.0f} to {fair.difference.high * 100:+.0f})"


def _print_what_if(voice: Voice, found: WhatIf) -> None:
    voice.table(
        ["Focal length", "Keepers", "In reach now", "In reach then"],
        [[str(row["id"]), *(f"{row[name]}" for name in ("keepers", "before", "after"))] for row in _rows(found)],
    )
    voice.say(what_if_sentence(found))


def _rows(found: WhatIf) -> list[dict[str, object]]:
    return [{str(name): value for name, value in row.items()} for row in found.rows.to_dict("records")]


def _thought(found: WhatIf) -> dict[str, object]:
    return {
        "sold": found.sold,
        "keepers": found.keepers,
        "before": found.before,
        "after": found.after,
        "rows": _rows(found),
        "sentence": what_if_sentence(found),
    }


def _document(one: LensPlan, weights: Plan) -> dict[str, object]:
    evidence = one.evidence
    fair = evidence.fair
    return {
        "id": one.lens,
        "verdict": one.verdict,
        "instead": one.instead,
        "reasons": reasons(one, weights),
        "score": one.score,
        "parts": dict(one.parts),
        "usage": asdict(evidence.usage),
        "cover": asdict(evidence.cover),
        "setting": {**asdict(evidence.saved), "share": evidence.saved.share},
        "fair": None if fair is None or fair.difference is None else asdict(fair.difference),
        "fair_keep_rate": None if fair is None or fair.rates is None else fair.rates[0].rate,
        "price_a_keeper": evidence.price_a_keeper,
        "why": explained(one, weights),
    }
