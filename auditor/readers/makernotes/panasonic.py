"""Panasonic: a directory after twelve bytes of name."""

from auditor.readers.makernotes.layout import Header, Layout, Slot

LAYOUT = Layout(
    makes=("panasonic", "leica"),
    headers=(Header(b"Panasonic\0\0\0", 12),),
    slots={
        "stabiliser_mode": (Slot((0x001A,), 0, {2: "on", 3: "off", 4: "on", 5: "panning", 6: "on"}),),
        "drive_mode": (Slot((0x002A,), 0, {0: "single", 1: "burst", 2: "burst"}),),
        "shutter_type": (Slot((0x009F,), 0, {0: "mechanical", 1: "electronic", 2: "hybrid"}),),
        "lens_name": (Slot((0x0051,)),),
        "roll_deg": (Slot((0x0090,), scale=0.1),),
        "pitch_deg": (Slot((0x0091,), scale=0.1),),
    },
)
