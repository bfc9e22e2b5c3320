"""The plan and the fair comparisons of the desk's workspace, worked out once a desk and in the background."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import pandas as pd

from auditor.audit.fair.comparing import OTHERS, Comparison
from auditor.audit.fair.words import COMPARISON_EXPLAINED, comparison_sentence
from auditor.audit.pairing import possible_pairings
from auditor.audit.plan_words import CAUTION, explained, reasons
from auditor.audit.planning import LensPlan
from auditor.audit.reach import what_if
from auditor.errors import SteadykeepError
from auditor.model.workspace import Workspace
from auditor.pipeline.condensing import read_condensed
from auditor.pipeline.ledgers import comparisons_of, condensed_of, make_condensed
from auditor.pipeline.planning import Planned, plan_of
from dashboards.apart import apart
from dashboards.desk import Desk
from dashboards.waiting import PATIENCE_S, Waiting, worked_out

__all__ = [
    "CAUTION",
    "COMPARED",
    "COMPARISON_EXPLAINED",
    "FAIR_COLUMNS",
    "PATIENCE_S",
    "PLAN_COLUMNS",
    "THOUGHT_COLUMNS",
    "Sheet",
    "Waiting",
    "Weighing",
    "fair_csv",
    "fair_rates",
    "fair_sentences",
    "plan_csv",
    "plan_sheets",
    "plan_table",
    "thought",
    "thought_csv",
    "weighing",
    "worked_out",
]

Made = TypeVar("Made")

COMPARED = ("lens", "body", "pairing")
"""What is compared under the same conditions."""

PLAN_COLUMNS = (
    "key", "name", "verdict", "frames", "judged", "kept", "keepers_a_year", "in_reach_of_others", "out_of_reach",
    "fair_points", "fair_low", "fair_high", "settings_fault", "price_a_keeper", "for_selling",
)  # fmt: skip
THOUGHT_COLUMNS = ("focal", "keepers", "before", "after", "lost")
FAIR_COLUMNS = (
    "name", "judged", "kept", "counted", "others_counted", "fair", "others_fair", "points", "low", "high", "left_out",
    "verdict",
)  # fmt: skip

_ORDER = ("candidate to sell", "use differently", "keep", "too little to say")
_CONDENSING = threading.Lock()


@dataclass(frozen=True)
class Weighing:
    """The plan of a workspace and what it was made from."""

    planned: Planned
    condensed: pd.DataFrame
    workspace: Workspace


@dataclass(frozen=True)
class Sheet:
    """One lens of the plan in words: its verdict, its reasons, and where each number comes from."""

    key: str
    name: str
    verdict: str
    reasons: tuple[str, ...]
    explained: tuple[str, ...]


def weighing(desk: Desk, patience_s: float | None = None) -> Weighing:
    """
    Return the plan of the desk's workspace.

    Parameters
    ----------
    desk : Desk
    patience_s : float, optional
        How long to wait; none for as long as it takes. [s]

    Raises
    ------
    Waiting
        It is not worked out yet; ask again.
    SteadykeepError
        There is no workspace, or nothing was audited.
    """

    def make(opened: Workspace) -> Weighing:
        _condense(desk, opened)
        return Weighing(plan_of(opened), condensed_of(opened), opened)

    return worked_out(desk, "plan", make, patience_s)


def _condense(desk: Desk, opened: Workspace) -> None:
    """Have the condensed audit in the store before several ask for it at once: making it takes gigabytes."""
    with _CONDENSING:
        if read_condensed(opened, ["kept"]) is None:
            apart(make_condensed, opened.folder, frames=len(desk))


def plan_table(desk: Desk, found: Weighing) -> pd.DataFrame:
    """Return one row a lens still owned, columns ``PLAN_COLUMNS``, those to look at first on top."""
    return pd.DataFrame([_plan_row(desk, one) for one in _sorted(found)], columns=list(PLAN_COLUMNS))


def _sorted(found: Weighing) -> list[LensPlan]:
    return sorted(found.planned.lenses, key=lambda one: _ORDER.index(one.verdict))


def _plan_row(desk: Desk, one: LensPlan) -> tuple[object, ...]:
    usage, cover, saved = one.evidence.usage, one.evidence.cover, one.evidence.saved
    gap = one.evidence.fair.difference if one.evidence.fair else None
    points = (100 * gap.difference, 100 * gap.low, 100 * gap.high) if gap else (float("nan"),) * 3
    return (
        one.lens, desk.name("lens", one.lens), one.verdict, usage.frames, usage.judged, usage.kept,
        usage.keepers_a_year, cover.covered, cover.without, *points, saved.share, one.evidence.price_a_keeper,
        one.score,
    )  # fmt: skip


def plan_sheets(desk: Desk, found: Weighing) -> list[Sheet]:
    """Return the plan in words, in the order of ``plan_table``."""
    weights = found.workspace.settings.plan
    return [
        Sheet(
            key=one.lens,
            name=desk.name("lens", one.lens),
            verdict=one.verdict,
            reasons=tuple(_named(desk, line) for line in reasons(one, weights)),
            explained=tuple(_named(desk, line) for line in explained(one, weights)),
        )
        for one in _sorted(found)
    ]


def _named(desk: Desk, sentence: str) -> str:
    """Put the kit's names for its ids; an id that could be a word of the sentence, without a hyphen, stays."""
    names = {key: name for kind in ("lens", "adapter") for key, name in desk.names.get(kind, {}).items() if "-" in key}
    for key in sorted(names, key=len, reverse=True):
        sentence = re.sub(rf"(?<![\w-]){re.escape(key)}(?![\w-])", lambda _, key=key: names[key], sentence)  # type: ignore[misc]
    return sentence


def thought(desk: Desk, found: Weighing, without: Sequence[str], patience_s: float | None = None) -> pd.DataFrame:
    """
    Return the keepers in reach before and after some lenses are sold in thought.

    Parameters
    ----------
    desk : Desk
    found : Weighing
    without : sequence of str
        Kit ids; those that are not of a lens still owned are passed over.
    patience_s : float, optional
        As in ``weighing``. [s]

    Returns
    -------
    pandas.DataFrame
        Columns ``THOUGHT_COLUMNS``, one row a band of focal lengths, each keeper counted once.

    Raises
    ------
    Waiting
        It is not worked out yet; ask again.
    """
    kit, settings = found.workspace.kit, found.workspace.settings
    owned = [lens for lens in kit.lenses if lens.sold is None]
    gone = sorted({lens.id for lens in owned} & set(without))

    def make(opened: Workspace) -> pd.DataFrame:
        pairings = possible_pairings(kit, opened.log.rows)
        rows = what_if(found.condensed, gone, owned, pairings, settings.plan).rows
        return rows.rename(columns={"id": "focal"})[list(THOUGHT_COLUMNS)]

    return worked_out(desk, f"without {' '.join(gone)}", make, patience_s)


def _compared(desk: Desk, by: str, patience_s: float | None) -> list[Comparison]:
    def make(opened: Workspace) -> list[Comparison]:
        _condense(desk, opened)
        return comparisons_of(opened, by)

    return worked_out(desk, f"fair {by}", make, patience_s)


def fair_rates(desk: Desk, by: str, patience_s: float | None = None) -> pd.DataFrame:
    """
    Compare each lens, body or pairing with the others under the same conditions.

    Parameters
    ----------
    desk : Desk
    by : str
        One of ``COMPARED``.
    patience_s : float, optional
        As in ``weighing``. [s]

    Returns
    -------
    pandas.DataFrame
        Columns ``FAIR_COLUMNS``: rates 0-1, ``points`` the difference in per cent with its 95 % interval.

    Raises
    ------
    Waiting, SteadykeepError
        As in ``weighing``.
    """
    rows = [_fair_row(_called(desk, by), one) for one in _compared(desk, by, patience_s)]
    return pd.DataFrame(rows, columns=list(FAIR_COLUMNS))


def fair_sentences(desk: Desk, by: str, patience_s: float | None = None) -> list[str]:
    """Say each comparison of ``fair_rates`` in words, with what it does not show."""
    called = _called(desk, by)
    return [
        comparison_sentence(one, {one.first: called(one.first), OTHERS: OTHERS})
        for one in _compared(desk, by, patience_s)
    ]


def _called(desk: Desk, by: str) -> Callable[[str], str]:
    return (lambda key: _named(desk, key)) if by == "pairing" else (lambda key: desk.name(by, key))


def _fair_row(called: Callable[[str], str], one: Comparison) -> tuple[object, ...]:
    mine, theirs = one.crude
    fair = (one.rates[0].rate, one.rates[1].rate) if one.rates else (float("nan"),) * 2
    gap = one.difference
    points = (100 * gap.difference, 100 * gap.low, 100 * gap.high) if gap else (float("nan"),) * 3
    return (
        called(one.first), mine.judged, mine.kept, mine.rate, theirs.rate, *fair, *points, mine.left_out, one.verdict,
    )  # fmt: skip


def _table_or_empty(columns: Sequence[str], make: Callable[[], pd.DataFrame]) -> pd.DataFrame:
    """Return a table for a CSV: headings alone where there is nothing to weigh yet."""
    try:
        return make()
    except SteadykeepError:
        return pd.DataFrame(columns=list(columns))


def plan_csv(desk: Desk) -> pd.DataFrame:
    """Return the plan to take away."""
    return _table_or_empty(PLAN_COLUMNS, lambda: plan_table(desk, weighing(desk)))


def thought_csv(desk: Desk, rest: Mapping[str, str]) -> pd.DataFrame:
    """Return the what-if of an address to take away."""
    without = rest.get("without", "").split("+")
    return _table_or_empty(THOUGHT_COLUMNS, lambda: thought(desk, weighing(desk), without))


def fair_csv(desk: Desk, by: str) -> pd.DataFrame:
    """Return a fair comparison to take away."""
    return _table_or_empty(FAIR_COLUMNS, lambda: fair_rates(desk, by))
