"""Files made by hand, byte by byte, after the standards: TIFF blocks and the containers that hold them."""

from __future__ import annotations

import struct
from collections.abc import Sequence

Entry = tuple[int, int, object]
"""Tag, TIFF type, value: text for 2, ints for 1 3 4 7 9, (n, d) pairs for 5 and 10, floats for 11 and 12."""

_FORMS = {1: "B", 3: "H", 4: "I", 6: "b", 8: "h", 9: "i", 11: "f", 12: "d", 13: "I"}


def payload(order: str, kind: int, value: object) -> tuple[int, bytes]:
    """Return the count and the bytes of a value."""
    if kind in (2, 129):
        raw = value if isinstance(value, bytes) else str(value).encode() + b"\0"
        return len(raw), raw
    if kind == 7:
        assert isinstance(value, bytes)
        return len(value), value
    if kind in (5, 10):
        pairs = value if isinstance(value, list) else [value]
        form = "I" if kind == 5 else "i"
        return len(pairs), b"".join(struct.pack(f"{order}2{form}", *pair) for pair in pairs)
    numbers = value if isinstance(value, list) else [value]
    return len(numbers), struct.pack(f"{order}{len(numbers)}{_FORMS[kind]}", *numbers)


def ifd(order: str, at: int, entries: Sequence[Entry], following: int = 0) -> bytes:
    """Return an IFD that stands at an offset, its long values behind it."""
    behind = at + 2 + 12 * len(entries) + 4
    rows, values = b"", b""
    for tag, kind, value in sorted(entries, key=lambda entry: entry[0]):
        count, raw = payload(order, kind, value)
        if len(raw) <= 4:
            inline = raw.ljust(4, b"\0")
        else:
            inline = struct.pack(f"{order}I", behind + len(values))
            values += raw + b"\0" * (len(raw) & 1)
        rows += struct.pack(f"{order}HHI", tag, kind, count) + inline
    return struct.pack(f"{order}H", len(entries)) + rows + struct.pack(f"{order}I", following) + values


def tiff(
    order: str, first: Sequence[Entry], exif: Sequence[Entry] = (), magic: int = 42, gps: Sequence[Entry] = ()
) -> bytes:
    """Return a TIFF block with a first IFD, an Exif IFD and a GPS IFD; without entries neither is there."""
    below = [(tag, entries) for tag, entries in ((0x8769, exif), (0x8825, gps)) if entries]
    at = 8 + len(ifd(order, 8, [*first, *((tag, 4, 0) for tag, _ in below)]))
    pointers: list[Entry] = []
    directories = b""
    for tag, entries in below:
        pointers.append((tag, 4, at + len(directories)))
        directories += ifd(order, at + len(directories), entries)
    mark = (b"II" if order == "<" else b"MM") + struct.pack(f"{order}HI", magic, 8)
    return mark + ifd(order, 8, [*first, *pointers]) + directories


def segment(marker: int, content: bytes) -> bytes:
    return bytes([0xFF, marker]) + struct.pack(">H", len(content) + 2) + content


def frame_header(width: int, height: int) -> bytes:
    return segment(0xC0, struct.pack(">BHHB", 8, height, width, 1) + b"\1\x11\0")


PICTURE = segment(0xDA, b"\1\1\0\0\x3f\0") + b"\x11\x22" * 40 + b"\xff\xd9"


def jpeg(*segments: bytes, width: int = 4000, height: int = 3000) -> bytes:
    return b"\xff\xd8" + b"".join(segments) + frame_header(width, height) + PICTURE


def app1(block: bytes) -> bytes:
    return segment(0xE1, b"Exif\0\0" + block)


def xmp_packet(rating: object, prefix: str = "xmp") -> bytes:
    return (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        f'<rdf:Description rdf:about="" xmlns:{prefix}="http://ns.adobe.com/xap/1.0/" {prefix}:Rating="{rating}"/>'
        "</rdf:RDF></x:xmpmeta>"
    ).encode()


def app1_xmp(packet: bytes) -> bytes:
    return segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + packet)


def box(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I4s", len(content) + 8, kind) + content


def full_box(kind: bytes, content: bytes, version: int = 0, flags: int = 0) -> bytes:
    return box(kind, struct.pack(">I", version << 24 | flags) + content)


def heif(
    blocks: Sequence[tuple[int, bytes]],
    *,
    brand: bytes = b"heic",
    primary: int = 1,
    describes: Sequence[tuple[int, int]] = (),
    properties: Sequence[bytes] = (),
    base_offset: bool = False,
) -> bytes:
    """
    Return an HEIF file: a primary picture item, and Exif items with their numbers and TIFF blocks.

    `describes`: cdsc references, from an item to an item. `base_offset`: iloc holds the file offset as base.
    """
    ftyp = box(b"ftyp", brand + b"\0\0\0\0" + b"mif1" + brand)
    infos = full_box(b"infe", struct.pack(">HH4s", primary, 0, b"hvc1") + b"\0", 2)
    for item, _ in blocks:
        infos += full_box(b"infe", struct.pack(">HH4s", item, 0, b"Exif") + b"\0", 2)
    iinf = full_box(b"iinf", struct.pack(">H", 1 + len(blocks)) + infos)
    pitm = full_box(b"pitm", struct.pack(">H", primary))
    iref = full_box(b"iref", b"".join(box(b"cdsc", struct.pack(">HHH", of, 1, to)) for of, to in describes))
    owned = bytes(range(1, len(properties) + 1))
    iprp = box(
        b"iprp",
        box(b"ipco", b"".join(properties)) + full_box(b"ipma", struct.pack(">IHB", 1, primary, len(owned)) + owned),
    )
    contents = [struct.pack(">I", 6) + b"Exif\0\0" + block for _, block in blocks]

    def meta(start: int) -> bytes:
        rows = b""
        for (item, _), content in zip(blocks, contents, strict=True):
            base, offset = (start, 0) if base_offset else (0, start)
            rows += struct.pack(">HHIHII", item, 0, base, 1, offset, len(content))
            start += len(content)
        iloc = full_box(b"iloc", struct.pack(">HH", 0x4440, len(blocks)) + rows)
        return full_box(b"meta", pitm + iinf + iref + iprp + iloc)

    start = len(ftyp) + len(meta(0)) + 8
    return ftyp + meta(start) + box(b"mdat", b"".join(contents))


def ispe(width: int, height: int) -> bytes:
    return full_box(b"ispe", struct.pack(">II", width, height))


CR3_UUID = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")


def cr3(first: bytes, exif: bytes, note: bytes, gps: bytes = b"") -> bytes:
    blocks = box(b"CMT1", first) + box(b"CMT2", exif) + box(b"CMT3", note) + (box(b"CMT4", gps) if gps else b"")
    moov = box(b"moov", box(b"uuid", CR3_UUID + blocks))
    return box(b"ftyp", b"crx \0\0\0\1crx isom") + moov + box(b"mdat", b"\0" * 64)


def raf(inner: bytes, width: int, height: int) -> bytes:
    directory = struct.pack(">I", 1) + struct.pack(">HHHH", 0x0111, 4, height, width)
    head = b"FUJIFILMCCD-RAW 0201FF000000Invented".ljust(84, b"\0")
    at = 160
    return (
        (head + struct.pack(">IIII", at, len(inner), at + len(inner), len(directory))).ljust(at, b"\0")
        + inner
        + directory
    )


def png(*chunks: tuple[bytes, bytes], width: int = 30, height: int = 20) -> bytes:
    header = (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(content)) + kind + content + b"\0\0\0\0"
        for kind, content in (header, *chunks, (b"IEND", b""))
    )


def webp(*chunks: tuple[bytes, bytes]) -> bytes:
    body = b"WEBP" + b"".join(
        kind + struct.pack("<I", len(content)) + content + b"\0" * (len(content) & 1) for kind, content in chunks
    )
    return b"RIFF" + struct.pack("<I", len(body)) + body


MAKE, MODEL = (0x010F, 2, "Silverline"), (0x0110, 2, "Silverline 2")
EXPOSURE: list[Entry] = [
    (0x829A, 5, (1, 250)),
    (0x829D, 5, (28, 10)),
    (0x8827, 3, 200),
    (0x9003, 2, "2026:05:02 14:20:31"),
    (0x9011, 2, "+02:00"),
    (0x9291, 2, "25"),
    (0x9205, 5, (97, 32)),
    (0x9206, 5, (250, 100)),
    (0x9209, 3, 1),
    (0x920A, 5, (50, 1)),
    (0xA405, 3, 100),
    (0xA431, 2, "BX00417"),
    (0xA432, 5, [(50, 1), (50, 1), (14, 10), (0, 0)]),
    (0xA433, 2, "Orla"),
    (0xA434, 2, "Orla 50 mm f/1.4"),
    (0xA435, 2, "L0093"),
]
"""An exposure: 1/250 s at f/2.8, ISO 200, 50 mm, 2.5 m, with flash, 2 May 2026 14:20:31.25 at two hours from UTC."""


AT_SEA: list[Entry] = [
    (0x0000, 1, [2, 3, 0, 0]),
    (0x0001, 2, "N"),
    (0x0002, 5, [(46, 1), (12, 1), (3456, 100)]),
    (0x0003, 2, "W"),
    (0x0004, 5, [(11, 1), (37, 1), (5, 1)]),
    (0x0009, 2, "A"),
]
"""46° 12' 34.56" N 11° 37' 5" W, in the open Atlantic."""


def exposure_block(
    order: str = "<",
    extra: Sequence[Entry] = (),
    first: Sequence[Entry] = (),
    magic: int = 42,
    gps: Sequence[Entry] = (),
) -> bytes:
    return tiff(order, [MAKE, MODEL, (0x0112, 3, 6), *first], [*EXPOSURE, *extra], magic, gps)
