"""Nikon: a TIFF block of its own inside the note; older notes are not read. Its focus distance is enciphered."""

from auditor.readers.makernotes.layout import Header, Layout, Slot

LAYOUT = Layout(
    makes=("nikon",),
    headers=(Header(b"Nikon\0\2", 10, "own"),),
    slots={
        # VRInfo: byte 4. Compact cameras write the words.
        "stabiliser_mode": (
            Slot((0x001F,), 4, {1: "on", 2: "off"}),
            Slot((0x00AC,), 0, {"VR-ON": "on", "VR-OFF": "off"}),
        ),
        # ShootingMode: bits. Remote from a computer (4), automatic ISO (32) and bit 512 do not change the drive.
        "drive_mode": (
            Slot(
                (0x0089,),
                0,
                {
                    0: "single",
                    1: "continuous",
                    2: "self-timer",
                    8: "self-timer",
                    16: "bracketing",
                    17: "bracketing",
                    64: "bracketing",
                    65: "bracketing",
                    128: "remote",
                    256: "bracketing",
                    257: "bracketing",
                },
                mask=~(4 | 32 | 512),
            ),
        ),
        "shutter_type": (
            Slot(
                (0x0034,),
                0,
                {
                    0: "mechanical",
                    16: "electronic",
                    48: "electronic-first-curtain",
                    80: "mechanical",
                    81: "electronic-first-curtain",
                },
            ),
        ),
    },
)
