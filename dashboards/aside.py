"""Flagged frames that were looked at and put aside."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.errors import SteadykeepError
from auditor.model.workspace import Workspace
from auditor.pipeline.putting_aside import load_aside

if TYPE_CHECKING:
    from dashboards.desk import Desk
    from dashboards.filters import Filters

__all__ = ["ASIDE", "around", "aside_places", "is_aside"]

ASIDE: Mapping[str, str] = MappingProxyType({"aside": "1"})
"""What the address says, besides the filters, where those put aside are shown."""


def is_aside(rest: Mapping[str, str]) -> bool:
    """Return whether an address asks for the frames put aside."""
    return rest.get("aside") == ASIDE["aside"]


def aside_places(frames: pd.DataFrame, workspace: Workspace) -> npt.NDArray[np.int64]:
    """
    Return the places of the frames that are put aside for every flag that they have now.

    Parameters
    ----------
    frames : pandas.DataFrame
        Of a desk.
    workspace : Workspace
        A file that cannot be read puts nothing aside: better a frame too many is looked at.
    """
    try:
        put = {(one.archive, one.path): one.flags for one in load_aside(workspace)[0]}
    except SteadykeepError:
        put = {}
    if not put:
        return np.empty(0, dtype=np.int64)
    candidates = np.flatnonzero(
        frames["flags"].notna().to_numpy() & frames["path"].isin([p for _, p in put]).to_numpy()
    )
    rows = frames[["archive", "path", "flags"]].iloc[candidates].itertuples(index=False, name=None)
    fine = [
        set(str(flags).split("+")) <= put.get((str(archive), str(path)), frozenset()) for archive, path, flags in rows
    ]
    return np.compress(np.array(fine, dtype=bool), candidates).astype(np.int64)


def around(desk: Desk, filters: Filters, place: int, *, aside: bool = False) -> list[tuple[int, str]]:
    """
    Return the frames before and after one in the list of those worth a look, each with its words.

    One that was just put aside is in the list no more; its neighbours are those of the place that it had.
    """
    ever = desk.flagged_ever
    at = np.flatnonzero(ever == place)
    if not at.size:
        return []
    listed = np.isin(ever, desk.flagged_places(filters, aside=aside))
    before, after = np.flatnonzero(listed[: at[0]]), np.flatnonzero(listed[at[0] + 1 :])
    found = [(int(ever[before[-1]]), "← The one before")] if before.size else []
    return found + ([(int(ever[at[0] + 1 + after[0]]), "The next one →")] if after.size else [])
