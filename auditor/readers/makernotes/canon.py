"""Canon: a bare directory; settings are arrays of 16-bit numbers."""

from auditor.readers.makernotes.layout import Header, Layout, Slot

_STABILISER: dict[int | str, str] = {0: "off", 1: "on", 2: "shoot-only", 3: "panning", 4: "dynamic"}
_NEWER: dict[int | str, str] = {256: "off", 257: "on", 258: "shoot-only", 259: "panning", 260: "dynamic"}

LAYOUT = Layout(
    makes=("canon",),
    headers=(Header(b"", 0),),
    slots={
        # CameraSettings; 65535 says that the lens or body has none.
        "stabiliser_mode": (Slot((0x0001,), 34, {**_STABILISER, **_NEWER}),),
        "drive_mode": (
            Slot(
                (0x0001,),
                5,
                {
                    1: "continuous",  # 0 is "single or self-timer": not understood
                    2: "movie",
                    3: "continuous",
                    4: "continuous-low",
                    5: "continuous-high",
                    6: "single",
                    9: "single",
                    10: "continuous",
                },
            ),
        ),
        "shutter_type": (Slot((0x0093,), 23, {0: "mechanical", 1: "electronic-first-curtain", 2: "electronic"}),),
        "lens_name": (Slot((0x0095,)),),
        "focus_distance_m": (Slot((0x0004,), 19, scale=0.01),),
    },
)
