"""The desk: the only data that the pages see. One row a frame, audited, with the kit's names beside it."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from auditor.audit.lensless import Lensless, lensless_bodies
from auditor.audit.pairing import possible_pairings
from auditor.audit.times import recorded_order
from auditor.model.answers import Answer
from auditor.model.flags import FLAGS
from auditor.model.kit import Kit
from auditor.model.tables import KEY
from auditor.model.workspace import Workspace
from dashboards.asked import OpenQuestion
from dashboards.columns import COLUMNS, column_of
from dashboards.filters import NO_ADAPTER, NOT_KNOWN, Filters
from dashboards.words import CAUSES, VERDICTS, said

__all__ = ["COLUMNS", "Desk", "codes_of", "desk_of"]

Mask = npt.NDArray[np.bool_]
Places = npt.NDArray[np.int64]

_FILTERED = {"trip": "trip", "body": "body", "lens": "lens", "adapter": "adapter"}
_FILTERED |= {"verdict": "setting_verdict", "cause": "setting_cause"}
_RANKS = {flag.name: rank for rank, flag in enumerate(FLAGS)}
_WORDED = {"verdict": VERDICTS, "cause": CAUSES}
_HELD_VIEWS = 16


@dataclass(frozen=True, eq=False)
class Desk:
    """
    The audited frames and the names of the kit.

    Parameters
    ----------
    frames : pandas.DataFrame
        One row a frame, columns ``COLUMNS``; make it with ``desk_of``.
    names : mapping
        ``{"body" | "lens" | "adapter": {id: name}}``.
    workspace : Workspace, optional
        What the frames come from: for pictures, for the log, and to index again. Without it, pages that need
        it say so.
    questions, answers : tuple
        What the program asks, as asked last, and what was answered so far.
    measures : pandas.DataFrame
        What the pixels said, one row a frame (``measured.measures_beside``); no column where nothing was measured.
    notice : str
        A sentence for the top of every page.
    aside : array of int
        Places of the flagged frames that were looked at and put aside, in order.
    """

    frames: pd.DataFrame
    names: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    workspace: Workspace | None = None
    questions: tuple[OpenQuestion, ...] = ()
    answers: tuple[Answer, ...] = ()
    measures: pd.DataFrame = field(default_factory=pd.DataFrame)
    notice: str = ""
    aside: Places = field(default_factory=lambda: np.empty(0, dtype=np.int64))

    def __len__(self) -> int:
        """Return how many frames there are."""
        return len(self.frames)

    @property
    def archives(self) -> Mapping[str, Path]:
        """Folder of each archive, by its name."""
        return self.workspace.archives if self.workspace else {}

    def name(self, kind: str, key: str) -> str:
        """
        Return how a body, lens, adapter, verdict or cause is called on a page.

        A pairing's adapters are joined by + as the kit joins their ids.
        """
        if key == NOT_KNOWN:
            return "Not known"
        if kind == "adapter" and key in {"", NO_ADAPTER}:
            return "No adapter"
        if kind in _WORDED:
            return said(_WORDED[kind], key)
        known = self.names.get(kind, {})
        return " + ".join(known.get(part, part) for part in key.split("+"))

    def choices(self, kind: str) -> list[dict[str, str]]:
        """
        Return the values of a filter that occur, as ``value`` and ``label``, by name; trips by time.

        A value that no frame has is left out, so that no choice leads to an empty page by itself.
        """
        column = self.frames[_FILTERED[kind]]
        if kind == "trip":
            values = list(self.trips)
        else:
            values = sorted(column.cat.categories, key=lambda key: self.name(kind, key))
        found = [{"value": value or NO_ADAPTER, "label": self.name(kind, value)} for value in values]
        return found + ([{"value": NOT_KNOWN, "label": "Not known"}] if column.isna().any() else [])

    @functools.cached_property
    def _masks(self) -> dict[Filters, Mask]:
        return {}

    def mask(self, filters: Filters) -> Mask:
        """Return which frames the filters leave, shape (frames,)."""
        held = self._masks
        if filters not in held:
            if len(held) >= _HELD_VIEWS:
                held.clear()
            held[filters] = _mask(self.frames, filters)
        return held[filters]

    def rows(self, filters: Filters, columns: Sequence[str]) -> pd.DataFrame:
        """Return some columns of the frames that the filters leave, in the order of the store."""
        return self.frames[list(columns)] if filters.is_empty else self.frames.loc[self.mask(filters), list(columns)]

    @functools.cached_property
    def flagged(self) -> Places:
        """Places in ``frames`` of those worth a look, the worst first: flagged, and not put aside."""
        return self.flagged_ever[~np.isin(self.flagged_ever, self.aside)] if len(self.aside) else self.flagged_ever

    @functools.cached_property
    def flagged_ever(self) -> Places:
        """Places in ``frames`` of all flagged ones, the worst first."""
        flags = self.frames["flags"].cat
        rank = np.array([_RANKS.get(name.split("+")[0], len(_RANKS)) for name in flags.categories] + [0])
        flagged = np.flatnonzero(flags.codes.to_numpy() >= 0)
        blur = np.nan_to_num(self.frames["blur_probability"].to_numpy()[flagged], nan=0.0)
        lost = np.nan_to_num(self.frames["stops_lost"].to_numpy()[flagged], nan=0.0)
        return flagged[np.lexsort((-lost, -blur, rank[flags.codes.to_numpy()[flagged]]))]

    def flagged_places(self, filters: Filters, *, aside: bool = False) -> Places:
        """Return the places of the frames worth a look that the filters leave, the worst first; or of those aside."""
        places = self.flagged_ever[np.isin(self.flagged_ever, self.aside)] if aside else self.flagged
        return places if filters.is_empty else places[self.mask(filters)[places]]

    @functools.cached_property
    def worked_out(self) -> dict[str, Future[Any]]:
        """What takes seconds over a large archive, by name, worked out once (``weighed``)."""
        return {}

    @functools.cached_property
    def steady_at(self) -> npt.NDArray[np.datetime64]:
        """Times that do not go back where the camera's did; for the order only, never shown."""
        return recorded_order(self.frames)

    @functools.cached_property
    def laid(self) -> dict[tuple[str, str], Any]:
        """Pages laid of this desk, by path and search, the latest few (``app.turn_to``)."""
        return {}

    @functools.cached_property
    def in_order(self) -> Places:
        """Places in ``frames`` of those with a time, body by body, each as it was shot."""
        taken, body = self.steady_at, self.frames["body"].cat.codes.to_numpy()
        timed = np.flatnonzero(~np.isnat(taken))
        return timed[np.lexsort((taken[timed], body[timed]))]

    def places_in_order(self, filters: Filters) -> Places:
        """Return the places of the timed frames that the filters leave, body by body, each as it was shot."""
        return self.in_order if filters.is_empty else self.in_order[self.mask(filters)[self.in_order]]

    @functools.cached_property
    def lensless(self) -> dict[str, Lensless]:
        """Bodies that no lens of the kit fits, with their frames, most first."""
        if self.workspace is None:
            return {}
        kit, log = self.workspace.kit, self.workspace.log.rows
        return lensless_bodies(kit, possible_pairings(kit, log), self.frames)

    @functools.cached_property
    def trips(self) -> tuple[str, ...]:
        """Trips, the latest first; those without any time come last."""
        begun = self.frames.groupby("trip", observed=True)["captured_at"].min()
        return tuple(str(trip) for trip in begun.sort_values(ascending=False, na_position="last").index)

    @functools.cached_property
    def span(self) -> tuple[dt.date, dt.date] | None:
        """First and last shooting day, or None where no frame has a time."""
        taken = self.frames["captured_at"]
        return (taken.min().date(), taken.max().date()) if taken.notna().any() else None


def _mask(frames: pd.DataFrame, filters: Filters) -> Mask:
    kept = np.ones(len(frames), dtype=bool)
    for kind, column in _FILTERED.items():
        wanted: tuple[str, ...] = getattr(filters, kind)
        if wanted:
            kept &= _is_one_of(frames[column], wanted)
    if filters.rating:
        ratings = frames["rating"]
        wanted_ratings = [int(value) for value in filters.rating if value.lstrip("-").isdigit()]
        kept &= ratings.isin(wanted_ratings).to_numpy() | (ratings.isna().to_numpy() & (NOT_KNOWN in filters.rating))
    taken = frames["captured_at"].to_numpy()
    if filters.since:
        kept &= taken >= np.datetime64(filters.since, "us")
    if filters.until:
        whole = dt.timedelta(minutes=1) if isinstance(filters.until, dt.datetime) else dt.timedelta(days=1)
        kept &= taken < np.datetime64(filters.until + whole, "us")
    return kept


def _is_one_of(column: pd.Series[str], wanted: tuple[str, ...]) -> Mask:
    keys = ["" if value == NO_ADAPTER else value for value in wanted]
    known = column.cat.categories.get_indexer(pd.Index(keys))
    codes = [int(code) for code in known if code >= 0] + ([-1] if NOT_KNOWN in wanted else [])
    return np.isin(column.cat.codes.to_numpy(), codes)


def desk_of(frames: pa.Table, audit: pa.Table, kit: Kit | None = None) -> Desk:
    """
    Lay a desk over the tables of the store.

    Parameters
    ----------
    frames, audit : pyarrow.Table
        Of the schemas ``FRAMES`` and ``AUDIT``, the columns that the desk has and the key. A frame not audited
        yet stays, with nothing known.
    kit : Kit, optional
        For the names; without it, ids are shown.

    Returns
    -------
    Desk
    """
    joined = _beside(frames, audit)
    del frames, audit
    # Each column of the store is let go of when it has become one of the desk: else both are held at once.
    table = pd.DataFrame({column: column_of(joined.pop(column), column) for column in COLUMNS}, copy=False)
    pa.default_memory_pool().release_unused()
    return Desk(frames=table, names=_names(kit) if kit else {})


def _beside(frames: pa.Table, audit: pa.Table) -> dict[str, pa.ChunkedArray]:
    """Put the audit's columns beside the frames', by key; the usual case, the same keys in order, costs no join."""
    audited = audit.select([column for column in audit.column_names if column in COLUMNS or column in KEY])
    if not (len(frames) == len(audit) and all(frames[key].equals(audit[key]) for key in KEY)):
        places = audited.select(list(KEY)).append_column("place", pa.array(np.arange(len(audit))))
        order = frames.select(list(KEY)).append_column("row", pa.array(np.arange(len(frames))))
        found = order.join(places, keys=list(KEY), join_type="left outer").sort_by("row")["place"]
        audited = audited.take(found)
    own = {column: frames[column] for column in frames.column_names if column in COLUMNS}
    return own | {column: audited[column] for column in audited.column_names if column not in KEY}


def _names(kit: Kit) -> Mapping[str, Mapping[str, str]]:
    parts: dict[str, Iterable[object]] = {"body": kit.bodies, "lens": kit.lenses, "adapter": kit.adapters}
    return MappingProxyType(
        {kind: {entry.id: entry.name for entry in entries} for kind, entries in parts.items()}  # type: ignore[attr-defined]
    )


def codes_of(column: pd.Series[str]) -> npt.NDArray[np.int64]:
    """Return a category column's codes, with one past the last for what is not known, shape (frames,)."""
    codes = column.cat.codes.to_numpy().astype(np.int64)
    codes[codes < 0] = len(column.cat.categories)
    return codes
