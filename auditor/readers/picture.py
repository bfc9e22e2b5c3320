"""One picture's content: from a window on its file to decoded tags, and what the container and maker note add."""

from __future__ import annotations

from typing import Any, NamedTuple

from auditor.readers.containers import find
from auditor.readers.found import Found
from auditor.readers.guarded import read_block_tolerantly
from auditor.readers.jpeg import find_in_jpeg
from auditor.readers.makernotes import NOTHING, MakerNote, read_maker_note
from auditor.readers.places import read_place
from auditor.readers.problems import Problem
from auditor.readers.records import full_size, named, positive, raw_format
from auditor.readers.tags import Tags, Value
from auditor.readers.tiff import Block, Unusual, byte_order, ifd_after, read_block, read_pictures
from auditor.readers.window import Window
from auditor.readers.xmp import MOST_XMP_BYTES, place, rating

__all__ = ["Decoded", "Picture", "decode", "read_picture"]

_MOST_CHAINED = 4
_OWN_ORIENTATION = ("heif", "avif", "jxl")
"""Where the container says how the picture is turned, and Exif's word does not count."""


class Decoded(NamedTuple):
    """
    A TIFF block's tags, its magic, whether all of it was there, and which lane read it (for debugging only).

    A GPS directory that is not there (`is_placed` false) is told apart: the rest can be trusted to say all it has.
    """

    block: Block
    magic: str
    tags: Tags
    is_whole: bool = True
    lane: str = "fast"
    is_placed: bool = True


class Picture(NamedTuple):
    """Decoded tags, and the columns that do not come from them."""

    tags: Tags
    fixed: dict[str, Any]


def decode(window: Window, place: tuple[int, int], first: str = "") -> Decoded | None:
    """
    Read the TIFF block between two offsets, in the fast lane when it is well-formed; None when it is no block.

    `first` says what its first IFD is where its header does not: ``exif``.
    """
    recognised = byte_order(window, *place)
    if recognised is None:
        return None
    block, magic = recognised
    try:
        decoded = Decoded(block, magic, read_block(window, block, first or magic))
    except Unusual:
        decoded = Decoded(block, magic, *read_block_tolerantly(window, block, first or magic), "tolerant")
    pointer = decoded.tags.get(0x8825)
    return decoded if pointer is None else _placed(window, decoded, pointer)


def _placed(window: Window, decoded: Decoded, pointer: Value) -> Decoded:
    """Put the place in the stead of the pointer to it."""
    where, is_there = read_place(window, decoded.block, pointer) if isinstance(pointer, int) else (None, False)
    decoded.tags[0x8825] = where
    return decoded if is_there else decoded._replace(is_placed=False)


def _filled(first: Tags, second: Tags) -> Tags:
    """Return the first tags, with the second's where the first have none."""
    return {**second, **{tag: value for tag, value in first.items() if value is not None}}


def _other_pictures(window: Window, decoded: Decoded) -> tuple[list[Tags], bool]:
    """Return the tags of the pictures below or behind the first IFD, and whether all of them were there."""
    offsets = decoded.tags.get(0x014A)
    if isinstance(offsets, tuple):
        pictures = read_pictures(window, decoded.block, tuple(int(offset or 0) for offset in offsets))
        return pictures, len(pictures) == len(offsets)
    chain: list[int] = []
    offset = decoded.block.first
    while len(chain) < _MOST_CHAINED:
        offset = ifd_after(window, decoded.block, offset)
        if not offset or offset in chain or offset == decoded.block.first:
            break
        chain.append(offset)
    pictures = read_pictures(window, decoded.block, tuple(chain))
    return pictures, len(pictures) == len(chain)


def _with_preview(window: Window, decoded: Decoded) -> tuple[Decoded, Tags]:
    """Add what an RW2's preview, a JPEG of its own, says; its size is the preview's and is left out."""
    place = decoded.tags.get(0x002E)
    if not isinstance(place, tuple) or not place[0]:
        return decoded, decoded.tags
    found = find_in_jpeg(window, int(place[0]))
    preview = decode(window, found.exif) if found.exif else None
    if preview is None or found.is_cut:
        decoded = decoded._replace(is_whole=False)
    if preview is None:
        return decoded, decoded.tags
    theirs = {tag: value for tag, value in preview.tags.items() if tag not in (0x0100, 0x0101, 0xA002, 0xA003, 0x8769)}
    is_whole = decoded.is_whole and preview.is_whole
    is_placed = decoded.is_placed and preview.is_placed
    noted = (preview if 0x927C in theirs else decoded)._replace(is_whole=is_whole, is_placed=is_placed)
    return noted, _filled(decoded.tags, theirs)


def _tiff_file(window: Window, decoded: Decoded) -> tuple[Decoded, Tags, dict[str, Any]]:
    """Return the block with the maker note, all tags, and format and size of a TIFF-based file."""
    noted, tags = _with_preview(window, decoded) if decoded.magic == "rw2" else (decoded, decoded.tags)
    if decoded.magic != "tiff":
        kind, (width, height) = decoded.magic, full_size(tags, [])
        return noted, tags, {"format": kind, "image_width_px": width, "image_height_px": height}
    if window.head[8:10] == b"CR":  # its sensor picture has no size among its tags; the first IFD may be a preview
        return noted, tags, {"format": "cr2", **_size_in_exif(tags)}
    pictures, are_all = _other_pictures(window, decoded)
    if not are_all:
        # The main picture may be among those that are cut off: the size cannot be told from the rest.
        noted = noted._replace(is_whole=False)
        return noted, tags, {"format": raw_format(tags, pictures), **_size_in_exif(tags)}
    width, height = full_size(tags, pictures)
    kind = raw_format(tags, pictures)
    return noted, tags, {"format": kind, "image_width_px": width, "image_height_px": height}


def _maker_note(window: Window, found: Found, noted: Decoded, tags: Tags) -> MakerNote:
    make = str(tags.get(0x010F) or "")
    if found.maker_note is not None:
        return read_maker_note(window, found.maker_note, noted.block, make, is_block=True)
    place = tags.get(0x927C)
    if not isinstance(place, tuple) or not place[0] or not place[1]:
        return NOTHING
    start = int(place[0])
    return read_maker_note(window, (start, start + int(place[1])), noted.block, make)


def _packet(window: Window, found: Found, tags: Tags) -> bytes:
    """Return the embedded XMP packet, empty where there is none."""
    where = found.xmp
    in_tiff = tags.get(0x02BC)
    if where is None and isinstance(in_tiff, tuple) and found.exif and found.exif[0] == 0:
        where = int(in_tiff[0] or 0), int(in_tiff[1] or 0)
    return window.take(*where) if where is not None and 0 < where[1] <= MOST_XMP_BYTES else b""


def _problem(found: Found, decoded: Decoded | None, window: Window) -> Problem | None:
    """Return why there is nothing or only a part, from what was found and how much of it was there."""
    if decoded is None:
        if found.format == "tiff":
            return Problem.NOT_READABLE_FORMAT if window.head[2:4] in (b"+\0", b"\0+") else Problem.NOT_A_PICTURE
        return found.problem or Problem.DAMAGED_EXIF
    if found.is_cut or (found.exif and found.exif[1] > window.size):
        return Problem.CUT_SHORT
    return None if decoded.is_whole and decoded.is_placed else Problem.DAMAGED_EXIF


def _size_in_exif(tags: Tags) -> dict[str, Any]:
    width, height = tags.get(0xA002), tags.get(0xA003)
    if isinstance(width, int) and isinstance(height, int) and width and height:
        return {"image_width_px": width, "image_height_px": height}
    return {}


def _decoded(window: Window, found: Found) -> tuple[Decoded | None, Tags, dict[str, Any]]:
    """Return the block that holds the maker note, all tags, and format and size where the tags tell them."""
    decoded = decode(window, found.exif) if found.exif else None
    if decoded is None:
        return None, {}, {}
    if found.format == "tiff":
        return _tiff_file(window, decoded)
    if found.format in _OWN_ORIENTATION:
        return decoded, {tag: value for tag, value in decoded.tags.items() if tag != 0x0112}, {}
    return _cr3_file(window, found, decoded) if found.exif_ifd else (decoded, decoded.tags, {})


def _cr3_file(window: Window, found: Found, decoded: Decoded) -> tuple[Decoded, Tags, dict[str, Any]]:
    """As `_decoded`, for a file that keeps its Exif and GPS directories in blocks of their own."""
    recognised = byte_order(window, *found.gps_ifd) if found.gps_ifd else None
    if recognised is not None:
        decoded = _placed(window, decoded._replace(block=recognised[0]), recognised[0].first)._replace(
            block=decoded.block
        )
    exif = decode(window, found.exif_ifd, "exif") if found.exif_ifd else None
    if exif is None:
        return decoded._replace(is_whole=False), decoded.tags, {}
    tags = _filled(decoded.tags, exif.tags)
    return decoded._replace(is_whole=decoded.is_whole and exif.is_whole), tags, _size_in_exif(tags)


def _from_maker_note(note: MakerNote, *, is_whole: bool) -> dict[str, Any]:
    fixed: dict[str, Any] = {
        "stabiliser_mode": note.stabiliser_mode,
        "drive_mode": note.drive_mode,
        "shutter_type": note.shutter_type,
    }
    if is_whole:  # else the Exif's own value may be what is cut off, and it may be another
        fixed["lens_model"] = named(note.lens_name)
        fixed["subject_distance_m"] = positive(note.focus_distance_m)
    return fixed


def read_picture(window: Window) -> Picture:
    """
    Read what is wanted of a picture's file.

    Returns
    -------
    Picture
        Decoded tags, and the columns that the container, the maker note and the embedded XMP give, the problem too.
    """
    found = find(window)
    decoded, tags, fixed = _decoded(window, found)
    problem = _problem(found, decoded, window)
    if problem is not None:
        if problem is Problem.NOT_A_PICTURE:
            return Picture({}, {"problem": problem.value})
        fixed["problem"] = problem.value
    fixed.setdefault("format", found.format)
    if found.width and found.height:
        fixed.update(image_width_px=found.width, image_height_px=found.height)
    packet = _packet(window, found, tags)
    fixed["orientation"] = found.orientation
    if packet:
        fixed["rating"] = rating(packet)
        if tags.get(0x8825) is None:
            fixed["place"] = place(packet)
    if decoded is not None:
        note = _maker_note(window, found, decoded, tags)
        is_whole = problem is None or (problem is Problem.DAMAGED_EXIF and decoded.is_whole)
        fixed.update(_from_maker_note(note, is_whole=is_whole))
    return Picture(tags, fixed)
