"""
What a file is, by its content, and where in it the Exif, the XMP and the picture's size are.

Sources: PNG third edition (eXIf, iTXt); the WebP container
specification; JPEG XL ISO/IEC 18181-2; for RAF, CR3 and MRW, whose makers publish nothing, the
layouts that public descriptions agree on, held to libexiv2 by the tests.
"""

from __future__ import annotations

import struct
from collections.abc import Callable

from auditor.readers.boxes import boxes, is_cut, oriented, read_items
from auditor.readers.found import Found
from auditor.readers.jpeg import find_in_jpeg
from auditor.readers.jxl import jxl_size
from auditor.readers.problems import Problem
from auditor.readers.window import Window

__all__ = ["find"]


_MOST_CHUNKS = 256


def _in_items(window: Window, kind: str, start: int, end: int) -> Found:
    items = read_items(window, start, end)
    width, height, orientation = oriented(window, items)
    exif = xmp = None
    exif_item = items.of_kind(b"Exif")
    if exif_item is not None and items.places[exif_item]:
        at, length = items.places[exif_item][0]
        skip = window.take(at, 4)
        if len(skip) == 4:
            begin = at + 4 + int.from_bytes(skip, "big")
            exif = (begin, at + length) if begin + 8 <= min(at + length, window.size) else None
    xmp_item = items.of_kind(b"mime")
    if xmp_item is not None and items.places[xmp_item]:
        xmp = items.places[xmp_item][0]
    problem = None
    if exif is None:
        problem = Problem.NO_EXIF if exif_item is None and items.kinds else Problem.DAMAGED_CONTAINER
    return Found(kind, exif, xmp, width, height, orientation, problem=problem, is_cut=is_cut(window))


_CR3_BLOCKS = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")
_CR3_XMP = bytes.fromhex("be7acfcb97a942e89c71999491e3afac")


def _in_cr3(window: Window) -> Found:
    blocks: dict[bytes, tuple[int, int]] = {}
    xmp = None
    for kind, start, end in boxes(window, 0, window.size):
        if kind == b"moov":
            for inner, inside, stop in boxes(window, start, end):
                if inner == b"uuid" and window.take(inside, 16) == _CR3_BLOCKS:
                    blocks.update({name: (at, to) for name, at, to in boxes(window, inside + 16, stop)})
        elif kind == b"uuid" and window.take(start, 16) == _CR3_XMP:
            xmp = (start + 16, end - start - 16)
    exif = blocks.get(b"CMT1")
    problem = None if exif else Problem.DAMAGED_CONTAINER
    return Found(
        "cr3",
        exif,
        xmp,
        exif_ifd=blocks.get(b"CMT2"),
        gps_ifd=blocks.get(b"CMT4"),
        maker_note=blocks.get(b"CMT3"),
        problem=problem,
        is_cut=is_cut(window),
    )


_HEIF_BRANDS = {
    **dict.fromkeys((b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1", b"mif2"), "heif"),
    **dict.fromkeys((b"avif", b"avis"), "avif"),
    b"crx ": "cr3",
}


def _in_boxes(window: Window) -> Found:
    size = min(int.from_bytes(window.head[:4], "big"), 256)
    brands = [window.head[8:12], *(window.head[at : at + 4] for at in range(16, size, 4))]
    kinds = [_HEIF_BRANDS[brand] for brand in brands if brand in _HEIF_BRANDS]
    if not kinds:
        return Found("", problem=Problem.NOT_A_PICTURE)
    kind = "avif" if "avif" in kinds and brands[0] not in (b"heic", b"heix") else kinds[0]
    if kind == "cr3":
        return _in_cr3(window)
    for name, start, end in boxes(window, 0, window.size):
        if name == b"meta":
            return _in_items(window, kind, start, end)
    return Found(kind, problem=Problem.DAMAGED_CONTAINER)


def _in_jxl(window: Window) -> Found:
    if window.head[:2] == b"\xff\x0a":
        return Found("jxl", None, None, *jxl_size(window.head[:32]), problem=Problem.NO_EXIF)
    first: dict[bytes, tuple[int, int]] = {}
    for kind, start, end in boxes(window, 0, window.size):
        first.setdefault(b"brob Exif" if kind == b"brob" and window.take(start, 4) == b"Exif" else kind, (start, end))
    exif = xmp = None
    if b"Exif" in first:
        start, end = first[b"Exif"]
        exif = (start + 4 + int.from_bytes(window.take(start, 4), "big"), end)
    if b"xml " in first:
        xmp = (first[b"xml "][0], first[b"xml "][1] - first[b"xml "][0])
    stream = first[b"jxlc"][0] if b"jxlc" in first else first[b"jxlp"][0] + 4 if b"jxlp" in first else None
    size = (None, None, None) if stream is None else jxl_size(window.upto(stream, 32))
    problem = Problem.COMPRESSED_EXIF if b"brob Exif" in first else Problem.NO_EXIF
    cut = stream is None or is_cut(window)
    return Found("jxl", exif, xmp, *size, problem=None if exif else problem, is_cut=cut)


def _in_png(window: Window) -> Found:
    exif = xmp = width = height = None
    at = 8
    ended = False
    for _ in range(_MOST_CHUNKS):
        head = window.take(at, 8)
        if len(head) != 8:
            break
        length, kind = struct.unpack(">I4s", head)
        if kind == b"IHDR":
            width, height = struct.unpack(">II", window.take(at + 8, 8) or bytes(8))
        elif kind == b"eXIf":
            exif = (at + 8, at + 8 + length)
        elif kind == b"iTXt" and window.take(at + 8, 22) == b"XML:com.adobe.xmp\0\0\0\0\0":
            xmp = (at + 30, length - 22)
        elif kind == b"IEND":
            ended = True
            break
        at += 12 + length
    problem = None if exif else Problem.NO_EXIF if ended else Problem.DAMAGED_CONTAINER
    return Found("png", exif, xmp, width or None, height or None, problem=problem, is_cut=not ended)


def _webp_size(window: Window, kind: bytes, at: int) -> tuple[int, int] | None:
    raw = window.upto(at, 10)
    if len(raw) != 10:
        return None
    if kind == b"VP8X":
        return 1 + int.from_bytes(raw[4:7], "little"), 1 + int.from_bytes(raw[7:10], "little")
    if kind == b"VP8L" and raw[0] == 0x2F:
        packed = int.from_bytes(raw[1:5], "little")
        return 1 + (packed & 0x3FFF), 1 + (packed >> 14 & 0x3FFF)
    if kind == b"VP8 " and raw[3:6] == b"\x9d\x01\x2a":
        return int.from_bytes(raw[6:8], "little") & 0x3FFF, int.from_bytes(raw[8:10], "little") & 0x3FFF
    return None


def _in_webp(window: Window) -> Found:
    exif = xmp = None
    size: tuple[int | None, int | None] = (None, None)
    at = 12
    for _ in range(_MOST_CHUNKS):
        head = window.take(at, 8)
        if len(head) != 8:
            break
        kind, length = struct.unpack("<4sI", head)
        if kind == b"EXIF":
            prefix = 6 if window.take(at + 8, 6) == b"Exif\0\0" else 0
            exif = (at + 8 + prefix, at + 8 + length)
        elif kind == b"XMP ":
            xmp = (at + 8, length)
        elif size[0] is None:
            size = _webp_size(window, kind, at + 8) or size
        at += 8 + length + (length & 1)
    cut = int.from_bytes(window.head[4:8], "little") + 8 > window.size
    return Found("webp", exif, xmp, *size, problem=None if exif else Problem.NO_EXIF, is_cut=cut)


def _raf_size(window: Window) -> tuple[int | None, int | None]:
    """Return width and height of the picture that a RAF file holds, from its directory of sensor data."""
    at = int.from_bytes(window.take(92, 4), "big")
    count = int.from_bytes(window.take(at, 4), "big") if at else 0
    at += 4
    for _ in range(min(count, 256)):
        head = window.take(at, 4)
        if len(head) != 4:
            break
        tag, length = struct.unpack(">HH", head)
        if tag == 0x0111 and length == 4:
            height, width = struct.unpack(">HH", window.take(at + 4, 4) or bytes(4))
            return width or None, height or None
        at += 4 + length
    return None, None


def _in_raf(window: Window) -> Found:
    at = int.from_bytes(window.take(84, 4), "big")
    width, height = _raf_size(window)
    if not at or window.take(at, 2) != b"\xff\xd8":
        return Found("raf", width=width, height=height, problem=Problem.DAMAGED_CONTAINER)
    found = find_in_jpeg(window, at)
    return found._replace(format="raf", width=width, height=height, is_cut=found.is_cut or width is None)


def _in_mrw(window: Window) -> Found:
    at, end = 8, 8 + int.from_bytes(window.take(4, 4), "big")
    for _ in range(16):
        head = window.take(at, 8)
        if len(head) != 8 or at >= end:
            break
        length = int.from_bytes(head[4:], "big")
        if head[:4] == b"\0TTW":
            return Found("mrw", (at + 8, at + 8 + length))
        at += 8 + length
    return Found("mrw", problem=Problem.DAMAGED_CONTAINER)


def _in_tiff(window: Window) -> Found:
    return Found("tiff", (0, window.size))


def _unreadable(kind: str) -> Callable[[Window], Found]:
    return lambda _window: Found(kind, problem=Problem.NOT_READABLE_FORMAT)


_MARKS: tuple[tuple[int, bytes, Callable[[Window], Found]], ...] = (
    (0, b"\xff\xd8", find_in_jpeg),
    (6, b"HEAPCCDR", _unreadable("crw")),
    (0, b"II", _in_tiff),
    (0, b"MM", _in_tiff),
    (4, b"ftyp", _in_boxes),
    (0, b"FUJIFILMCCD-RAW ", _in_raf),
    (0, b"\x89PNG\r\n\x1a\n", _in_png),
    (0, b"\xff\x0a", _in_jxl),
    (0, b"\0\0\0\x0cJXL \r\n\x87\n", _in_jxl),
    (8, b"WEBP", _in_webp),
    (0, b"\0MRM", _in_mrw),
    (0, b"FOVb", _unreadable("x3f")),
)


def find(window: Window) -> Found:
    """
    Recognise a file by its content and find what is wanted in it.

    Examples
    --------
    >>> find(Window(b"just words", 10, lambda offset, length: b"")).problem.value
    'the content is not a picture in a known format'
    """
    head = window.head
    for at, mark, look in _MARKS:
        if head[at : at + len(mark)] == mark:
            return look(window)
    return Found("", problem=Problem.NOT_A_PICTURE if head else Problem.EMPTY)
