"""Damage for files, and what a reader may make of it; the benchmark script runs the same at full size."""

from __future__ import annotations

import random
import struct
import time
from collections.abc import Iterator

from auditor.readers.picture import read_picture
from auditor.readers.records import Record, record
from auditor.readers.window import HEAD_BYTES, Window
from tests.readers import making

LONGEST_CPU_S = 0.2
FREE = {"path", "size", "mtime_ns", "format", "problem"}


def read(content: bytes) -> tuple[Record, float]:
    """Return the row of a content, with nothing caught, and the CPU time it took. [s]."""

    def read_at(offset: int, length: int) -> bytes:
        return content[offset : offset + length]

    started = time.process_time()
    picture = read_picture(Window(content[:HEAD_BYTES], len(content), read_at))
    row = record(("a", len(content), 0), picture.tags, picture.fixed)
    return row, time.process_time() - started


def invented(whole: Record, part: Record) -> dict[str, tuple[object, object]]:
    """Return what a part of a file says that the whole does not; a time may lose its fraction of a second."""
    wrong = {}
    for name, value in part._asdict().items():
        full = getattr(whole, name)
        if name in FREE or value is None or value == full:
            continue
        if name == "captured_at" and isinstance(full, int) and value // 1_000_000 == full // 1_000_000:
            continue
        wrong[name] = (value, full)
    return wrong


def prefixes(content: bytes, count: int) -> Iterator[bytes]:
    """Yield a content cut at every length of its first kilobyte in steps, then further on."""
    near = min(len(content), 8192)
    lengths = {round(number * near / (count * 0.8)) for number in range(round(count * 0.8))}
    lengths |= {round(number * len(content) / (count * 0.2 + 1)) for number in range(round(count * 0.2))}
    for length in sorted(lengths):
        yield content[:length]


def flipped(content: bytes, count: int, seed: int) -> Iterator[bytes]:
    """Yield copies with one to twelve bytes of the first part changed."""
    dice = random.Random(seed)  # noqa: S311
    reach = min(len(content), 6000)
    for _ in range(count):
        copy = bytearray(content)
        for _ in range(dice.randint(1, 12)):
            copy[dice.randrange(reach)] = dice.choice((0, 0xFF, 0x7F, 0x80, dice.randrange(256)))
        yield bytes(copy)


def _entry(tag: int, kind: int, count: int, value: int, order: str = "<") -> bytes:
    return struct.pack(f"{order}HHII", tag, kind, count, value)


def _block(entries: bytes, following: int = 0) -> bytes:
    return b"II*\0\x08\0\0\0" + struct.pack("<H", len(entries) // 12) + entries + struct.pack("<I", following)


def bombs() -> dict[str, bytes]:
    """Return files that are made to hang a reader, to eat its memory, or to make it raise."""
    in_jpeg = {
        "note of 4 GB": _block(_entry(0x8769, 4, 1, 26)) + b"\1\0" + _entry(0x927C, 7, 0xFFFFFFFF, 8),
        "first IFD is the Exif IFD": _block(_entry(0x8769, 4, 1, 8)),
        "IFD after itself": _block(_entry(0x0112, 3, 1, 1), 8),
        "sub-IFDs that are the first": _block(_entry(0x014A, 4, 1, 8)),
        "65535 sub-IFDs": _block(_entry(0x014A, 4, 65535, 8)),
        "65535 entries claimed": b"II*\0\x08\0\0\0\xff\xff",
        "first IFD beyond the end": b"II*\0\xff\xff\xff\x7f",
        "first IFD in the header": b"II*\0\x02\0\0\0" + bytes(20),
        "first IFD at 0": b"II*\0\0\0\0\0" + bytes(20),
        "pointer as text": _block(_entry(0x8769, 2, 9, 8)),
        "pointer as a ratio": _block(_entry(0x8769, 5, 1, 8)),
        "pointer that is negative": _block(_entry(0x8769, 9, 1, 0xFFFFFFF8)),
        "text of 4 GB": _block(_entry(0x010F, 2, 0xFFFFFFFF, 8)),
        "text of no length": _block(_entry(0x010F, 2, 0, 8)),
        "type 0": _block(_entry(0x010F, 0, 5, 8)),
        "type 65535": _block(_entry(0x010F, 65535, 5, 8)),
        "ratio over zero": _block(_entry(0x829A, 5, 1, 26)) + bytes(8),
        "ratio at the very end": _block(_entry(0x829A, 5, 1, 22)),
        "ratios without number": _block(_entry(0xA432, 5, 0x20000000, 8)),
        "integer of 1000 elements": _block(_entry(0x0112, 3, 1000, 8)),
        "floats that are no numbers": _block(_entry(0x829A, 12, 1, 26)) + b"\0\0\0\0\0\0\xf8\x7f",
        "infinite float": _block(_entry(0x829A, 11, 1, 0x7F800000)),
        "date of month 0": making.tiff("<", [making.MAKE], [(0x9003, 2, "2026:00:00 00:00:00")]),
        "date of letters": making.tiff("<", [making.MAKE], [(0x9003, 2, "abcd:ef:gh ij:kl:mn")]),
        "date with an offset in it": making.tiff("<", [making.MAKE], [(0x9003, 2, "2026:05:02 12:30+01")]),
        "date of other digits": making.tiff("<", [making.MAKE], [(0x9003, 2, "٢٠٢٦:٠٥:٠٢ ١٢:٣٠:٠٠")]),
        "second 60": making.tiff("<", [making.MAKE], [(0x9003, 2, "2026:12:31 23:59:60")]),
        "fraction of letters": making.tiff("<", [making.MAKE], [(0x9003, 2, "2026:05:02 12:30:00"), (0x9291, 2, "x")]),
        "note of each maker, empty": making.tiff("<", [(0x010F, 2, "NIKON")], [(0x927C, 7, b"Nikon\0\2\0\0\0")]),
        "note whose header lies": making.tiff(
            "<", [(0x010F, 2, "NIKON")], [(0x927C, 7, b"Nikon\0\2\0\0\0II*\0" + b"\xff" * 8)]
        ),
        "note with an offset to nowhere": making.tiff(
            "<", [(0x010F, 2, "FUJIFILM")], [(0x927C, 7, b"FUJIFILM\xff\xff\xff\xff")]
        ),
        "GPS that is the first IFD": _block(_entry(0x8825, 4, 1, 8)),
        "GPS in the header": _block(_entry(0x8825, 4, 1, 2)),
        "GPS beyond the end": _block(_entry(0x8825, 4, 1, 0x7FFFFFFF)),
        "GPS pointer as text": _block(_entry(0x8825, 2, 9, 8)),
        "GPS pointer that is negative": _block(_entry(0x8825, 9, 1, 0xFFFFFFF8)),
        "GPS of 65535 entries": _block(_entry(0x8825, 4, 1, 26)) + b"\xff\xff" + _entry(2, 5, 3, 8) * 5000,
        "GPS of 4 billion numbers": _block(_entry(0x8825, 4, 1, 26)) + b"\1\0" + _entry(2, 5, 0xFFFFFFFF, 8),
        "GPS over and over": _block(_entry(0x8825, 4, 1, 26)) + b"\0\2" + _entry(2, 5, 3, 26) * 512,
        "GPS of numbers that are none": making.tiff(
            "<", [making.MAKE], gps=[(2, 12, [float("nan")] * 3), (4, 11, 1e38)]
        ),
        "orders mixed": b"IM*\0\x08\0\0\0" + bytes(20),
        "big TIFF": b"II+\0\x08\0\0\0" + bytes(20),
    }
    shorts = b"".join(_entry(0x9000 + number % 99, 3, 999, 8) for number in range(512))
    wide = b"II*\0\x08\0\0\0" + struct.pack("<H", 65535) + shorts * 128
    texts = _block(_entry(0x010F, 2, 4 << 20, 8) * 500) + b"A" * (4 << 20)
    chunk = struct.pack(">I4s", 0xFFFFFFFF, b"eXIf")
    whole = {
        "65535 entries of 999 shorts": wide,
        "500 texts on the same 4 MB": texts,
        "JPEG: start only": b"\xff\xd8",
        "JPEG: segment of length 0": b"\xff\xd8\xff\xe0\0\0" + bytes(100),
        "JPEG: segment of length 1, for ever": b"\xff\xd8" + b"\xff\xe1\0\1" * 50_000,
        "JPEG: nothing but fill bytes": b"\xff\xd8" + b"\xff" * 200_000,
        "JPEG: segments beyond the first 64 KiB, each a read": b"\xff\xd8" + (b"\xff\xe2\xff\xff" + bytes(0xFFFD)) * 70,
        "JPEG: frame header cut": b"\xff\xd8\xff\xc0\0\x11\x08\x10",
        "JPEG: XMP that claims the rest": b"\xff\xd8\xff\xe1\xff\xffhttp://ns.adobe.com/xap/1.0/\0<x",
        "XMP: entities within entities": making.jpeg(
            making.app1_xmp(
                b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]><x:xmpmeta xmlns:x="adobe:ns:meta/">'
                b'<xmp:Rating xmlns:xmp="http://ns.adobe.com/xap/1.0/">&b;</xmp:Rating></x:xmpmeta>'
            )
        ),
        "XMP: 30,000 elements deep": making.jpeg(making.app1_xmp(b"<a:Rating>" * 6000)),
        "HEIF: box of 64 bits that is empty": making.box(b"ftyp", b"heic\0\0\0\0heic")
        + struct.pack(">I4sQ", 1, b"meta", 0),
        "HEIF: box of 2^63": making.box(b"ftyp", b"heic\0\0\0\0heic") + struct.pack(">I4sQ", 1, b"meta", 1 << 63),
        "HEIF: box to the end": making.box(b"ftyp", b"heic\0\0\0\0heic") + struct.pack(">I4s", 0, b"meta"),
        "HEIF: no boxes": making.box(b"ftyp", b"heic\0\0\0\0heic"),
        "HEIF: 65535 empty boxes": making.box(b"ftyp", b"heic\0\0\0\0heic") + struct.pack(">I4s", 8, b"free") * 65_535,
        "HEIF: 4 billion items": making.box(b"ftyp", b"heic\0\0\0\0heic")
        + making.full_box(
            b"meta", making.full_box(b"iinf", b"\xff\xff\xff\xff", 1) + making.full_box(b"iloc", b"\x44\x40\xff\xff")
        ),
        "HEIF: extents without end": making.box(b"ftyp", b"heic\0\0\0\0heic")
        + making.full_box(b"meta", making.full_box(b"iloc", b"\0\0\0\1\0\1\0\0\xff\xff" * 2000)),
        "HEIF: orientation of a property that is not there": making.heif([(2, making.exposure_block())], properties=[]),
        "CR3: blocks that are empty": making.cr3(b"", b"", b""),
        "RAF: JPEG beyond the end": b"FUJIFILMCCD-RAW ".ljust(84, b"\0") + b"\x7f\xff\xff\xff" * 4,
        "RAF: JPEG that is the file": b"FUJIFILMCCD-RAW ".ljust(84, b"\0") + b"\0\0\0\0" * 4,
        "PNG: chunk of 4 GB": b"\x89PNG\r\n\x1a\n" + chunk,
        "PNG: 65535 chunks": b"\x89PNG\r\n\x1a\n" + (struct.pack(">I", 0) + b"\xe9\xe9\xe9\xe9" + bytes(4)) * 65_535,
        "WebP: chunk of 4 GB": b"RIFF\xff\xff\xff\xffWEBPEXIF\xff\xff\xff\xff",
        "JPEG XL: Exif of no length": b"\0\0\0\x0cJXL \r\n\x87\n" + making.box(b"Exif", b""),
        "JPEG XL: size of zeros": b"\xff\x0a" + bytes(60),
        "MRW: blocks without end": b"\0MRM\xff\xff\xff\xff" + (b"\0XXX" + bytes(4)) * 2000,
        "RW2: its preview is itself": making.tiff("<", [(0x002E, 7, b"\xff\xd8" + bytes(40))], magic=0x55),
        "nothing at all": b"",
        "zeros": bytes(100_000),
    }
    return {f"{name}, in a JPEG": making.jpeg(making.app1(block)) for name, block in in_jpeg.items()} | in_jpeg | whole
