"""Pentax and its successor: a directory after a name of six or ten bytes that ends with the byte order."""

from auditor.readers.makernotes.layout import Header, Layout, Slot

LAYOUT = Layout(
    makes=("pentax", "ricoh", "asahi"),
    headers=(Header(b"PENTAX \0", 10, "note", order_at=8), Header(b"AOC\0", 6, order_at=4)),
    slots={
        # ShakeReductionInfo: byte 1, from memory; libexiv2 prints numbers.
        "stabiliser_mode": (Slot((0x005C,), 1, {0: "off", 1: "on"}),),
        # Four bytes; the first tells one frame from several, the second a self-timer, which is not read here.
        "drive_mode": (Slot((0x0034,), 0, {1: "continuous", 2: "continuous-high", 3: "burst"}),),
    },
)
