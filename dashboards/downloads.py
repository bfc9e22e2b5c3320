"""Everything that is shown, as CSV."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from types import MappingProxyType

import pandas as pd
from flask import Flask, Response, abort, request

from auditor.corrections.tables import harmless
from auditor.errors import SteadykeepError
from auditor.pipeline.shoot_log import log_csv
from dashboards import calibrated, flagged, kit_shown, rates, runs, sharp_rates, tested, verdicts, weighed
from dashboards.aside import is_aside
from dashboards.desk import Desk
from dashboards.filters import Filters, filters_from_search, rest_of
from dashboards.own_tables import OWN
from dashboards.unreadable import unreadable_frames

__all__ = ["FLAGGED", "TABLES", "WEIGHED", "add_routes"]

TABLES: Mapping[str, Callable[[Desk, Filters], pd.DataFrame]] = MappingProxyType(
    {
        "keep-rates-by-lens": rates.keep_rates,
        "keep-rates-by-body": lambda desk, filters: rates.keep_rates(desk, filters, "body"),
        "keep-rates-by-adapter": lambda desk, filters: rates.keep_rates(desk, filters, "adapter"),
        "keep-rates-by-trip": lambda desk, filters: rates.keep_rates(desk, filters, "trip"),
        "keep-rates-by-slowness": rates.keep_rates_by_slowness,
        "keep-rates-by-aperture": rates.keep_rates_by_aperture,
        "kept-and-sharp": sharp_rates.kept_and_sharp_by_lens,
        "setting-verdicts": verdicts.verdicts_over_time,
        "setting-verdicts-by-lens": lambda desk, filters: verdicts.verdicts_by(desk, filters, "lens"),
        "causes": verdicts.causes,
        "typed-and-right": verdicts.typed_and_right,
        "lenses": rates.lenses_at_a_glance,
        "settings-by-adapter": verdicts.settings_by_adapter,
        "trips": runs.trips_at_a_glance,
        "unreadable": unreadable_frames,
        "wrong-stretches": runs.wrong_stretches,
        "mounted": runs.mounted_runs,
    }
)
"""Every summary that can be taken away, by the name in its address; the flagged frames besides."""

WEIGHED: Mapping[str, Callable[[Desk, Mapping[str, str]], pd.DataFrame]] = MappingProxyType(
    {
        "plan": lambda desk, _rest: weighed.plan_csv(desk),
        "what-if": weighed.thought_csv,
        "fair-by-lens": lambda desk, _rest: weighed.fair_csv(desk, "lens"),
        "fair-by-body": lambda desk, _rest: weighed.fair_csv(desk, "body"),
        "hand": calibrated.figures_csv,
        "hand-shares": calibrated.shares_csv,
        "setting-test": tested.series_csv,
        "kit-pairings": lambda desk, _rest: kit_shown.pairings_csv(desk),
        "fair-by-pairing": lambda desk, _rest: weighed.fair_csv(desk, "pairing"),
    }
)
"""What weighs the whole workspace, whatever it is narrowed to, with what else the address says."""

FLAGGED = "frames-worth-a-look"
_BLOCK = 5_000


def _harmless(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table whose text no spreadsheet takes for a formula."""
    is_text = {
        column: not (pd.api.types.is_numeric_dtype(kind) or pd.api.types.is_datetime64_any_dtype(kind))
        for column, kind in table.dtypes.items()
    }
    return table.assign(**{str(column): harmless(table[column].astype("str")) for column in table if is_text[column]})


def _written(blocks: Iterable[pd.DataFrame]) -> Iterator[str]:
    for number, block in enumerate(blocks):
        yield _harmless(block).to_csv(index=False, header=number == 0)


def _flagged(desk: Desk, filters: Filters, *, aside: bool) -> Iterator[pd.DataFrame]:
    """Yield the list in blocks: each row's reason is a sentence, and there may be hundreds of thousands."""
    total = len(desk.flagged_places(filters, aside=aside))
    for start in range(0, max(total, 1), _BLOCK):
        yield flagged.flagged_frames(desk, filters, start, start + _BLOCK, aside=aside).drop(columns="place")


def _made(desk: Desk, name: str, search: str) -> Iterable[pd.DataFrame]:
    if name in OWN:
        return [OWN[name](desk, search)]
    if name in WEIGHED:
        return [WEIGHED[name](desk, rest_of(search))]
    filters = filters_from_search(search)
    if name == FLAGGED:
        return _flagged(desk, filters, aside=is_aside(rest_of(search)))
    return [TABLES[name](desk, filters)]


def add_routes(server: Flask, now: Callable[[], Desk]) -> None:
    """
    Let the server hand out the tables, each under ``/table/<name>.csv``.

    Parameters
    ----------
    server : Flask
    now : callable
        Returns the desk as it is.
    """

    @server.get("/table/log.csv")
    def log() -> Response:
        workspace = now().workspace
        if workspace is None:
            abort(404)
        try:
            written = log_csv(workspace)
        except SteadykeepError as error:
            return Response(str(error), status=404, mimetype="text/plain")
        headers = {"Content-Disposition": 'attachment; filename="log.csv"', "Cache-Control": "no-store"}
        return Response(written, mimetype="text/csv", headers=headers)

    @server.get("/table/<name>.csv")
    def table(name: str) -> Response:
        if not any(name in tables for tables in (TABLES, WEIGHED, OWN, (FLAGGED,))):
            abort(404)
        made = _made(now(), name, request.query_string.decode("ascii", "replace"))
        headers = {"Content-Disposition": f'attachment; filename="{name}.csv"', "Cache-Control": "no-store"}
        return Response(_written(made), mimetype="text/csv", headers=headers)
