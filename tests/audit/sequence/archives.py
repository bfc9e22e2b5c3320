"""Small archives told frame by frame, run through the sequence model."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import pandas as pd

from auditor.audit.evidence import add_evidence
from auditor.audit.questions import add_answers
from auditor.audit.sequence.pairings import Paired, pair_frames
from auditor.audit.trips import add_trip
from auditor.model.answers import Answer
from auditor.model.kit import Kit
from auditor.model.log import parse_log
from auditor.model.settings import parse_settings
from tests.kits import small_kit, some_frames

HEAD = "start,end,body,lens,adapter,setting_mm,focal_mm\n"
AS_WRITTEN = "[habits]\nlearn = false\n"
"""Too few frames to learn from: the habits stay what settings.toml says."""


def shots(
    begin: str, count: int, setting_mm: float | None, *, every_s: float = 20.0, **more: object
) -> list[dict[str, object]]:
    """Frames at a steady pace with one typed value."""
    start = dt.datetime.fromisoformat(begin)
    return [
        {"captured_at": str(start + dt.timedelta(seconds=every_s * number)), "focal_length_mm": setting_mm, **more}
        for number in range(count)
    ]


def paired(
    rows: Sequence[dict[str, object]], log: str = "", *, kit: Kit | None = None, settings: str = AS_WRITTEN,
    answers: Sequence[Answer] = (), overlaps: pd.DataFrame | None = None,
) -> Paired:  # fmt: skip
    kit = kit or small_kit()
    read = parse_settings(settings)
    parsed = parse_log(HEAD + log, kit)
    assert parsed.problems == ()
    evidence = add_trip(add_evidence(some_frames(rows), kit, parsed.rows, read), read.trips)
    return pair_frames(add_answers(evidence, answers), kit, parsed.rows, read, overlaps=overlaps)


def said(found: Paired) -> list[str]:
    """Each frame's answer as lens|adapter, - where it is not known."""
    frames = found.frames
    joined = frames["lens"] + "|" + frames["adapter"]
    return [str(word) for word in joined.fillna("-")]
