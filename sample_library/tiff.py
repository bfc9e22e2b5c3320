"""A small TIFF writer: enough for an Exif block and a raw file, with values no library would let us write."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

__all__ = ["Directory", "Field", "ascii_field", "numbers", "rationals", "tiff_bytes", "undefined"]

BYTE, ASCII, SHORT, LONG, RATIONAL, UNDEFINED = 1, 2, 3, 4, 5, 7
_CODES = {BYTE: "B", SHORT: "H", LONG: "L", RATIONAL: "L"}
STRIP_OFFSETS = 0x0111


@dataclass(frozen=True)
class Field:
    """One entry of a directory: its tag, TIFF type, and numbers (two a rational) or bytes."""

    tag: int
    kind: int
    values: bytes | tuple[int, ...]

    @property
    def count(self) -> int:
        """How many values of its type it holds."""
        return len(self.values) // 2 if self.kind == RATIONAL else len(self.values)

    def encoded(self, order: str) -> bytes:
        """Return the values as bytes in a byte order, ``<`` or ``>``."""
        if isinstance(self.values, bytes):
            return self.values
        return struct.pack(f"{order}{len(self.values)}{_CODES[self.kind]}", *self.values)


@dataclass(frozen=True)
class Directory:
    """A directory of fields, the directories that some of its tags point to, and its picture strip."""

    fields: tuple[Field, ...]
    below: dict[int, Directory] = field(default_factory=dict)
    strip: bytes = b""


def ascii_field(tag: int, text: str) -> Field:
    """Return text as UTF-8 with its closing NUL; Exif 2 says ASCII, bodies write what their owner typed."""
    return Field(tag, ASCII, text.encode() + b"\0")


def numbers(tag: int, kind: int, *values: int) -> Field:
    """Return BYTE, SHORT or LONG numbers."""
    return Field(tag, kind, values)


def rationals(tag: int, *fractions: tuple[int, int]) -> Field:
    """Return fractions as they are: 0/0 stays 0/0."""
    return Field(tag, RATIONAL, tuple(part for fraction in fractions for part in fraction))


def undefined(tag: int, content: bytes) -> Field:
    """Return bytes without a type."""
    return Field(tag, UNDEFINED, content)


def _even(length: int) -> int:
    return length + length % 2


def _table_bytes(directory: Directory, order: str) -> int:
    """Return the length of a directory with the values that do not fit into its entries."""
    entries = len(directory.fields) + len(directory.below) + bool(directory.strip)
    outside = [len(f.encoded(order)) for f in directory.fields]
    return 2 + 12 * entries + 4 + sum(_even(length) for length in outside if length > 4)


def _written(directory: Directory, order: str, offset: int) -> bytes:
    """Return a directory placed at an offset, followed by its values, what is below it, and its strip."""
    fields = list(directory.fields)
    below, position = b"", offset + _table_bytes(directory, order)
    for tag, child in directory.below.items():
        fields.append(numbers(tag, LONG, position))
        child_bytes = _written(child, order, position)
        below += child_bytes
        position += len(child_bytes)
    if directory.strip:
        fields.append(numbers(STRIP_OFFSETS, LONG, position))
    table = struct.pack(f"{order}H", len(fields))
    outside, place = b"", offset + 2 + 12 * len(fields) + 4
    for entry in sorted(fields, key=lambda f: f.tag):  # TIFF 6.0 asks for rising tags
        content = entry.encoded(order)
        table += struct.pack(f"{order}HHL", entry.tag, entry.kind, entry.count)
        if len(content) <= 4:
            table += content.ljust(4, b"\0")
            continue
        table += struct.pack(f"{order}L", place + len(outside))
        outside += content.ljust(_even(len(content)), b"\0")
    return table + b"\0\0\0\0" + outside + below + directory.strip.ljust(_even(len(directory.strip)), b"\0")


def tiff_bytes(root: Directory, *, big_endian: bool) -> bytes:
    r"""
    Return a TIFF file or block with one chain of directories.

    Examples
    --------
    >>> block = tiff_bytes(Directory((ascii_field(0x010F, "A"),)), big_endian=True)
    >>> block[:8], len(block)
    (b'MM\x00*\x00\x00\x00\x08', 26)
    """
    order, mark = (">", b"MM") if big_endian else ("<", b"II")
    return mark + struct.pack(f"{order}HL", 42, 8) + _written(root, order, 8)
