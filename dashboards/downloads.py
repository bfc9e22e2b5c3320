"""Everything that is shown, as CSV."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

import pandas as pd
from flask import Flask, Response, abort, request

from dashboards import summaries
from dashboards.desk import Desk
from dashboards.filters import Filters, filters_from_search

__all__ = ["TABLES", "add_routes", "harmless"]

TABLES: Mapping[str, Callable[[Desk, Filters], pd.DataFrame]] = MappingProxyType(
    {
        "keep-rates-by-lens": summaries.keep_rates,
        "setting-verdicts": summaries.verdicts_over_time,
        "frames-worth-a-look": lambda desk, filters: summaries.flagged_frames(desk, filters, 0, len(desk)),
    }
)
"""Every table that can be taken away, by the name in its address."""

_BLOCK = 20_000


def harmless(table: pd.DataFrame) -> pd.DataFrame:
    """
    Return a table whose text no spreadsheet takes for a formula: an apostrophe goes before = + - @ and tab.

    Examples
    --------
    >>> harmless(pd.DataFrame({"name": ["=1+1", "Orla"], "stops": [-1.0, 2.0]}))["name"].tolist()
    ["'=1+1", 'Orla']
    """
    return table.assign(
        **{
            str(column): table[column].astype("str").str.replace(r"^(?=[=+\-@\t\r])", "'", regex=True)
            for column in table.columns
            if not pd.api.types.is_numeric_dtype(table[column]) and not pd.api.types.is_bool_dtype(table[column])
            and not pd.api.types.is_datetime64_any_dtype(table[column])
        }
    )  # fmt: skip


def _written(table: pd.DataFrame) -> Iterator[str]:
    yield table.head(0).to_csv(index=False)
    for start in range(0, len(table), _BLOCK):
        yield harmless(table.iloc[start : start + _BLOCK]).to_csv(index=False, header=False)


def add_routes(server: Flask, desk: Desk) -> None:
    """
    Let the server hand out the tables, each under ``/table/<name>.csv``.

    Parameters
    ----------
    server : Flask
    desk : Desk
    """

    @server.get("/table/<name>.csv")
    def table(name: str) -> Response:
        if name not in TABLES:
            abort(404)
        made = TABLES[name](desk, filters_from_search(request.query_string.decode("ascii", "replace")))
        headers = {"Content-Disposition": f'attachment; filename="{name}.csv"', "Cache-Control": "no-store"}
        return Response(_written(made), mimetype="text/csv", headers=headers)
