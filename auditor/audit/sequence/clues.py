"""What a frame shows by itself of the lens that made it."""

from __future__ import annotations

import datetime as dt

import numpy as np

from auditor.audit.sequence.chain import Floats
from auditor.audit.sequence.states import States
from auditor.audit.sequence.timeline import Clue

__all__ = ["clue_chances"]

_STRAY_CONTACT, _NOT_OWNED, _NOT_CONFIRMED = 1e-4, 1e-6, 1e-15
_STRANGER_WITH_CONTACTS = 0.3


def clue_chances(clues: tuple[Clue, ...], states: States) -> Floats:
    """
    Chance of what each kind of frame shows by itself, shape (clues, states).

    A lens with contacts names itself and gives its aperture; a lens without does neither; a confirmed answer
    outranks everything; a lens that was not owned on that day is next to impossible. A lens that the kit does not
    name is most often one that tells nothing, and shows no less at every frame than one of the kit.
    """
    return np.array([[_clue_chance(clue, place, states) for place in range(len(states.entries))] for clue in clues])


def _clue_chance(clue: Clue, place: int, states: States) -> float:
    pairing = states.entries[place].pairing
    if clue.confirmed >= 0:
        return 1.0 if states.group[place] == clue.confirmed else _NOT_CONFIRMED
    if pairing is None:
        return 1.0 if not clue.has_contacts else _STRAY_CONTACT if clue.contact_lens else _STRANGER_WITH_CONTACTS
    chance = _contact_chance(clue, pairing.lens.id, contacts=pairing.contacts)
    if clue.day is not None and not pairing.lens.was_owned_on(_date(clue.day)):
        chance *= _NOT_OWNED
    return chance


def _contact_chance(clue: Clue, lens: str, *, contacts: bool) -> float:
    if not contacts:
        return _STRAY_CONTACT if clue.contact_lens else 0.02 if clue.has_contacts else 1.0
    if not clue.has_contacts:
        return _STRAY_CONTACT
    if clue.contact_lens is None:
        return 0.05
    return 1.0 if clue.contact_lens == lens else _STRAY_CONTACT


def _date(day: str) -> dt.date:
    return dt.date.fromisoformat(day)
