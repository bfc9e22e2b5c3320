"""Keep rates, fair comparisons and the cost of wrong settings, for a workspace."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import pandas as pd

from auditor.audit.fair.comparing import Comparison, compare, compare_each
from auditor.audit.fair.cost import Cost, setting_cost
from auditor.audit.fair.keeping import fit_keeping
from auditor.audit.fair.trials import Trials, trials_of
from auditor.audit.groupings import GROUPINGS
from auditor.audit.ledger import Ledger, keep_rates
from auditor.errors import InputError, nearest
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.auditing import joined_table
from auditor.pipeline.condensing import read_condensed, with_log, write_condensed
from auditor.pipeline.sharp_column import sharp_column

__all__ = ["comparisons_of", "condensed_of", "cost_of", "ledger_of", "make_condensed", "parse_only"]


def condensed_of(workspace: Workspace, columns: Sequence[str] | None = None) -> pd.DataFrame:
    """
    Return the condensed audit, or some of its columns; it is made where the store has none of these tables.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet.
    """
    found = read_condensed(workspace, columns)
    if found is None:
        made = write_condensed(workspace, with_log(joined_table(workspace), workspace))
        found = made if columns is None else made[list(columns)]
    return found


def make_condensed(folder: Path) -> None:
    """
    Condense a workspace's audit where that was not done yet, as after a change of what counts as one burst.

    Raises
    ------
    WorkspaceError
        As in `condensed_of`.
    """
    condensed_of(open_workspace(folder), ["kept"])


def parse_only(texts: Sequence[str]) -> dict[str, str]:
    """
    Read filters such as ``lens=orla-50``.

    Raises
    ------
    InputError
        One has no = or names no grouping.

    Examples
    --------
    >>> parse_only(["lens=orla-50", "trip=Harbour week"])
    {'lens': 'orla-50', 'trip': 'Harbour week'}
    """
    only, problems = {}, []
    for text in texts:
        by, given, value = text.partition("=")
        if not given or by not in GROUPINGS:
            problems.append(f'"{text}" should be such as lens=orla-50{nearest(by, GROUPINGS)}')
        only[by] = value
    if problems:
        raise InputError(f"--only: nothing was computed; the left side is one of {', '.join(GROUPINGS)}", problems)
    return only


def ledger_of(workspace: Workspace, by: str, *, only: Mapping[str, str] | None = None) -> Ledger:
    """
    Count the kept and the sharp frames of a workspace by one of :data:`auditor.audit.groupings.GROUPINGS`.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet.
    InputError
        A filter names a group that no frame is in.
    """
    filters = dict(only or {})
    columns = sorted({by, "kept", "burst", *filters})
    condensed = condensed_of(workspace, columns)
    for name, value in filters.items():
        known = [str(one) for one in condensed[name].cat.categories]
        if value not in known:
            raise InputError(f"--only {name}={value}: no frame has it{nearest(value, known)}")
    sharp = sharp_column(workspace)
    return keep_rates(condensed if sharp is None else condensed.assign(sharp=sharp), by, only=filters)


def comparisons_of(workspace: Workspace, by: str, between: tuple[str, str] | None = None) -> list[Comparison]:
    """
    Compare each group with the others under the same conditions, or two groups with each other.

    Parameters
    ----------
    workspace : Workspace
    by : str
        lens, pairing or body.
    between : (str, str), optional
        Two groups; none for each against the others.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet.
    InputError
        A name is not that of a group with judged frames.
    """
    trials = trials_of(condensed_of(workspace), by)
    if not trials.ids:
        return []
    keeping = fit_keeping(trials, with_body=by != "body")
    if between is None:
        return compare_each(trials, keeping=keeping)
    for name in between:
        _known(trials, name, by)
    return [compare(trials, *between, keeping=keeping)]


def _known(trials: Trials, name: str, by: str) -> None:
    if name not in trials.ids:
        hint = nearest(name, trials.ids) or f"; there are {', '.join(trials.ids)}"
        raise InputError(f'{by} "{name}" has no judged frame whose conditions are known{hint}')


def cost_of(workspace: Workspace, by: str) -> Cost | None:
    """
    Count the keepers probably lost to wrong settings, by one of :data:`auditor.audit.fair.cost.CAUSE_GROUPINGS`.

    Returns
    -------
    Cost or None
        None where no frame was judged whose conditions are known.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet.
    """
    condensed = condensed_of(workspace)
    trials = trials_of(condensed)
    if not trials.ids:
        return None
    hand = workspace.settings.hand
    return setting_cost(condensed, trials, fit_keeping(trials), by=by, hand=(hand.exponent, hand.spread_stops))
