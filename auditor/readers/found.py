"""What the locator says about a file."""

from __future__ import annotations

from typing import NamedTuple

from auditor.readers.problems import Problem

__all__ = ["Found"]


class Found(NamedTuple):
    """
    What was found in a file.

    Attributes
    ----------
    format : str
        File format by content; empty when it is none that is known.
    exif : (int, int) or None
        Where the TIFF block starts and must end. [byte]
    xmp : (int, int) or None
        Where the XMP packet is and how long. [byte]
    width, height : int or None
        Of the full picture before rotation. [px]
    orientation : int or None
        Where the container governs it, and not Exif.
    exif_ifd, gps_ifd, maker_note : (int, int) or None
        Blocks that CR3 keeps apart.
    problem : Problem or None
        Why there is no Exif.
    is_cut : bool
        The file ends before what it says it holds; more could have been read of a whole one.
    """

    format: str
    exif: tuple[int, int] | None = None
    xmp: tuple[int, int] | None = None
    width: int | None = None
    height: int | None = None
    orientation: int | None = None
    exif_ifd: tuple[int, int] | None = None
    gps_ifd: tuple[int, int] | None = None
    maker_note: tuple[int, int] | None = None
    problem: Problem | None = None
    is_cut: bool = False
