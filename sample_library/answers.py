"""The expected answers, one row a frame, from the scenario alone."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from sample_library.cast import Cast
from sample_library.logbook import Entry, row_in_force
from sample_library.shots import Shot
from sample_library.story import Story, Stray

__all__ = ["ARCHIVE_NAME", "COLUMNS", "TOLERANCE", "answers_text", "verdict"]

ARCHIVE_NAME = "main"
TOLERANCE = 0.10
"""A setting within this share of the right one is right: the value in the settings.toml handed out."""

COLUMNS = (
    "archive", "path", "trip", "body", "lens", "adapter", "setting_mm", "right_setting_mm", "setting_verdict",
    "setting_cause", "kept", "why", "knowable", "doubt", "needs", "scene", "blur_kind", "shake_px", "shake_deg",
)  # fmt: skip

_UNDATED = ("month-zero", "no-date")


def verdict(shot: Shot) -> str:
    """Return what is true of the typed setting."""
    typed = shot.segment.typed
    if typed is None or not shot.segment.stabiliser:
        return "not-needed"
    ratio = typed / shot.right_mm
    if abs(ratio - 1) <= TOLERANCE:
        return "right"
    return "too-long" if ratio > 1 else "too-short"


def _kept(shot: Shot, story: Story) -> str:
    """Return yes or no, blank where nobody judged: the trip has no rating, or the frame belongs to no trip."""
    if story.trips[shot.segment.trip].ratings == "none" or any(map(shot.is_odd, _UNDATED)):
        return ""
    return "yes" if (shot.rating or 0) >= 1 else "no"


def _evidence(shot: Shot, entries: Sequence[Entry], cast: Cast) -> tuple[str, str]:
    """Return what stays in doubt for who looks at one frame and the log, and what settles it."""
    segment = shot.segment
    if cast.lenses[segment.lens].contacts:
        return "", "frame"
    if any(map(shot.is_odd, _UNDATED)):
        return "both", "person"
    if segment.needs:
        return segment.doubt, segment.needs
    row = row_in_force(shot, entries)
    agrees = row is not None and (row.segment.lens, row.segment.adapter) == (segment.lens, segment.adapter)
    return ("", "frame") if agrees else ("both", "sequence")


def _why(shot: Shot, needs: str) -> str:
    reasons = [shot.segment.why, *shot.oddities]
    if needs == "sequence" and not shot.segment.needs:
        reasons.append("log-time-off")
    return "+".join(reason for reason in reasons if reason)


def _row(shot: Shot, story: Story, entries: Sequence[Entry], cast: Cast) -> list[str]:
    segment = shot.segment
    doubt, needs = _evidence(shot, entries, cast)
    undated = any(map(shot.is_odd, _UNDATED))
    return [
        ARCHIVE_NAME,
        shot.path,
        "" if undated else story.trips[segment.trip].name,
        segment.body,
        segment.lens,
        segment.adapter,
        "" if segment.typed is None else f"{segment.typed:g}",
        f"{shot.right_mm:.2f}",
        verdict(shot),
        segment.cause,
        _kept(shot, story),
        _why(shot, needs),
        "yes" if needs in ("frame", "sequence") else "no",
        doubt,
        needs,
        shot.scene,
        shot.blur_kind,
        f"{shot.shake_px:.2f}",
        f"{shot.shake_deg:.0f}",
    ]


def _stray_row(stray: Stray) -> list[str]:
    known = {"archive": ARCHIVE_NAME, "path": stray.path, "why": stray.kind, "knowable": "no"}
    return [known.get(column, "") for column in COLUMNS]


def answers_text(shots: Sequence[Shot], story: Story, entries: Sequence[Entry], cast: Cast) -> str:
    """Return expected.csv, header row first, in order of path; a file that is no picture by name has no row."""
    rows = [_row(shot, story, entries, cast) for shot in shots]
    rows += [_stray_row(stray) for stray in story.strays if stray.kind != "not-a-picture"]
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    rows.sort(key=lambda row: row[1])
    writer.writerows(rows)
    return out.getvalue()
