"""
The Exif tags that are wanted, and what a value of each may look like.

Both lanes, the narrow one (`tiff`) and the tolerant one (`guarded`), give the same plain values for them:

=========  ==================================================================
text       str, cut at the first NUL and stripped; None when nothing is left
ratio      float; None for n/0
ratios     tuple of float or None
whole      int; the first when there are several
wholes     tuple of int
place      (offset from the start of the file, length) of an undefined block
pointer    int; None, and never unusual, where it is no offset
=========  ==================================================================

Numbers are those of CIPA DC-008-2023 (Exif 3.0), TIFF 6.0, and of the DNG specification 1.7.
"""

from __future__ import annotations

from typing import TypeAlias

__all__ = ["EXIF", "IFD0", "PICTURE", "RW2", "Tags", "Value", "plain_text"]

Value: TypeAlias = str | float | int | tuple[float | None, ...] | tuple[int, ...] | None
Tags: TypeAlias = dict[int, Value]

EXIF = {
    0x829A: "ratio",  # ExposureTime
    0x829D: "ratio",  # FNumber
    0x8827: "whole",  # PhotographicSensitivity
    0x8831: "whole",  # StandardOutputSensitivity
    0x8832: "whole",  # RecommendedExposureIndex
    0x8833: "whole",  # ISOSpeed
    0x9003: "text",  # DateTimeOriginal
    0x9011: "text",  # OffsetTimeOriginal
    0x9291: "text",  # SubSecTimeOriginal
    0x9205: "ratio",  # MaxApertureValue
    0x9206: "ratio",  # SubjectDistance
    0x9209: "whole",  # Flash
    0x920A: "ratio",  # FocalLength
    0x927C: "place",  # MakerNote
    0xA002: "whole",  # PixelXDimension
    0xA003: "whole",  # PixelYDimension
    0xA405: "whole",  # FocalLengthIn35mmFilm
    0xA431: "text",  # BodySerialNumber
    0xA432: "ratios",  # LensSpecification
    0xA433: "text",  # LensMake
    0xA434: "text",  # LensModel
    0xA435: "text",  # LensSerialNumber
}
"""Tags of the Exif IFD."""

PICTURE = {
    0x00FE: "whole",  # NewSubfileType
    0x0100: "whole",  # ImageWidth
    0x0101: "whole",  # ImageLength
    0x0106: "whole",  # PhotometricInterpretation
    0xC620: "ratios",  # DNG DefaultCropSize
}
"""Tags that describe one picture among several in a TIFF file."""

# ISO 12234-2 (TIFF/EP) and DNG put these into the first IFD; others have no meaning there.
_TIFF_EP = (0x829A, 0x829D, 0x8827, 0x9003, 0x9205, 0x9206, 0x9209, 0x920A)

IFD0 = {
    **{tag: EXIF[tag] for tag in _TIFF_EP},
    **PICTURE,
    0x010F: "text",  # Make
    0x0110: "text",  # Model
    0x0112: "whole",  # Orientation
    0x014A: "wholes",  # SubIFDs
    0x02BC: "place",  # XMP
    0x8769: "whole",  # Exif IFD
    0x8825: "pointer",  # GPS IFD; `picture.decode` puts the place that it holds here instead of the pointer
    0xC612: "place",  # DNGVersion: there only in DNG
}
"""Tags of the first IFD."""

RW2 = {
    **IFD0,
    0x0002: "whole",  # sensor width
    0x0003: "whole",  # sensor height
    0x0004: "whole",  # top border
    0x0005: "whole",  # left border
    0x0006: "whole",  # bottom border
    0x0007: "whole",  # right border
    0x0017: "whole",  # ISO
    0x002E: "place",  # the preview, a JPEG with the rest of the Exif
}
"""Tags of the first IFD under the ``IIU`` mark, where low numbers have a meaning of their own."""


def plain_text(raw: bytes) -> str | None:
    r"""
    Return the text of an ASCII or UTF-8 value, None when it is blank.

    Exif 3.0 allows UTF-8; older writers leave bytes of their own code page, read here as Latin-1 so that they show.

    Examples
    --------
    >>> plain_text(b"Silverline 2 \x00\x00junk")
    'Silverline 2'
    >>> plain_text(b"\x00") is None
    True
    """
    at = raw.find(b"\0")
    if at >= 0:
        raw = raw[:at]
    try:
        return raw.decode().strip() or None
    except UnicodeDecodeError:
        return raw.decode("latin-1").strip() or None
