"""JPEG: its segments up to the picture data (ISO/IEC 10918-1 annex B; Exif and XMP in APP1, CIPA DC-008 4.5)."""

from __future__ import annotations

from auditor.readers.found import Found
from auditor.readers.problems import Problem
from auditor.readers.window import Window

__all__ = ["find_in_jpeg"]

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
    return Found("jpeg", exif, xmp, width or None, height or None, problem=problem, is_cut=not reached)
