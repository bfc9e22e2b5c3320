"""
A file seen through one read of 64 KiB, and through a second where a pointer leaves it.

64 KiB holds the Exif of nearly every JPEG and raw file; HEIF and some TIFF keep it elsewhere. How often and how much
more may be read is bounded, so that a hostile file costs no more than an honest one.
"""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["HEAD_BYTES", "Window"]

HEAD_BYTES = 64 * 1024
_AHEAD_BYTES = 16 * 1024
_LONGEST_BYTES = 1 << 20
_MOST_READS = 48


class Window:
    """
    The bytes of one open file.

    Parameters
    ----------
    head : bytes
        Its first bytes.
    size : int
        Its length as the system tells it. [byte]
    read_at : callable
        Reads so many bytes from an offset; fewer at the end of the file.

    Examples
    --------
    >>> content = bytes(range(200))
    >>> window = Window(content[:100], 200, lambda offset, length: content[offset : offset + length])
    >>> window.take(98, 4)
    b'bcde'
    >>> window.take(199, 4), window.take(500, 1)
    (b'', b'')
    """

    __slots__ = ("_blocks", "_read_at", "head", "size")

    def __init__(self, head: bytes, size: int, read_at: Callable[[int, int], bytes]) -> None:
        self.head = head
        self.size = size
        self._read_at = read_at
        self._blocks: list[tuple[int, bytes]] = []

    def take(self, offset: int, length: int) -> bytes:
        """Return exactly that many bytes, or none when the file does not have them all or asks for too much."""
        end = offset + length
        if offset >= 0 and end <= len(self.head):
            return self.head[offset:end]
        if offset < 0 or length <= 0 or end > self.size or length > _LONGEST_BYTES:
            return b""
        for start, block in self._blocks:
            if start <= offset and end <= start + len(block):
                return block[offset - start : end - start]
        if len(self._blocks) >= _MOST_READS:
            return b""
        block = self._read_at(offset, min(max(length, _AHEAD_BYTES), self.size - offset))
        self._blocks.append((offset, block))
        return block[:length] if len(block) >= length else b""

    def upto(self, offset: int, length: int) -> bytes:
        """Return that many bytes, or as many as the file has."""
        return self.take(offset, min(length, self.size - offset))
