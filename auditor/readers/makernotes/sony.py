"""Sony: a directory after twelve bytes of name, or bare in its raw files. Focus position is in no unit of length."""

from auditor.readers.makernotes.layout import Header, Layout, Slot

LAYOUT = Layout(
    makes=("sony",),
    headers=(Header(b"SONY DSC ", 12), Header(b"SONY CAM ", 12), Header(b"SONY MOBILE", 12), Header(b"", 0)),
    slots={
        "stabiliser_mode": (Slot((0xB026,), 0, {0: "off", 1: "on"}),),
        "drive_mode": (
            Slot((0xB049,), 0, {0: "single", 2: "continuous", 5: "bracketing", 6: "bracketing", 8: "bracketing"}),
        ),
        # Only that the first curtain was electronic is said; without it the shutter may be either kind.
        "shutter_type": (Slot((0x201A,), 0, {1: "electronic-first-curtain"}),),
    },
)
