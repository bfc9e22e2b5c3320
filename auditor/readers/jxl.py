"""The size that a JPEG XL codestream begins with (ISO/IEC 18181-1, D.2 and D.3)."""

from __future__ import annotations

__all__ = ["jxl_size"]


class _Bits:
    """JPEG XL's bit order: the lowest bit of each byte first."""

    def __init__(self, raw: bytes) -> None:
        self._bits = int.from_bytes(raw, "little")

    def take(self, count: int) -> int:
        value = self._bits & ((1 << count) - 1)
        self._bits >>= count
        return value


_JXL_RATIOS = ((1, 1), (12, 10), (4, 3), (3, 2), (16, 9), (5, 4), (2, 1))


def jxl_size(raw: bytes) -> tuple[int | None, int | None, int | None]:
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
