"""
What a maker's note is made of, as data: how it begins, and in which slots the wanted values stand.

No maker publishes its note. What the slots mean is what libexiv2 prints for them (the tests hold every meaning to it)
or, where it prints a bare number, what the slot's comment says. A value that no meaning is known for is None.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

__all__ = ["NOTHING", "Header", "Layout", "MakerNote", "Slot"]


class MakerNote(NamedTuple):
    """
    What a maker note says; None where it says nothing or is not understood.

    Attributes
    ----------
    stabiliser_mode : str or None
        off, on, shoot-only, panning, panning-vertical, dynamic, auto.
    drive_mode : str or None
        single, continuous, continuous-low, continuous-high, burst, self-timer, remote, bracketing, movie.
    shutter_type : str or None
        mechanical, electronic, electronic-first-curtain, hybrid.
    lens_name : str or None
        The lens's name for itself.
    focus_distance_m : float or None
        Where the lens was focused. [m]
    roll_deg, pitch_deg : float or None
        How the camera was held, in the maker's own sense of direction. [deg]
    """

    stabiliser_mode: str | None = None
    drive_mode: str | None = None
    shutter_type: str | None = None
    lens_name: str | None = None
    focus_distance_m: float | None = None
    roll_deg: float | None = None
    pitch_deg: float | None = None


NOTHING = MakerNote()


class Header(NamedTuple):
    """
    How a note begins.

    Attributes
    ----------
    mark : bytes
        Its first bytes.
    ifd_at : int
        Where its directory starts, from the start of the note; when negative, the note holds an offset to it there.
    counts_from : str
        What its offsets count from: ``note``, ``block`` (the Exif's TIFF block) or ``own`` (a TIFF header in the note
        at `ifd_at`).
    order : str
        ``<``, ``>``, or empty for the Exif's.
    order_at : int
        Where the note says its byte order (``II`` or ``MM``), 0 when it does not.
    """

    mark: bytes
    ifd_at: int
    counts_from: str = "block"
    order: str = ""
    order_at: int = 0


class Slot(NamedTuple):
    """
    Where a value stands and what it means.

    Attributes
    ----------
    tags : tuple of int
        Its tag, or the tags of the directories down to it.
    element : int
        Which element of an array.
    meaning : mapping or None
        Word for each number (or text) that is understood; None for a text or a number that stands for itself.
    scale : float
        What a number is multiplied with.
    mask : int
        Bits of the number that count.
    is_numerator : bool
        Of a ratio, only the upper number counts.
    """

    tags: tuple[int, ...]
    element: int = 0
    meaning: Mapping[int | str, str] | None = None
    scale: float = 1.0
    mask: int = -1
    is_numerator: bool = False


class Layout(NamedTuple):
    """
    One maker's note.

    Attributes
    ----------
    makes : tuple of str
        How Exif Make begins, lower case.
    headers : tuple of Header
        The first whose mark fits.
    slots : mapping
        Slots by field of `MakerNote`; the first that gives a value.
    """

    makes: tuple[str, ...]
    headers: tuple[Header, ...]
    slots: Mapping[str, tuple[Slot, ...]]
