"""Which frames the photographer kept."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import PurePosixPath

import pandas as pd

from auditor.model.settings import Keep

__all__ = ["add_kept"]


def add_kept(frames: pd.DataFrame, keep: Keep, listed: Collection[str] = ()) -> pd.DataFrame:
    """
    Add ``kept``: True or False in trips that were judged, null in trips that never were.

    Parameters
    ----------
    frames : DataFrame
        With ``archive``, ``path``, ``companion``, ``rating``, ``problem`` and ``trip``.
    keep : Keep
        ``rating``: a rating of at least N (0 is XMP's word for unrated); ``list``: a path in a list; ``folder``: a
        frame anywhere under a folder of that name.
    listed : collection of str
        The list's lines, each a path inside an archive, with or without the archive's name before it.

    Returns
    -------
    DataFrame
        Same rows, same order. A trip in which nothing is rated, listed or put aside was never judged.
    """
    if keep.rule == "rating":
        rating = frames["rating"].astype("Int64").fillna(0)
        kept, marked = rating >= keep.rating_at_least, rating != 0
    elif keep.rule == "list":
        kept = _is_listed(frames, listed)
        marked = kept
    else:
        kept = frames["path"].map(lambda path: keep.folder in PurePosixPath(path).parent.parts).astype(bool)
        marked = kept
    judged = marked.groupby(frames["trip"], dropna=False).transform("any")
    return frames.assign(kept=kept.astype("boolean").where(judged & frames["format"].notna()))


def _is_listed(frames: pd.DataFrame, listed: Collection[str]) -> pd.Series:
    """Match either file of a raw+JPEG pair, by path alone or with the archive's name before it."""
    wanted = {line.strip().replace("\\", "/").removeprefix("./") for line in listed if line.strip()}
    whole = frames["archive"] + "/" + frames["path"]
    found = frames["path"].isin(wanted) | whole.isin(wanted)
    companion = frames["companion"]
    return found | companion.isin(wanted) | (frames["archive"] + "/" + companion).isin(wanted)
