"""``audit``: pairing, setting and shake of every frame."""

from __future__ import annotations

import math
from pathlib import Path

import typer

from auditor.audit.lensless import lensless_sentence
from auditor.audit.sequence.pairings import habit_lines
from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.flags import cause_sentence
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.auditing import AuditSummary, audit_workspace
from auditor.wording import counted

__all__ = ["register", "say_gaps", "say_habits", "say_summary"]

_WORTH_TELLING = 5


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep audit ~/steadykeep")
    def audit(workspace: Folder = Path(), as_json: AsJson = False, quiet: Quiet = False) -> None:
        """
        Find the wrong settings and what they cost.

        Tells which lens and adapter made each frame, what should have been typed, how a wrong value came about,
        and how likely shake is. The frames themselves are listed by export and on the dashboard.
        """
        voice = Voice(as_json, quiet)
        opened = open_workspace(workspace)
        summary = audit_workspace(opened)
        say_gaps(voice, opened)
        say_summary(voice, summary)
        say_habits(voice, summary)
        voice.document(
            {
                "frames": summary.frames,
                "pairing_known": summary.pairing_known,
                "setting_wrong": summary.setting_wrong,
                "setting_unknown": summary.setting_unknown,
                "blur_likely": summary.blur_likely,
                "stops_lost_median": summary.stops_lost_median,
                "flagged": summary.flagged,
                "by_cause": summary.by_cause,
                "habits": summary.habits.model_dump() if summary.habits else None,
            }
        )


def say_gaps(voice: Voice, workspace: Workspace) -> None:
    """Say what the user's files leave open: rows of the log that were left out, gaps in the kit."""
    for problem in (*workspace.log.problems, *workspace.kit.gaps):
        voice.warn(problem)


def say_summary(voice: Voice, summary: AuditSummary) -> None:
    """Print an audit's counts."""
    voice.say(f"{counted(summary.frames, 'frame')} audited.")
    voice.say(
        f"  Lens and adapter known for {summary.pairing_known} ({_share(summary.pairing_known, summary.frames)})."
    )
    if summary.lensless:
        said = lensless_sentence(summary.lensless)
        voice.say(f"  {said[0].upper()}{said[1:]}.")
    voice.say(f"  Setting wrong on {summary.setting_wrong}, not known on {summary.setting_unknown}.")
    for cause, count in summary.by_cause.items():
        voice.say(f"    {count:>6}  {cause}: {cause_sentence(cause)}")
    if math.isfinite(summary.stops_lost_median):
        voice.say(f"  Where it was wrong it cost {summary.stops_lost_median:.1f} stops (median).")
    voice.say(f"  Shake is likely on {summary.blur_likely}. Worth a look: {counted(summary.flagged, 'frame')}.")


def say_habits(voice: Voice, summary: AuditSummary) -> None:
    """Print how this photographer works, as the audit learnt it; few lens changes teach little."""
    if summary.habits is None or not summary.habits.learn or summary.changes < _WORTH_TELLING:
        return
    voice.say(f"Your habits, as far as about {summary.changes:.0f} lens changes tell (settings.toml, [habits]):")
    for line in habit_lines(summary.habits):
        voice.say(f"  {line}")


def _share(part: int, whole: int) -> str:
    return f"{part / whole:.0%}" if whole else "none"
