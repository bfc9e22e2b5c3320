"""Fujifilm: its name, then the offset of the directory, always with the low byte first."""

from auditor.readers.makernotes.layout import Header, Layout, Slot

LAYOUT = Layout(
    makes=("fujifilm",),
    headers=(Header(b"FUJIFILM", -8, "note", "<"),),
    slots={
        # Three numbers: kind, mode, a third. What a mode means is from memory; libexiv2 prints numbers.
        "stabiliser_mode": (Slot((0x1422,), 1, {0: "off", 1: "on", 2: "shoot-only"}),),
        # Continuous/AutoBracketing; 1 is either.
        "drive_mode": (Slot((0x1100,), 0, {0: "single"}),),
        "shutter_type": (
            Slot((0x1050,), 0, {0: "mechanical", 1: "electronic", 2: "electronic", 3: "electronic-first-curtain"}),
        ),
    },
)
