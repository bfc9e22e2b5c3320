"""Maker notes: stabiliser, drive, shutter, lens name, focus distance, roll and pitch, where they are understood."""

from __future__ import annotations

from typing import NamedTuple

from auditor.readers.tiff import Block
from auditor.readers.window import Window

__all__ = ["NOTHING", "MakerNote", "read_maker_note"]


class MakerNote(NamedTuple):
    """What a maker note says; None where it says nothing or is not understood."""

    stabiliser_mode: str | None = None
    drive_mode: str | None = None
    shutter_type: str | None = None
    lens_name: str | None = None
    focus_distance_m: float | None = None
    roll_deg: float | None = None
    pitch_deg: float | None = None


NOTHING = MakerNote()


def read_maker_note(
    window: Window, place: tuple[int, int], block: Block, make: str, *, is_block: bool = False
) -> MakerNote:
    """Read a maker note between two offsets of a file."""
    return NOTHING
