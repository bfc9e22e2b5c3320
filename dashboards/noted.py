"""The rows of the shoot log as the pages show them."""

from __future__ import annotations

import pandas as pd

from auditor.errors import SteadykeepError
from auditor.model.log_text import Noted
from auditor.pipeline.shoot_log import log_rows
from dashboards.desk import Desk
from dashboards.filters import NO_ADAPTER, NOT_KNOWN, Filters, day_of

__all__ = ["latest", "noted", "stacks"]


def noted(desk: Desk, filters: Filters | None = None) -> tuple[Noted, ...]:
    """
    Return the rows of the log, the latest first and before them those that cannot be read.

    Parameters
    ----------
    desk : Desk
    filters : Filters, optional
        Days, bodies, lenses and adapters narrow the rows; what cannot be read is always there.
    """
    if desk.workspace is None:
        return ()
    try:
        rows = log_rows(desk.workspace)
    except SteadykeepError:
        return ()  # a notice on every page says so
    unread = [one for one in rows if one.row is None]
    read = [one for one in rows if one.row is not None and (filters is None or _is_left(one, filters))]
    read.sort(key=lambda one: (one.row.start, one.line), reverse=True)  # type: ignore[union-attr]
    return (*unread, *read)


def _is_left(one: Noted, filters: Filters) -> bool:
    row = one.row
    if row is None:
        return True
    day = row.start.date()
    if (filters.since and day < day_of(filters.since)) or (filters.until and day > day_of(filters.until)):
        return False
    for wanted, has in ((filters.body, row.body), (filters.lens, row.lens), (filters.adapter, row.adapter)):
        key = NOT_KNOWN if has is None else (has or NO_ADAPTER)
        if wanted and key not in wanted:
            return False
    return True


def latest(desk: Desk) -> dict[str, str]:
    """Return what the latest row says of body, lens, adapter, support and stabiliser: what is probably still on."""
    row = next((one for one in noted(desk) if one.row is not None), None)
    lasting = ("body", "lens", "adapter", "support", "stabiliser")
    return {name: row.cells[name] for name in lasting if row.cells.get(name)} if row else {}


def stacks(desk: Desk) -> list[str]:
    """Return the stacks of several adapters that were noted or used, as the kit joins their ids."""
    used = desk.frames["adapter"].cat.categories if "adapter" in desk.frames else pd.Index([])
    found = {one.cells.get("adapter", "") for one in noted(desk)} | {str(chain) for chain in used}
    return sorted(chain for chain in found if "+" in chain)
