"""Deciding once for each distinct combination of values instead of once for each row."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pandas as pd

__all__ = ["decide_each"]


def decide_each(
    rows: pd.DataFrame, columns: Sequence[str], decide: Callable[[Any], tuple[Any, ...]], into: dict[str, str]
) -> pd.DataFrame:
    """
    Call a function once for each distinct combination of some columns and give every row its answer.

    An archive of a million frames holds a few thousand combinations of lens name, log row and setting, so the
    decision can be written as a person would put it and still costs nothing.

    Parameters
    ----------
    rows : DataFrame
    columns : sequence of str
        Those that the decision rests on.
    decide : callable
        Takes one combination, with its columns as attributes and None for what is unknown; returns one value for
        each new column.
    into : dict of str to str
        Names of the new columns and their dtypes.

    Returns
    -------
    DataFrame
        Only the new columns, indexed as ``rows``.

    Examples
    --------
    >>> rows = pd.DataFrame({"n": [1.0, 2.0, 1.0, None]})
    >>> decide_each(rows, ["n"], lambda row: (row.n is None,), {"missing": "bool"})["missing"].tolist()
    [False, False, False, True]
    """
    groups = rows.groupby(list(columns), dropna=False, sort=False)
    number = groups.ngroup().to_numpy()
    combinations = rows[list(columns)].iloc[~pd.Series(number).duplicated().to_numpy()]
    known = combinations.astype(object).where(combinations.notna(), None)
    answers = [decide(combination) for combination in known.itertuples(index=False, name="Combination")]
    decided = pd.DataFrame(
        {
            name: pd.Series([answer[place] for answer in answers], dtype=kind)
            for place, (name, kind) in enumerate(into.items())
        }
    )
    return decided.take(number).set_axis(rows.index)
