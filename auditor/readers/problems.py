"""
Why nothing, or only a part, could be read: a small fixed set of sentences, as they stand in the `problem` column.

Counts are grouped by them, so a sentence never holds a name or a number of its own, except the two that end with the
system's words.
"""

from __future__ import annotations

from enum import StrEnum

__all__ = ["Problem", "Skipped"]


class Problem(StrEnum):
    """What is wrong with a frame's file."""

    EMPTY = "the file is empty"
    NOT_A_PICTURE = "the content is not a picture in a known format"
    NO_EXIF = "the picture holds no Exif"
    NOT_READABLE_FORMAT = "this format is known, but its Exif cannot be read yet"
    COMPRESSED_EXIF = "the Exif is compressed inside the file and cannot be read yet"
    DAMAGED_CONTAINER = "the file is cut short or damaged before its Exif"
    DAMAGED_EXIF = "the Exif is damaged; what could be read safely was kept"
    CUT_SHORT = "the file is cut short; what could be read safely was kept"
    NO_PERMISSION = "no permission to read the file"
    VANISHED = "the file was gone when it was to be read"
    CHANGED = "the file was being written while it was read; index again"
    NOT_READABLE = "the system could not read the file"
    TOO_SLOW = "reading took too long and was given up"
    READER_DIED = "reading ended the reading process; the file was left alone"
    NOT_UNDERSTOOD = "reading failed in a way the program does not know; please report it"


class Skipped(StrEnum):
    """Why something in an archive is not a frame."""

    NOT_A_PICTURE = "not a picture"
    SIDECAR_ALONE = "sidecar without its picture"
    HIDDEN = "hidden file or folder"
    NOT_A_FILE = "not a regular file (pipe, device or socket)"
    DEAD_LINK = "link that leads nowhere"
    FOLDER_SEEN = "folder already seen under another name"
    FOLDER_CLOSED = "folder that could not be read"
