"""
Grey pixels of a frame's file, at a fraction of its size where that suffices.

The file is only read. Whatever it claims to hold, memory stays bounded: its size is looked at before anything is
decoded. Raw files are not developed: the picture that the camera put beside the raw data is read.
"""

from __future__ import annotations

import importlib
import warnings
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from auditor.errors import MissingExtra

if TYPE_CHECKING:
    from PIL.Image import Image as Picture

__all__ = ["MOST_PIXELS", "Pixels", "Undecodable", "need_pixel_libraries", "read_pixels"]

MOST_PIXELS = 256_000_000
"""A picture that claims more is refused: larger than any camera's, and decoding it could fill the memory."""

_MOST_BYTES = 1 << 30
_RAW_FORMATS = frozenset({"orf", "rw2", "arw", "nef", "cr2", "cr3", "raf", "pef", "dng", "srw", "raw"})
_HEIF_BRANDS = frozenset({b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1"})


class Undecodable(Exception):
    """The pixels of a file cannot be had; the text says why, without the file's name."""


@dataclass(frozen=True)
class Pixels:
    """
    Grey pixels of a frame, upright.

    Attributes
    ----------
    grey : array of uint8, shape (height, width)
        Grey levels, 0–255.
    scale : float
        Pixels of the full picture in one of these. [-]
    """

    grey: NDArray[np.uint8]
    scale: float


def need_pixel_libraries() -> None:
    """
    Make sure that pixels can be measured at all.

    Raises
    ------
    MissingExtra
        OpenCV is not installed.
    """
    _library("cv2")


def _library(name: str) -> ModuleType:
    try:
        return importlib.import_module(name)
    except ImportError as missing:
        text = f"measuring pixels needs {name}: pip install 'steadykeep[pixels]'"
        raise MissingExtra(text) from missing


def read_pixels(path: Path, kind: str = "", *, reduced: int = 1) -> Pixels:
    """
    Decode a frame.

    Parameters
    ----------
    path : Path
    kind : str
        Its format as the index has it; looked up in the content when empty.
    reduced : int
        1, 2, 4 or 8: the fraction of the full size that suffices.

    Returns
    -------
    Pixels
        Orientation applied.

    Raises
    ------
    Undecodable
        The file cannot be decoded, or claims to be too large.
    MissingExtra
        A library for its format is not installed.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     place = Path(folder) / "plain.jpg"
    ...     Image.new("RGB", (320, 200), (0, 128, 0)).save(place)
    ...     pixels = read_pixels(place, reduced=2)
    >>> pixels.grey.shape, pixels.scale
    ((100, 160), 2.0)
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise Undecodable("the file is too large to be a photograph")
        if kind in _RAW_FORMATS or (not kind and _format(_head(path)) == "raw"):
            return _from_raw(path, reduced)
        content = path.read_bytes()
    except FileNotFoundError as gone:
        raise Undecodable("the file was gone when it was to be read") from gone
    except PermissionError as closed:
        raise Undecodable("no permission to read the file") from closed
    except OSError as failed:
        raise Undecodable("the system could not read the file") from failed
    return _from_content(content, reduced)


def _head(path: Path) -> bytes:
    with path.open("rb") as stream:
        return stream.read(32)


def _format(head: bytes) -> str:
    """Return what the decoders need to know of a file's format."""
    if head.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    if head[4:8] == b"ftyp":
        return "heif" if head[8:12] in _HEIF_BRANDS else "raw" if head[8:12] == b"crx " else "other"
    if head.startswith((b"FUJIFILMCCD-RAW", b"IIRO", b"IIRS", b"MMOR", b"IIU\x00")):
        return "raw"
    return "other"


def _from_content(content: bytes, reduced: int) -> Pixels:
    if not content:
        raise Undecodable("the file is empty")
    form = _format(content[:32])
    if form == "jpeg":
        return _from_jpeg(content, reduced)
    if form == "heif":
        return _from_heif(content, reduced)
    return _from_other(content, reduced)


def _from_jpeg(content: bytes, reduced: int) -> Pixels:
    """Decode at a reduced scale in the transform itself: a quarter of the pixels, and no full picture in memory."""
    width, height = _claimed_size(content)
    _refuse_bomb(width, height)
    if content.rfind(b"\xff\xd9") < content.rfind(b"\xff\xda"):
        raise Undecodable("the file is cut short")
    cv2 = _library("cv2")
    flags = {
        1: cv2.IMREAD_GRAYSCALE,
        2: cv2.IMREAD_REDUCED_GRAYSCALE_2,
        4: cv2.IMREAD_REDUCED_GRAYSCALE_4,
        8: cv2.IMREAD_REDUCED_GRAYSCALE_8,
    }[reduced]
    try:
        grey = cv2.imdecode(np.frombuffer(content, np.uint8), flags)
    except cv2.error as failed:
        raise Undecodable("the picture is damaged and cannot be decoded") from failed
    if grey is None:
        raise Undecodable("the picture is damaged and cannot be decoded")
    return Pixels(grey, max(width, height) / max(grey.shape))


def _claimed_size(jpeg: bytes) -> tuple[int, int]:
    """Return width and height from the frame header (ITU-T T.81, B.2.2)."""
    place = 2
    while place + 9 <= len(jpeg):
        if jpeg[place] != 0xFF:
            break
        marker = jpeg[place + 1]
        if marker in (0xFF, 0x01) or 0xD0 <= marker <= 0xD7:
            place += 1 if marker == 0xFF else 2
            continue
        if marker in (0xC0, 0xC1, 0xC2, 0xC9, 0xCA):  # the processes that decoders know; raw data is lossless, 0xC3
            height, width = int.from_bytes(jpeg[place + 5 : place + 7]), int.from_bytes(jpeg[place + 7 : place + 9])
            if width and height:
                return width, height
            break
        if marker == 0xDA:
            break
        place += 2 + max(2, int.from_bytes(jpeg[place + 2 : place + 4]))
    raise Undecodable("the picture is damaged and cannot be decoded")


def _refuse_bomb(width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise Undecodable(f"it claims {width} × {height} px, more than any camera's picture: not decoded")


def _from_heif(content: bytes, reduced: int) -> Pixels:
    heif = _library("pi_heif")
    try:
        opened = heif.open_heif(BytesIO(content), convert_hdr_to_8bit=True)
        _refuse_bomb(*opened.size)
        return _shrunk(opened.to_pillow(), reduced)
    except Undecodable:
        raise
    except Exception as failed:  # the decoder raises whatever the library below it reports
        raise Undecodable("the picture is damaged or of a kind that cannot be decoded") from failed


def _from_other(content: bytes, reduced: int) -> Pixels:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of large pictures, refused by our own limit, and of odd Exif
            with Image.open(BytesIO(content)) as opened:
                _refuse_bomb(*opened.size)
                return _shrunk(ImageOps.exif_transpose(opened), reduced)
    except Image.DecompressionBombError as large:
        raise Undecodable("it claims more pixels than any camera's picture: not decoded") from large
    except UnidentifiedImageError as unknown:
        raise Undecodable("pixels of this format cannot be decoded") from unknown
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError) as failed:
        raise Undecodable("the picture is damaged and cannot be decoded") from failed


def _shrunk(picture: Picture, reduced: int) -> Pixels:
    """Return a decoded picture grey and reduced."""
    if picture.mode.startswith("I") or picture.mode == "F":
        levels = np.asarray(picture, np.float32)
        top = max(float(levels.max()), 255.0)
        grey = np.clip(levels * (255.0 / top), 0, 255).astype(np.uint8)
    else:
        grey = np.asarray(picture.convert("L"))
    long_side = max(grey.shape)
    if reduced > 1:
        cv2 = _library("cv2")
        size = (max(1, grey.shape[1] // reduced), max(1, grey.shape[0] // reduced))
        grey = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    return Pixels(np.ascontiguousarray(grey), long_side / max(grey.shape))


def _from_raw(path: Path, reduced: int) -> Pixels:
    """Decode the preview of a raw file; its pixels are larger than the full picture's when it is smaller."""
    rawpy = _library("rawpy")
    try:
        with rawpy.imread(str(path)) as raw:
            long_side = max(raw.sizes.width, raw.sizes.height)
            flip = raw.sizes.flip
            preview = raw.extract_thumb()
    except rawpy.LibRawError:  # a body that the library does not know yet, or a file cut after its preview
        return _from_jpeg(_largest_preview(path.read_bytes()), reduced)
    if preview.format == rawpy.ThumbFormat.JPEG:
        pixels = _from_jpeg(bytes(preview.data), reduced)
        grey = pixels.grey if _says_orientation(preview.data) else _turned(pixels.grey, flip)
    else:
        grey = _turned(_shrunk(Image.fromarray(preview.data), reduced).grey, flip)
    return Pixels(np.ascontiguousarray(grey), max(1.0, long_side / max(grey.shape)))


def _largest_preview(content: bytes) -> bytes:
    """Return the largest whole JPEG picture inside a raw file."""
    best, found, at = 0, b"", content.find(b"\xff\xd8\xff")
    while at >= 0:
        inside = content[at : at + _MOST_PREVIEW_BYTES]
        try:
            width, height = _claimed_size(inside)
        except Undecodable:
            width = height = 0
        end = inside.find(b"\xff\xd9", inside.find(b"\xff\xda"))
        if best < width * height <= MOST_PIXELS and end > 0:
            best, found = width * height, inside[: end + 2]
        at = content.find(b"\xff\xd8\xff", at + 3)
    if best < _LEAST_PREVIEW_PX:
        raise Undecodable("the raw file holds no preview that can be read")
    return found


_MOST_PREVIEW_BYTES, _LEAST_PREVIEW_PX = 64 << 20, 640 * 480


def _says_orientation(jpeg: bytes) -> bool:
    """Tell whether a preview carries its own orientation, which its decoder has then applied."""
    with Image.open(BytesIO(jpeg)) as opened:
        return opened.getexif().get(0x0112, 1) in range(2, 9)


def _turned(grey: NDArray[np.uint8], flip: int) -> NDArray[np.uint8]:
    """Return a preview upright, after the raw library's own code: 3 half turn, 5 quarter turn left, 6 right."""
    return np.rot90(grey, {3: 2, 5: 1, 6: 3}.get(flip, 0))
