"""``ledger``: keep rates with their intervals, fair comparisons, and what wrong settings cost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from auditor.audit.fair.comparing import Comparison
from auditor.audit.fair.cost import CAUSE_GROUPINGS
from auditor.audit.fair.words import (
    COMPARISON_EXPLAINED,
    COST_EXPLAINED,
    LEDGER_EXPLAINED,
    bursts_sentence,
    comparison_sentence,
    cost_sentence,
    percent,
    sharpness_sentences,
)
from auditor.audit.groupings import GROUPING_MEANS
from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.ledgers import comparisons_of, cost_of, ledger_of, parse_only
from auditor.wording import counted

__all__ = ["Grouping", "register"]


class Grouping(StrEnum):
    """What the rows of the ledger are."""

    LENS = "lens"
    PAIRING = "pairing"
    BODY = "body"
    TRIP = "trip"
    FOCAL = "focal"
    APERTURE = "aperture"
    DISTANCE = "distance"
    TIME = "time"
    EXPOSURE = "exposure"
    CAUSE = "cause"


_By = Annotated[Grouping, typer.Option(help="What each row is. cause: with --lost only.")]
_Only = Annotated[list[str] | None, typer.Option(help="Count only these frames, such as lens=orla-50. Repeatable.")]
_Fair = Annotated[bool, typer.Option("--fair", help="Compare each with the others under the same conditions.")]
_Between = Annotated[
    tuple[str, str] | None,
    typer.Option(help="Compare two under the same conditions.", metavar="A B", show_default=False),
]
_Lost = Annotated[bool, typer.Option("--lost", help="Count the keepers probably lost to wrong settings.")]
_Explain = Annotated[bool, typer.Option("--explain", help="Say what each column means and where it comes from.")]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep ledger ~/steadykeep --by pairing --fair")
    def ledger(  # noqa: PLR0913 - a command's options are its arguments
        workspace: Folder = Path(),
        by: _By = Grouping.LENS,
        only: _Only = None,
        fair: _Fair = False,
        between: _Between = None,
        lost: _Lost = False,
        explain: _Explain = False,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Count the keepers and the sharp frames, with intervals.

        A rate is not proof: a lens that was used in the dark keeps less than one used at noon. --fair asks how it does
        under the same conditions, --lost what wrong settings cost.
        """
        voice, opened = Voice(as_json, quiet), open_workspace(workspace)
        if lost:
            _allowed(by, tuple(CAUSE_GROUPINGS), "--lost")
            _print_cost(voice, opened, by.value, explain=explain)
        elif fair or between:
            _allowed(by, ("lens", "pairing", "body"), "--fair")
            _print_comparisons(voice, by.value, comparisons_of(opened, by.value, between), explain=explain)
        else:
            _allowed(by, tuple(GROUPING_MEANS), "the ledger")
            _print_rates(voice, opened, by.value, parse_only(only or []), explain=explain)


def _allowed(by: Grouping, allowed: tuple[str, ...], what: str) -> None:
    if by.value not in allowed:
        raise typer.BadParameter(f"{what} goes by {', '.join(allowed)}", param_hint="--by")


def _explain_all(voice: Voice, explained: Mapping[str, str]) -> None:
    voice.say()
    for heading, meaning in explained.items():
        voice.say(f"{heading}: {meaning}")


def _print_rates(voice: Voice, opened: Workspace, by: str, only: dict[str, str], *, explain: bool) -> None:
    found = ledger_of(opened, by, only=only)
    rows = [{str(name): value for name, value in row.items()} for row in found.rows.to_dict("records")]
    measured = found.sharpness is not None
    headings = [by.capitalize(), "Frames", "Judged", "Kept", "Keep rate", "95 % interval", "Drawn in"]
    voice.table(
        [*headings, "Told", "Sharp", "95 % interval"] if measured else headings,
        [[*_kept(row), *_sharp(row)] if measured else _kept(row) for row in rows],
    )
    for reason, count in found.left_out.items():
        voice.say(f"Left out: {counted(count, 'frame')}, {reason}.")
    for sentence in sharpness_sentences(found):
        voice.say(sentence)
    voice.say(bursts_sentence(found))
    voice.say("A low rate may be the light's or the setting's fault: --fair compares like with like.")
    if explain:
        _explain_all(voice, {by.capitalize(): f"{GROUPING_MEANS[by]}.", **LEDGER_EXPLAINED})
    voice.document(
        {
            "by": by,
            "rows": rows,
            "left_out": found.left_out,
            "correlation": found.correlation,
            "prior": None if found.prior is None else asdict(found.prior),
            "sharpness": None if found.sharpness is None else asdict(found.sharpness),
        }
    )


def _kept(row: Mapping[str, Any]) -> list[str]:
    return [
        str(row["id"]),
        f"{row['frames']}",
        f"{row['judged']}",
        f"{row['kept']}",
        percent(row["keep_rate"]),
        _interval(row["burst_low"], row["burst_high"]),
        percent(row["shrunk"]) if row["judged"] else "-",
    ]


def _sharp(row: Mapping[str, Any]) -> list[str]:
    told = _interval(row["sharp_burst_low"], row["sharp_burst_high"])
    return [f"{row['sharp_judged']}", percent(row["sharp_rate"]), told]


def _interval(low: float, high: float) -> str:
    return "-" if low != low else f"{percent(low)} to {percent(high)}"


def _print_comparisons(voice: Voice, by: str, found: list[Comparison], *, explain: bool) -> None:
    voice.table(
        [by.capitalize(), "As counted", "Same conditions", "Difference", "95 % interval", "Left out", "Said"],
        [
            [
                one.first,
                f"{percent(one.crude[0].rate)} / {percent(one.crude[1].rate)}",
                f"{percent(one.rates[0].rate)} / {percent(one.rates[1].rate)}" if one.rates else "-",
                f"{one.difference.difference * 100:+.0f}" if one.difference else "-",
                f"{one.difference.low * 100:+.0f} to {one.difference.high * 100:+.0f}" if one.difference else "-",
                f"{one.crude[0].left_out} of {one.crude[0].judged}",
                one.verdict,
            ]
            for one in found
        ],
    )
    voice.say()
    for one in found:
        voice.say(comparison_sentence(one))
    if not found:
        voice.say("Nothing to compare: no frame was judged whose exposure time and right setting are known.")
    if explain:
        _explain_all(voice, COMPARISON_EXPLAINED)
    voice.document({"by": by, "comparisons": [_comparison(one) for one in found]})


def _comparison(one: Comparison) -> dict[str, object]:
    return {
        "first": one.first,
        "second": one.second,
        "counted": [asdict(side) for side in one.crude],
        "rates": [{"rate": rate.rate, "error": rate.error, "frames": rate.frames} for rate in one.rates or ()],
        "difference": None if one.difference is None else asdict(one.difference),
        "adjusted_p": one.adjusted_p,
        "verdict": one.verdict,
        "conditions": one.strata,
        "correlation": one.correlation,
        "sentence": comparison_sentence(one),
    }


def _print_cost(voice: Voice, opened: Workspace, by: str, *, explain: bool) -> None:
    cost = cost_of(opened, by)
    if cost is None:
        voice.say("Nothing to count: no frame was judged whose exposure time and right setting are known.")
        voice.document({"by": by, "rows": [], "sentence": None})
        return
    rows = [{str(name): value for name, value in row.items()} for row in cost.rows.to_dict("records")]
    voice.table(
        [by.capitalize(), "Wrong", "Not kept", "Lost, by shake", "95 %", "Lost, by your keeping", "95 %"],
        [
            [
                str(row["id"]),
                f"{row['wrong']:.0f}",
                f"{row['failed']:.0f}",
                *_lost(row, "shake"),
                *_lost(row, "kept"),
            ]
            for row in rows
        ],
    )
    voice.say(cost_sentence(cost))
    if explain:
        _explain_all(voice, COST_EXPLAINED)
        hand, stops = cost.shaking.hand_stops, cost.shaking.stabiliser_stops
        voice.say(
            f"The fit: the hand {abs(hand):.1f} stops of blur {'shakier' if hand > 0 else 'steadier'} than "
            f"settings.toml says, the stabiliser {stops:+.1f} stops against kit.toml, "
            f"{percent(cost.shaking.kept_if_sharp)} of the sharp frames kept."
        )
    voice.document({"by": by, "rows": rows, "not_judged": cost.not_judged, "sentence": cost_sentence(cost)})


def _lost(row: Mapping[str, Any], name: str) -> tuple[str, str]:
    if row[f"{name}_lost"] != row[f"{name}_lost"]:
        return "-", "-"
    return f"{row[f'{name}_lost']:.0f}", f"{row[f'{name}_low']:.0f} to {row[f'{name}_high']:.0f}"
