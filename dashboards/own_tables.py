"""Tables that are no summary of frames: what a single page shows, to take away."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import pandas as pd

from dashboards.desk import Desk
from dashboards.filters import filters_from_search, rest_of
from dashboards.limits import limits_csv
from dashboards.thumbnails import place_of

__all__ = ["OWN", "archives_table"]


def archives_table(desk: Desk) -> pd.DataFrame:
    """Return the archives: ``archive, folder, frames``."""
    counts = desk.frames["archive"].value_counts()
    return pd.DataFrame(
        {
            "archive": list(desk.archives),
            "folder": [str(folder) for folder in desk.archives.values()],
            "frames": [int(counts.get(name, 0)) for name in desk.archives],
        }
    )


def _breathing(desk: Desk, search: str) -> pd.DataFrame:
    wanted = filters_from_search(search).lens
    lenses = desk.workspace.kit.lenses if desk.workspace else ()
    rows = [
        (lens.id, distance, setting)
        for lens in lenses
        if not wanted or lens.id in wanted
        for distance, setting in lens.breathing or ()
    ]
    return pd.DataFrame(rows, columns=["lens", "focus_distance_m", "right_setting_mm"])


def _questions(desk: Desk, _search: str) -> pd.DataFrame:
    rows = [
        (question.number, question.first, question.frames, question.sentence, choice.words, choice.chance,
         question.answered)
        for question in desk.questions
        for choice in question.choices
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=["question", "first", "frames", "asked", "choice", "chance", "answered"])


def _frame(desk: Desk, search: str) -> pd.DataFrame:
    place = place_of(desk, rest_of(search).get("at", ""))
    if place is None:
        return desk.frames.head(0)
    known = desk.frames.iloc[[place]].reset_index(drop=True)
    measured = desk.measures.iloc[[place]].reset_index(drop=True)
    return pd.concat([known, measured], axis="columns")


OWN: Mapping[str, Callable[[Desk, str], pd.DataFrame]] = MappingProxyType(
    {
        "archives": lambda desk, _search: archives_table(desk),
        "breathing": _breathing,
        "frame": _frame,
        "limits-of-frame": lambda desk, search: limits_csv(desk, rest_of(search)),
        "questions": _questions,
    }
)
"""Tables by the name in their address, each given the desk and the address."""
