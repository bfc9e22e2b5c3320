"""The list of flagged frames: as long as it may be, a block at a time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash_ag_grid as dag
import pandas as pd
from dash.development.base_component import Component

from dashboards.aside import ASIDE, is_aside
from dashboards.desk import Desk
from dashboards.filters import Filters, filters_from_search, rest_of, search_of
from dashboards.flagged import flagged_frames
from dashboards.thumbnails import key_of
from dashboards.words import exposure, percent, stops, unbroken

__all__ = ["flagged_grid", "grid_rows"]

_LARGEST_BLOCK = 500

_COLUMNS = [
    {"field": "key", "headerName": "Picture", "width": 116, "cellRenderer": "FramePicture"},
    {"field": "reason", "headerName": "Why it is worth a look", "minWidth": 226, "flex": 3, "wrapText": True},
    {"field": "cost", "headerName": "Cost", "width": 132},
    {"field": "mounted", "headerName": "Lens and adapter", "minWidth": 190, "flex": 1},
    {"field": "exposure", "headerName": "Exposure", "width": 110, "type": "rightAligned"},
    {"field": "frame", "headerName": "Frame", "minWidth": 180, "flex": 1, "tooltipField": "path"},
]

_LOOK = (
    "themeQuartz.withParams({backgroundColor:'var(--sheet)',foregroundColor:'var(--ink)',accentColor:'var(--accent)',"
    "borderColor:'var(--rule)',headerBackgroundColor:'var(--sheet)',headerTextColor:'var(--ink-2)',"
    "rowHoverColor:'var(--hover)',fontFamily:'inherit',fontSize:14,wrapperBorderRadius:3,headerFontWeight:600,"
    "columnBorder:false})"
)


def flagged_grid(filters: Filters, tall_px: int = 520, *, aside: bool = False) -> Component:
    """
    Return the list, of the frames worth a look or of those put aside, empty until it asks for its first block.

    The filters are in its id: another view is another list, so that no row of the old one stays.
    """
    grid: Component = dag.AgGrid(
        id={"kind": "flagged", "view": search_of(filters, ASIDE if aside else None)},
        columnDefs=_COLUMNS,
        defaultColDef={"sortable": False, "resizable": True, "suppressHeaderMenuButton": True},
        rowModelType="infinite",
        getRowId="params.data.id",
        dashGridOptions={
            "rowHeight": 118,
            "cacheBlockSize": 100,
            "maxBlocksInCache": 10,
            "blockLoadDebounceMillis": 120,
            "theme": {"function": _LOOK},
            "suppressCellFocus": False,
            "enableCellTextSelection": True,
        },
        style={"height": tall_px},
    )
    return grid


def grid_rows(desk: Desk, wanted: Mapping[str, int] | None, view: str) -> dict[str, object] | None:
    """
    Answer a list's request for a block of rows.

    Parameters
    ----------
    desk : Desk
    wanted : mapping or None
        With ``startRow`` and ``endRow``, end exclusive.
    view : str
        The filters, as in an address.

    Returns
    -------
    dict or None
        ``rowData`` in words and ``rowCount`` of the whole list; None for no request.
    """
    if not wanted:
        return None
    start = max(int(wanted["startRow"]), 0)
    filters = filters_from_search(view)
    end, aside = min(int(wanted["endRow"]), start + _LARGEST_BLOCK), is_aside(rest_of(view))
    frames = flagged_frames(desk, filters, start, end, with_cost=False, aside=aside)
    extra = ASIDE if aside else {}
    rows = [_row(desk, row) | {"href": f"/frame{search_of(filters, {**extra, 'at': key_of(desk, int(row['place']))})}"}
            for _, row in frames.iterrows()]  # fmt: skip
    return {"rowData": rows, "rowCount": frames.attrs["total"]}


def _row(desk: Desk, frame: pd.Series[Any]) -> dict[str, str]:
    path, taken = str(frame["path"]), frame["captured_at"]
    mounted = [desk.name(kind, str(frame[kind])) for kind in ("lens", "adapter") if not pd.isna(frame[kind])]
    return {
        "id": str(frame["place"]),
        "key": key_of(desk, int(frame["place"])),
        "path": path,
        "file": path.rsplit("/", 1)[-1],
        "reason": unbroken(str(frame["reason"])),
        "frame": path.rsplit("/", 1)[-1] + ("" if pd.isna(taken) else f"\n{taken.day} {taken:%b %Y, %H:%M}"),
        "mounted": "\n".join(mounted) or "Not known",
        "exposure": exposure(float(frame["exposure_time_s"])),
        "cost": f"{stops(float(frame['stops_lost']))}\nblur {percent(float(frame['blur_probability']))}",
    }
