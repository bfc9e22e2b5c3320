"""Maker notes: stabiliser, drive, shutter, lens name, focus distance, roll and pitch, where they are understood."""

from auditor.readers.makernotes.layout import NOTHING, MakerNote
from auditor.readers.makernotes.reading import LAYOUTS, layout_for, read_maker_note

__all__ = ["LAYOUTS", "NOTHING", "MakerNote", "layout_for", "read_maker_note"]
