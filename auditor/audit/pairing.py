"""Pairings that may have made a frame."""

from __future__ import annotations

from collections.abc import Iterable

from auditor.model.kit import Kit
from auditor.model.log import LogRow
from auditor.model.pairings import Pairing, kit_pairings

__all__ = ["possible_pairings"]


def possible_pairings(kit: Kit, log: Iterable[LogRow], *, stacks: Iterable[str] = ()) -> tuple[Pairing, ...]:
    """Return every pairing the kit allows, with the stacks of adapters that the log or an answer names."""
    return kit_pairings(kit, stacks=[*(row.adapter for row in log if row.adapter), *stacks])
