"""Count what sidecars come to, run by run: what is shown before anything is written, and after."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import pandas as pd

from auditor.corrections.candidates import runs_of
from auditor.pipeline.recording import Change, Plan

__all__ = ["Shown", "show_sidecars"]


@dataclass(frozen=True)
class Shown:
    """
    What would be done, or was.

    Attributes
    ----------
    runs : DataFrame
        One row a run of frames, with counts ``frames, new, changed, as_it_is, problems``.
    counts : dict
        Sidecars by outcome.
    left_out : dict
        Frames whose record is left alone, by reason.
    left_to_others : dict
        Sidecars in which another program says otherwise, by property.
    problems : tuple of str
        A sentence for each sidecar that is left as it is.
    """

    runs: pd.DataFrame
    counts: dict[str, int]
    left_out: dict[str, int]
    left_to_others: dict[str, int]
    problems: tuple[str, ...]


def show_sidecars(plan: Plan, changes: Iterator[Change] | None = None) -> Shown:
    """
    Count what the sidecars come to.

    Parameters
    ----------
    plan : Plan
    changes : iterator of Change
        What was done; by default what would be.
    """
    counts: Counter[str] = Counter()
    others: Counter[str] = Counter()
    per_run: dict[int, Counter[str]] = {}
    problems = []
    for change in plan.changes() if changes is None else changes:
        counts[change.outcome] += 1
        others.update(change.left)
        if change.run >= 0:
            per_run.setdefault(change.run, Counter())[change.outcome] += 1
        if change.problem:
            problems.append(f"{change.spot}: {change.problem}; left as it is")
    table = pd.DataFrame(
        [
            (run, found.total(), found["new"], found["changed"], found["as-it-is"], found["problem"])
            for run, found in per_run.items()
        ],
        columns=["run", "sidecars", "new", "changed", "as_it_is", "problems"],
    ).astype("int64")
    return Shown(runs_of(plan.frames, table), dict(counts), plan.left_out, dict(others), tuple(problems))
