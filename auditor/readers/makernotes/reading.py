"""One small bounds-checked reader for every maker's note; which slots to look into is the layouts' affair."""

from __future__ import annotations

import struct
from typing import TypeAlias

from auditor.readers.makernotes import canon, fujifilm, nikon, olympus, panasonic, pentax, sony
from auditor.readers.makernotes.layout import NOTHING, Header, Layout, MakerNote, Slot
from auditor.readers.tags import plain_text
from auditor.readers.tiff import Block, entries_at
from auditor.readers.window import Window

__all__ = ["LAYOUTS", "layout_for", "read_maker_note"]

LAYOUTS: tuple[Layout, ...] = tuple(
    maker.LAYOUT for maker in (canon, nikon, sony, fujifilm, olympus, panasonic, pentax)
)

_KNOWN_MAKES: dict[str, Layout | None] = {}
_MOST_MAKES = 1000
_BY_FIRST_WORDS = {make: layout for layout in LAYOUTS for make in layout.makes}
_WANTED = frozenset(tag for one in LAYOUTS for slots in one.slots.values() for slot in slots for tag in slot.tags)
_ENTRY = {order: struct.Struct(f"{order}HHI4s").iter_unpack for order in "<>"}
_FORMS = {1: "B", 3: "H", 4: "I", 5: "I", 6: "b", 7: "B", 8: "h", 9: "i", 10: "i", 13: "I"}
_NUMBER = {(order, kind): struct.Struct(order + form).unpack for order in "<>" for kind, form in _FORMS.items()}
_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 13: 4}
_MOST_TEXT_BYTES = 256
_UNSIGNED_UNKNOWN = (65535, 0xFFFFFFFF)

_Entries: TypeAlias = dict[int, tuple[int, int, bytes]]
"""Kind, count and inline value of an entry by its tag."""


def layout_for(make: str) -> Layout | None:
    """
    Return the layout of a maker's notes, None for a maker that none is known for.

    Examples
    --------
    >>> layout_for("NIKON CORPORATION").makes
    ('nikon',)
    >>> layout_for("Silverline") is None
    True
    """
    if make not in _KNOWN_MAKES and len(_KNOWN_MAKES) < _MOST_MAKES:
        lower = make.lower()
        _KNOWN_MAKES[make] = next((one for words, one in _BY_FIRST_WORDS.items() if lower.startswith(words)), None)
    return _KNOWN_MAKES.get(make)


def _block_of(window: Window, place: tuple[int, int], exif: Block, header: Header) -> Block | None:
    """Return the block that a note's directory is read in: what its offsets count from, its order and first IFD."""
    start, end = place
    if header.counts_from == "own":
        own = start + header.ifd_at
        order = {b"II": "<", b"MM": ">"}.get(window.take(own, 2))
        first = window.take(own + 4, 4)
        return Block(own, end, order, _NUMBER[order, 4](first)[0]) if order and len(first) == 4 else None
    order = header.order or exif.order
    if header.order_at:
        order = {b"II": "<", b"MM": ">"}.get(window.take(start + header.order_at, 2), exif.order)
    ifd_at = header.ifd_at
    if ifd_at < 0:
        raw = window.take(start - ifd_at, 4)
        if len(raw) != 4:
            return None
        ifd_at = _NUMBER[order, 4](raw)[0]
    base = start if header.counts_from == "note" else exif.start
    return Block(base, max(end, exif.end), order, start + ifd_at - base)


def _entries(window: Window, block: Block, offset: int) -> _Entries:
    raw, _ = entries_at(window, block, offset)
    return {entry[0]: entry[1:] for entry in _ENTRY[block.order](raw) if entry[0] in _WANTED}


def _text(window: Window, block: Block, count: int, inline: bytes) -> str | None:
    if count > _MOST_TEXT_BYTES:
        return None
    if count <= 4:
        return plain_text(inline[:count])
    at = block.start + _NUMBER[block.order, 4](inline)[0]
    raw = window.take(at, count) if at + count <= block.end else b""
    return plain_text(raw)


def _number(window: Window, block: Block, slot: Slot, entry: tuple[int, int, bytes]) -> float | None:
    """Return one element of an array of numbers, None when it is not there or not a number."""
    kind, count, inline = entry
    size = _SIZES.get(kind)
    if size is None or kind == 2 or slot.element >= count:
        return None
    if size * count <= 4:
        raw = inline[slot.element * size : (slot.element + 1) * size]
    else:
        at = block.start + _NUMBER[block.order, 4](inline)[0] + slot.element * size
        raw = window.take(at, size) if at + size <= block.end else b""
    if len(raw) != size:
        return None
    if size < 8:
        return _NUMBER[block.order, kind](raw)[0]  # type: ignore[no-any-return]
    above, below = (_NUMBER[block.order, kind](raw[at : at + 4])[0] for at in (0, 4))
    if slot.is_numerator:
        return above  # type: ignore[no-any-return]
    return above / below if below else None


def _value(window: Window, block: Block, slot: Slot, entries: _Entries) -> str | float | None:
    entry = entries.get(slot.tags[-1])
    if entry is None:
        return None
    if entry[0] == 2:
        text = _text(window, block, entry[1], entry[2])
        return text if slot.meaning is None or text is None else slot.meaning.get(text)
    number = _number(window, block, slot, entry)
    if number is None:
        return None
    if slot.meaning is not None:
        return slot.meaning.get(int(number) & slot.mask)
    return None if number in _UNSIGNED_UNKNOWN else number * slot.scale


def _read_slots(window: Window, block: Block, layout: Layout) -> MakerNote:
    directories: dict[int, _Entries] = {0: _entries(window, block, block.first)}
    found: dict[str, str | float] = {}
    for name, slots in layout.slots.items():
        for slot in slots:
            parent = slot.tags[0] if len(slot.tags) > 1 else 0
            if parent not in directories:
                directories[parent] = _below(window, block, directories[0].get(parent))
            value = _value(window, block, slot, directories[parent])
            if value is not None:
                found[name] = value
                break
    return MakerNote(**found) if found else NOTHING  # type: ignore[arg-type]


def _below(window: Window, block: Block, entry: tuple[int, int, bytes] | None) -> _Entries:
    """Return the entries of a directory below the first; older bodies call it an undefined value."""
    if entry is None:
        return {}
    return _entries(window, block, _NUMBER[block.order, 4](entry[2])[0])


def read_maker_note(
    window: Window, place: tuple[int, int], exif: Block, make: str, *, is_block: bool = False
) -> MakerNote:
    """
    Read the wanted slots of a maker note.

    Parameters
    ----------
    window : Window
        The file.
    place : (int, int)
        Where the note starts and ends. [byte]
    exif : Block
        The Exif's TIFF block.
    make : str
        Exif Make.
    is_block : bool
        The note is a TIFF block of its own, as in CR3.

    Returns
    -------
    MakerNote
        All None for a maker or a header that is not known, and for a damaged note.
    """
    layout = layout_for(make)
    if layout is None:
        return NOTHING
    if is_block:
        headers: tuple[Header, ...] = (Header(b"", 0, "own"),)
    else:
        start = window.upto(place[0], 16)
        headers = tuple(header for header in layout.headers if start.startswith(header.mark))
    if not headers:
        return NOTHING
    block = _block_of(window, place, exif, headers[0])
    return NOTHING if block is None else _read_slots(window, block, layout)
