"""``measure``: sharpness, kind of blur and focal ratios from the pixels."""

from __future__ import annotations

from math import isfinite, nan
from pathlib import Path
from typing import Annotated, Any

import typer

from auditor.cli.voice import AsJson, Quiet, Voice
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.measuring import MeasureSummary, measure_workspace
from auditor.pipeline.overlapping import measure_pair
from auditor.wording import counted

__all__ = ["register"]

_KINDS = {
    "sharp": "sharp where they are in focus",
    "shake": "shaken",
    "missed-focus": "out of focus everywhere",
    "subject-moved": "sharp, but the subject moved",
    "unknown": "cannot be told",
}
_VERDICTS = {"same": "the same lens", "another": "another lens", "unknown": "cannot be told"}


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep measure ~/steadykeep --only 2026/harbour/0412.jpg")
    def measure(  # noqa: PLR0913  (each is an option of the command)
        places: Annotated[
            list[Path] | None,
            typer.Argument(metavar="WORKSPACE", help="Your workspace folder.", show_default="this folder"),
        ] = None,
        only: Annotated[
            list[str] | None, typer.Option(metavar="PATH…", help="Only these frames; may be given more than once.")
        ] = None,
        pair: Annotated[
            tuple[str, str] | None, typer.Option(metavar="A B", help="Compare the focal lengths of two frames.")
        ] = None,
        jobs: Annotated[
            int | None, typer.Option(min=1, help="Processes that decode.", show_default="all cores")
        ] = None,
        cluster: Annotated[str | None, typer.Option(help="Address of a Dask scheduler that does the work.")] = None,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Measure sharpness and blur in the pixels.

        Tells how sharp each frame is, what blurred it, and where the lens was changed.

        What is new or changed is decoded; the rest is known. "Cannot be told" is an answer: fog, night skies and plain
        walls get it.
        """
        voice = Voice(as_json, quiet)
        folder, paths = _split(places or [], only or [])
        workspace = open_workspace(folder)
        if pair is not None:
            _say_pair(voice, measure_pair(workspace, *pair))
            return
        with voice.progress("Measuring") as told:
            summary = measure_workspace(workspace, only=paths, jobs=jobs, cluster=cluster, progress=told)
        _say(voice, summary)
        _document(voice, workspace, summary)


def _split(places: list[Path], only: list[str]) -> tuple[Path, list[str]]:
    """Return the workspace and the frames: what follows ``--only PATH`` without an option's name is one more frame."""
    if not only:
        return (places[0] if places else Path()), [str(place) for place in places[1:]]
    if places and places[0].is_dir():
        return places[0], [*only, *map(str, places[1:])]
    return Path(), [*only, *map(str, places)]


def _say(voice: Voice, summary: MeasureSummary) -> None:
    voice.say(
        f"{counted(summary.frames, 'frame')}: {summary.decoded} decoded in {summary.seconds:.0f} s"
        f" ({summary.looked_twice} of them at full size), the others were known."
    )
    for kind, words in _KINDS.items():
        if summary.by_kind.get(kind):
            voice.say(f"  {summary.by_kind[kind]:>6}  {words}")
    if summary.unreadable:
        voice.say(f"  {summary.unreadable:>6}  could not be decoded; each row says why")
    voice.say(f"  {summary.pairs:>6}  pairs of frames compared for another lens")
    if summary.pairs_anew:
        voice.say(f"  {summary.pairs_anew:>6}  of them anew, as the way of comparing has changed; audit again")
    if summary.compared:
        voice.say(f"  {summary.compared:>6}  set beside a frame of the same moment, to see whether a subject moved")
    voice.say("Sharpness is set beside the crispest frame of the same scene only; it means nothing between scenes.")


def _document(voice: Voice, workspace: Workspace, summary: MeasureSummary) -> None:
    voice.document(
        {
            "workspace": str(workspace.folder),
            "frames": summary.frames,
            "measured": summary.measured,
            "unknown": summary.unknown,
            "pairs": summary.pairs,
            "pairs_anew": summary.pairs_anew,
            "compared": summary.compared,
            "decoded": summary.decoded,
            "looked_twice": summary.looked_twice,
            "unreadable": summary.unreadable,
            "by_kind": summary.by_kind,
            "seconds": summary.seconds,
        }
    )


def _say_pair(voice: Voice, row: dict[str, Any]) -> None:
    verdict = row["overlap_verdict"]
    if isfinite(row.get("focal_ratio", nan)):
        voice.say(
            f"The second frame's focal length is {row['focal_ratio']:.3f} × the first's"
            f" ({row['focal_ratio_low']:.3f} to {row['focal_ratio_high']:.3f}): {_VERDICTS[verdict]}."
        )
    if row.get("problem"):
        voice.say(f"Cannot be told: {row['problem']}.")
    voice.say(
        "One pair is a hint; two that agree are evidence. Walking towards a flat subject looks like a longer lens."
    )
    voice.document(
        {"frames": 2, "measured": int(verdict != "unknown"), "unknown": int(verdict == "unknown"), "pairs": 1, **row}
    )
