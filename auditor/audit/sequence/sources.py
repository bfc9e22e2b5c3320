"""What each frame's pairing rests on, in the words of the audit's table."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.evidence import NO_ROW
from auditor.model.log import LogRow

__all__ = ["name_sources"]

_NEAR_S = 300.0
"""A row noted this near to a frame may speak of it, before or after its time. Judgement."""

_WORDS = ("contacts", "lens-name", "log", "setting", "pixels", "confirmed", "shared")

Bools = npt.NDArray[np.bool_]


def name_sources(frames: pd.DataFrame, log: Sequence[LogRow], *, shared: float) -> pd.DataFrame:
    """
    Add ``pairing_evidence`` and ``sources_disagree``; drop the columns that only served to find them.

    The evidence names each source that speaks for the answer, joined by ``+``; ``shared`` at its end says that another
    pairing is about as likely, because nothing tells the two apart.

    Parameters
    ----------
    frames : DataFrame
        With the answer's ``lens``, ``adapter``, ``likely_cause`` and what each source said.
    log : sequence of LogRow
        As the places in ``log_row`` count.
    shared : float
        Part of the answer's chance from which a rival shares the frame.
    """
    lens = frames["lens"]
    in_force, near = _speaks(frames, log)
    told = frames["confirmed"].to_numpy() >= 0
    rests_on = (
        _same(frames["contact_lens"], lens),
        _same(frames["listed_lens"], lens),
        in_force | near,
        frames["setting_mm"].notna().to_numpy(bool) & frames["likely_cause"].isna().to_numpy(bool),
        frames["by_pixels"].to_numpy(bool),
        told,
        (frames["rival_confidence"] >= shared * frames["pairing_confidence"]).to_numpy(bool),
    )
    known = lens.notna().to_numpy(bool)
    code = sum((part & known).astype(np.int64) << place for place, part in enumerate(rests_on))
    code = np.where(told & ~known, 1 << _WORDS.index("confirmed"), code)  # that the kit does not name it
    names = ["+".join(word for place, word in enumerate(_WORDS) if number >> place & 1) for number in range(128)]
    texts = np.array([name or None for name in names], dtype=object)
    other_name = frames["listed_lens"].notna().to_numpy(bool) & ~rests_on[1]
    other_row = _names_a_lens(frames, log) & ~(in_force | near)
    return frames.drop(columns=["confirmed", "day", "by_pixels"]).assign(
        pairing_evidence=pd.Series(texts[code], index=frames.index, dtype="str"),
        sources_disagree=known & ~told & (other_name | other_row),
    )


def _same(named: pd.Series, lens: pd.Series) -> Bools:
    return (named == lens).fillna(False).to_numpy(bool)


def _names_a_lens(frames: pd.DataFrame, log: Sequence[LogRow]) -> Bools:
    names = np.array([row.lens is not None for row in log] + [False])
    return np.asarray(names[frames["log_row"].to_numpy()])


def _speaks(frames: pd.DataFrame, log: Sequence[LogRow]) -> tuple[Bools, Bools]:
    """Whether the row in force, or one noted shortly before or after the frame, names the answered pairing."""
    place = frames["log_row"].to_numpy()
    in_force = _agrees(frames, log, place)
    near = np.zeros(len(frames), dtype=bool)
    at_s = frames["at"].to_numpy("datetime64[us]").astype(np.int64) / 1e6
    for body in {row.body for row in log}:
        own = np.array([number for number, row in enumerate(log) if row.body == body])
        starts = np.array([log[number].start for number in own], dtype="datetime64[us]").astype(np.int64) / 1e6
        on_body = (frames["body"] == body).fillna(False) & frames["at"].notna()
        mine = np.flatnonzero(on_body.to_numpy(bool))
        latest = np.searchsorted(starts, at_s[mine], side="right") - 1
        for offset in (-1, 0, 1):
            index = latest + offset
            within = (index >= 0) & (index < len(own))
            index = np.clip(index, 0, len(own) - 1)
            within &= np.abs(starts[index] - at_s[mine]) <= _NEAR_S
            near[mine] |= _agrees(frames.iloc[mine], log, np.where(within, own[index], NO_ROW))
    return in_force, near


def _agrees(frames: pd.DataFrame, log: Sequence[LogRow], place: npt.NDArray[np.int64]) -> Bools:
    lenses = np.array([row.lens for row in log] + [None], dtype=object)[place]
    adapters = np.array([row.adapter for row in log] + [None], dtype=object)[place]
    lens, adapter = frames["lens"].to_numpy(object), frames["adapter"].to_numpy(object)
    silent = pd.isna(adapters)
    return np.asarray(~pd.isna(lenses) & (lenses == lens) & (silent | (adapters == adapter)), dtype=bool)
