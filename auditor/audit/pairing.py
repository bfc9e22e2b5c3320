"""
Which lens and adapter made each frame: first version, each frame by itself.

The seam is :func:`infer_pairings`: evidence in, pairing with confidence out. It decides from what stands beside each
frame; what came before and after is left to a model over the whole sequence.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from typing import Protocol

import numpy as np
import pandas as pd

from auditor.audit.combinations import decide_each
from auditor.audit.evidence import NO_ROW
from auditor.model.kit import Kit
from auditor.model.log import LogRow
from auditor.model.pairings import Pairing, kit_pairings
from auditor.model.settings import Settings

__all__ = ["CONFIDENCE", "infer_pairings", "possible_pairings"]

CONFIDENCE: Mapping[str, float] = {
    "contacts": 0.99,
    "lens-name+log+setting": 0.98,
    "lens-name+log": 0.95,
    "log+setting": 0.96,
    "lens-name+setting": 0.92,
    "log": 0.85,
    "lens-name": 0.8,
    "setting": 0.6,
}
"""How often each kind of evidence is right. Judgement, until a model over the sequence measures it."""

_DISAGREE = 0.6  # of the log, when the name in the body's list says another lens: the list is the staler of the two


def possible_pairings(kit: Kit, log: Iterable[LogRow], *, stacks: Iterable[str] = ()) -> tuple[Pairing, ...]:
    """Return every pairing the kit allows, with the stacks of adapters that the log or an answer names."""
    return kit_pairings(kit, stacks=[*(row.adapter for row in log if row.adapter), *stacks])


def infer_pairings(evidence: pd.DataFrame, kit: Kit, log: Sequence[LogRow], settings: Settings) -> pd.DataFrame:
    """
    Add the pairing of each frame and how sure it is.

    Parameters
    ----------
    evidence : DataFrame
        Frames with the columns of :func:`auditor.audit.evidence.add_evidence`.
    kit, log, settings
        The photographer's files.

    Returns
    -------
    DataFrame
        Same rows, same order, with ``lens``, ``adapter`` (empty text for none), ``pairing_confidence``,
        ``pairing_evidence``, ``setting_mm`` and ``sources_disagree``.
    """
    tolerance = settings.tolerance.setting_percent / 100
    boundaries = sorted({day for lens in kit.lenses for day in (lens.acquired, lens.sold) if day is not None})
    eras = np.array(boundaries, dtype="datetime64[D]")
    day = evidence["at"].to_numpy("datetime64[D]")
    clues = evidence[["body", "contact_lens", "listed_lens", "has_contacts", "log_row"]].assign(
        setting_mm=evidence["recorded_setting_mm"].fillna(evidence["logged_setting_mm"]).mask(evidence["has_contacts"]),
        # Lenses bought or sold part the years into eras with a kit of their own.
        era=np.where(np.isnat(day), -1, np.searchsorted(eras, day, side="right") * 2 + np.isin(day, eras)),
    )
    pairings = possible_pairings(kit, log)
    owned = {int(era): _owned(pairings, days) for era, days in _days_of(clues["era"], day).items()}
    decide = partial(_decide, owned, log, _ranges(pairings), tolerance)
    columns = ["body", "contact_lens", "listed_lens", "has_contacts", "log_row", "setting_mm", "era"]
    into = {
        "lens": "str",
        "adapter": "str",
        "pairing_confidence": "float64",
        "pairing_evidence": "str",
        "sources_disagree": "bool",
    }
    decided = decide_each(clues, columns, decide, into)
    return evidence.assign(setting_mm=clues["setting_mm"], **decided)


def _days_of(era: pd.Series, day: np.ndarray) -> dict[int, np.datetime64]:
    first = ~era.duplicated().to_numpy()
    return dict(zip(era.to_numpy()[first].tolist(), day[first], strict=True))


def _owned(pairings: Sequence[Pairing], day: np.datetime64) -> tuple[Pairing, ...]:
    if np.isnat(day):
        return tuple(pairings)
    date = dt.date.fromisoformat(str(day))
    return tuple(pairing for pairing in pairings if pairing.lens.was_owned_on(date))


def _ranges(pairings: Sequence[Pairing]) -> dict[Pairing, tuple[float, float]]:
    """
    Return what is usually typed for each pairing: its effective focal length, over a zoom's whole range. [mm].

    Not over all distances: the longer values of close focus would make almost every pairing fit its neighbour's.
    """
    ends = {pairing: pairing.effective_focal_mm for pairing in pairings}
    return {
        pairing: (low / pairing.body.stabiliser_gain, high / pairing.body.stabiliser_gain)
        for pairing, (low, high) in ends.items()
    }


_Decision = tuple[str | None, str | None, float, str | None, bool]
_NOT_KNOWN: _Decision = (None, None, 0.0, None, False)


class _Clue(Protocol):
    """One combination of what the sources say."""

    body: str | None
    contact_lens: str | None
    listed_lens: str | None
    has_contacts: bool
    log_row: int
    setting_mm: float | None
    era: int


def _decide(
    owned: Mapping[int, Sequence[Pairing]],
    log: Sequence[LogRow],
    ranges: Mapping[Pairing, tuple[float, float]],
    tolerance: float,
    clue: _Clue,
) -> _Decision:
    here = [p for p in owned[clue.era] if p.body.id == clue.body]
    row = log[clue.log_row] if clue.log_row != NO_ROW else None
    if clue.has_contacts:
        return _by_contacts(here, clue.contact_lens, row)
    manual = [pairing for pairing in here if not pairing.contacts]
    fits = partial(_fits, ranges, tolerance, clue.setting_mm) if clue.setting_mm is not None else None
    return _by_clues(manual, clue.listed_lens, row, fits)


def _fits(ranges: Mapping[Pairing, tuple[float, float]], tolerance: float, setting_mm: float, pairing: Pairing) -> bool:
    low, high = ranges[pairing]
    return low * (1 - tolerance) <= setting_mm <= high * (1 + tolerance)


def _by_contacts(here: Sequence[Pairing], lens: str | None, row: LogRow | None) -> _Decision:
    candidates = [pairing for pairing in here if pairing.contacts and pairing.lens.id == lens]
    if not candidates:
        return _NOT_KNOWN
    disagrees = row is not None and row.lens not in {None, lens}
    return _answer(candidates, "contacts", CONFIDENCE["contacts"], disagrees=disagrees)


def _by_clues(
    manual: Sequence[Pairing], listed_lens: str | None, row: LogRow | None, fits: Callable[[Pairing], bool] | None
) -> _Decision:
    logged = [p for p in manual if row is not None and row.lens == p.lens.id and row.adapter in {None, p.adapter_id}]
    listed = [p for p in manual if p.lens.id == listed_lens]
    both = [p for p in logged if p in listed]
    disagree = bool(logged and listed and not both)
    candidates = both or logged or listed
    sources = [name for name, found in (("lens-name", listed and not disagree), ("log", logged)) if found]
    if fits is not None:
        fitting = [p for p in candidates or manual if fits(p)]
        if candidates and fitting:
            candidates, sources = fitting, [*sources, "setting"]
        elif not candidates:
            candidates, sources = (fitting, ["setting"]) if len(fitting) == 1 else ([], [])
    if not candidates:
        return _NOT_KNOWN
    evidence = "+".join(sources)
    return _answer(candidates, evidence, _DISAGREE if disagree else CONFIDENCE[evidence], disagrees=disagree)


def _answer(candidates: Sequence[Pairing], evidence: str, confidence: float, *, disagrees: bool) -> _Decision:
    """Share the confidence among pairings that the evidence cannot tell apart; name only what they have in common."""
    lenses, adapters = {p.lens.id for p in candidates}, {p.adapter_id for p in candidates}
    if len(lenses) > 1:
        return (None, None, 0.0, evidence, disagrees)
    adapter = adapters.pop() if len(adapters) == 1 else None
    return (lenses.pop(), adapter, confidence / len(candidates), evidence, disagrees)
