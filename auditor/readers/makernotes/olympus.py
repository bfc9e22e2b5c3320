"""Olympus and its successor: three generations of header, values in directories below the first."""

from auditor.readers.makernotes.layout import Header, Layout, Slot

LAYOUT = Layout(
    makes=("olympus", "om digital"),
    headers=(
        Header(b"OM SYSTEM\0\0\0", 16, "note", order_at=12),
        Header(b"OLYMPUS\0", 12, "note", order_at=8),
        Header(b"OLYMP\0", 8),
    ),
    slots={
        "stabiliser_mode": (
            Slot((0x2020, 0x0604), 0, {0: "off", 1: "on", 2: "panning", 3: "panning-vertical", 4: "auto"}),
        ),
        # Meanings from memory; libexiv2 prints numbers.
        "drive_mode": (Slot((0x2020, 0x0600), 0, {0: "single", 1: "continuous", 2: "bracketing", 3: "bracketing"}),),
        "lens_name": (Slot((0x2010, 0x0203)),),
        # Millimetres above a denominator that differs between bodies and says nothing.
        "focus_distance_m": (Slot((0x2050, 0x0305), scale=0.001, is_numerator=True),),
        # Tenths of a degree, from memory.
        "roll_deg": (Slot((0x2020, 0x0903), scale=0.1),),
        "pitch_deg": (Slot((0x2020, 0x0904), scale=0.1),),
    },
)
