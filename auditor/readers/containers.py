"""
What a file is, by its content, and where in it the Exif, the XMP and the picture's size are.

Sources: JPEG ISO/IEC 10918-1 annex B and Exif (CIPA DC-008) 4.5; PNG third edition (eXIf, iTXt); the WebP container
specification; JPEG XL ISO/IEC 18181-1 annex D and 18181-2; for RAF, CR3 and MRW, whose makers publish nothing, the
layouts that public descriptions agree on, held to libexiv2 by the tests.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from typing import NamedTuple

from auditor.readers.boxes import boxes, oriented, read_items
from auditor.readers.problems import Problem
from auditor.readers.window import Window

__all__ = ["Found", "find", "find_in_jpeg", "raf_size"]


class Found(NamedTuple):
    """
    What was found in a file.

    Attributes
    ----------
    format : str
        File format by content; empty when it is none that is known.
    exif : (int, int) or None
        Where the TIFF block starts and must end. [byte]
    xmp : (int, int) or None
        Where the XMP packet is and how long. [byte]
    width, height : int or None
        Of the full picture before rotation. [px]
    orientation : int or None
        Where the container governs it, and not Exif.
    exif_ifd, maker_note : (int, int) or None
        Blocks that CR3 keeps apart.
    problem : Problem or None
        Why there is no Exif.
    """

    format: str
    exif: tuple[int, int] | None = None
    xmp: tuple[int, int] | None = None
    width: int | None = None
    height: int | None = None
    orientation: int | None = None
    exif_ifd: tuple[int, int] | None = None
    maker_note: tuple[int, int] | None = None
    problem: Problem | None = None


_MOST_SEGMENTS = 256
_XMP_MARK = b"http://ns.adobe.com/xap/1.0/\0"
_FRAME_HEADERS = frozenset({*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC})
_STEPS = {0x01: 2, **dict.fromkeys(range(0xD0, 0xD8), 2), 0xFF: 1, 0xD9: 0, 0xDA: 0}
"""How far the next marker is from one without content (0xFF: a fill byte); 0: the picture's data or its end."""
_TELLING = _FRAME_HEADERS | {0xE1}


def _app1(window: Window, at: int, end: int) -> str:
    """Tell what an APP1 segment holds: exif, xmp, or something else."""
    if window.take(at, 6) == b"Exif\0\0":
        return "exif"
    return "xmp" if end <= window.size and window.upto(at, 29) == _XMP_MARK else ""


def _telling_segments(window: Window, start: int) -> tuple[list[tuple[int, int, int]], bool]:
    """Return APP1 and frame header segments as (marker, content start, end), and whether the picture was reached."""
    head, at = window.head, start + 2
    found: list[tuple[int, int, int]] = []
    for _ in range(_MOST_SEGMENTS):
        mark = head[at : at + 4]
        if len(mark) != 4:
            mark = window.take(at, 4)
        if len(mark) != 4 or mark[0] != 0xFF:
            return found, False
        marker = mark[1]
        step = _STEPS.get(marker)
        if step is None:
            step = 2 + max(2, mark[2] << 8 | mark[3])
            if marker in _TELLING:
                found.append((marker, at + 4, at + step))
        elif step == 0:
            return found, True
        at += step
    return found, False


def find_in_jpeg(window: Window, start: int = 0) -> Found:
    """Find Exif, XMP and the size in a JPEG that starts at an offset; the Exif may be in any of its segments."""
    segments, reached = _telling_segments(window, start)
    exif = xmp = width = height = None
    for marker, at, end in segments:
        if marker != 0xE1:
            size = window.take(at + 1, 4)
            height, width = (size[0] << 8 | size[1], size[2] << 8 | size[3]) if len(size) == 4 else (None, None)
            continue
        holds = _app1(window, at, end)
        if holds == "exif" and exif is None:
            exif = (at + 6, end)
        elif holds == "xmp" and xmp is None:
            xmp = (at + 29, end - at - 29)
    problem = None
    if exif is None:
        problem = Problem.NO_EXIF if reached or width else Problem.DAMAGED_CONTAINER
    return Found("jpeg", exif, xmp, width or None, height or None, problem=problem)


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
    return Found(kind, exif, xmp, width, height, orientation, problem=problem)


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
    return Found("cr3", exif, xmp, exif_ifd=blocks.get(b"CMT2"), maker_note=blocks.get(b"CMT3"), problem=problem)


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


class _Bits:
    """JPEG XL's bit order: the lowest bit of each byte first."""

    def __init__(self, raw: bytes) -> None:
        self._bits = int.from_bytes(raw, "little")

    def take(self, count: int) -> int:
        value = self._bits & ((1 << count) - 1)
        self._bits >>= count
        return value


_JXL_RATIOS = ((1, 1), (12, 10), (4, 3), (3, 2), (16, 9), (5, 4), (2, 1))


def _jxl_size(raw: bytes) -> tuple[int | None, int | None, int | None]:
    """Return width, height and orientation from the head of a JPEG XL codestream (18181-1, D.2 and D.3)."""
    if len(raw) < 16 or raw[:2] != b"\xff\x0a":
        return None, None, None
    bits = _Bits(raw[2:])
    small = bits.take(1)

    def side() -> int:
        return 8 * (1 + bits.take(5)) if small else 1 + bits.take((9, 13, 18, 30)[bits.take(2)])

    height = side()
    ratio = bits.take(3)
    width = height * _JXL_RATIOS[ratio - 1][0] // _JXL_RATIOS[ratio - 1][1] if ratio else side()
    all_default = bits.take(1)
    extra_fields = 0 if all_default else bits.take(1)
    return width, height, 1 + bits.take(3) if extra_fields else 1


def _in_jxl(window: Window) -> Found:
    if window.head[:2] == b"\xff\x0a":
        return Found("jxl", None, None, *_jxl_size(window.head[:32]), problem=Problem.NO_EXIF)
    exif = xmp = None
    size: tuple[int | None, int | None, int | None] = (None, None, None)
    problem = Problem.NO_EXIF
    for kind, start, end in boxes(window, 0, window.size):
        if kind == b"Exif":
            exif = (start + 4 + int.from_bytes(window.take(start, 4), "big"), end)
        elif kind == b"xml ":
            xmp = (start, end - start)
        elif kind == b"brob" and window.take(start, 4) == b"Exif":
            problem = Problem.COMPRESSED_EXIF
        elif kind == b"jxlc":
            size = _jxl_size(window.upto(start, 32))
        elif kind == b"jxlp" and size[0] is None:
            size = _jxl_size(window.upto(start + 4, 32))
    return Found("jxl", exif, xmp, *size, problem=None if exif else problem)


def _in_png(window: Window) -> Found:
    exif = xmp = width = height = None
    at = 8
    ended = False
    for _ in range(_MOST_SEGMENTS):
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
    return Found("png", exif, xmp, width or None, height or None, problem=problem)


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
    for _ in range(_MOST_SEGMENTS):
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
    return Found("webp", exif, xmp, *size, problem=None if exif else Problem.NO_EXIF)


def raf_size(window: Window) -> tuple[int | None, int | None]:
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
    width, height = raf_size(window)
    if not at or window.take(at, 2) != b"\xff\xd8":
        return Found("raf", width=width, height=height, problem=Problem.DAMAGED_CONTAINER)
    return find_in_jpeg(window, at)._replace(format="raf", width=width, height=height)


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
