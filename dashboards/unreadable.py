"""The frames that could not be read, or only in part."""

from __future__ import annotations

import pandas as pd

from dashboards.desk import Desk
from dashboards.filters import Filters

__all__ = ["unreadable_frames"]


def unreadable_frames(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Return the frames with a problem.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    pandas.DataFrame
        ``archive, path, problem``, in the order of the store.
    """
    frames = desk.rows(filters, ["archive", "path", "problem"])
    return frames[frames["problem"].notna().to_numpy()].astype("str").reset_index(drop=True)
