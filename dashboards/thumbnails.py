"""
Small pictures of frames: from an embedded preview or a reduced decode, kept on disk by content.

The archive is only read. Which file is read is decided by the desk's own rows, never by text of a request.
"""

from __future__ import annotations

import contextlib
import hashlib
import html
import importlib
import importlib.util
import io
import threading
import warnings
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from PIL import Image, ImageOps

from auditor.readers.names import file_at
from auditor.storage.atomic import write_bytes
from dashboards.desk import Desk

__all__ = ["SIZES_PX", "Thumbnails", "key_of", "no_picture", "picture_file", "place_of"]

SIZES_PX = {"small": 320, "large": 1600}
"""Longest side of each kind of picture. [px]"""

_NO_PICTURE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="320" height="214" viewBox="0 0 320 214">'
    '<rect width="320" height="214" fill="#8a8479" opacity=".18"/>'
    '<g text-anchor="middle" font-family="sans-serif" font-size="17" fill="#8a8479">{lines}</g></svg>'
)
_NEEDS_EXTRA = ("no preview: needs the extra", "pip install 'steadykeep[pixels]'")

_VERSION = "v1"
_FORMATS = ("JPEG", "TIFF", "PNG", "WEBP", "MPO", "AVIF")
_HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1", b"mif2")
_MOST_PIXELS = 1 << 28
_RAW_FORMATS = frozenset({"orf", "rw2", "arw", "nef", "cr2", "cr3", "raf", "pef", "dng", "srw", "nrw", "iiq", "3fr"})
_MOST_BYTES = 1 << 30
_WORKERS = 2


def key_of(desk: Desk, place: int) -> str:
    """
    Return the name of a frame in an address: its place, and a check that it is still the same file.

    Parameters
    ----------
    desk : Desk
    place : int
        In ``desk.frames``.

    Returns
    -------
    str
        Changes when the file's path, size or time does, so that a browser may keep the picture for ever.
    """
    frame = desk.frames.iloc[place]
    told = "\0".join(str(frame[column]) for column in ("archive", "path", "size", "mtime_ns"))
    check = hashlib.blake2b(told.encode("utf-8", "surrogatepass"), digest_size=8).hexdigest()
    return f"{place}-{check}"


def place_of(desk: Desk, key: str) -> int | None:
    """Return the place of a frame by its name in an address, None where it is not (or no longer) such a frame."""
    place, _, _ = key.partition("-")
    if not (place.isascii() and place.isdecimal()) or len(place) > 12 or int(place) >= len(desk):
        return None
    return int(place) if key_of(desk, int(place)) == key else None


def picture_file(desk: Desk, place: int) -> Path | None:
    """
    Return a frame's file, or None where it is not inside its archive (any more).

    A link that leads out of the archive is not followed.
    """
    frame = desk.frames.iloc[place]
    root = desk.archives.get(str(frame["archive"]))
    if root is None:
        return None
    try:
        home = root.resolve(strict=True)
        found = file_at(home, str(frame["path"])).resolve(strict=True)
    except (OSError, ValueError):
        return None
    return found if found.is_relative_to(home) and found.is_file() else None


@dataclass(frozen=True, eq=False)
class Thumbnails:
    """
    The pictures made so far, in a folder that may be deleted at any time, and two threads that make more.

    Parameters
    ----------
    folder : Path
        Pictures lie in ``<version>/<size>/ab/cd/<sha256 of the source>.webp``.
    """

    folder: Path
    _pool: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(_WORKERS, "thumbnails"))
    _made: dict[tuple[str, str], Future[bytes | None]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def ask(self, desk: Desk, place: int, size: str = "small") -> Future[bytes | None]:
        """Return the picture to come of a frame, WebP; None in it where no picture can be had."""
        key = (key_of(desk, place), size)
        with self._lock:
            waiting = self._made.get(key)
            if waiting is None:
                waiting = self._made[key] = self._pool.submit(self._picture, picture_file(desk, place), key)
                waiting.add_done_callback(lambda _: self._made.pop(key, None))
        return waiting

    def _picture(self, source: Path | None, key: tuple[str, str]) -> bytes | None:
        if source is None:
            return None
        with contextlib.suppress(OSError):
            return self._kept(source, key) or self._make(source, key)
        return None

    def _known(self, key: tuple[str, str]) -> Path:
        return self.folder / _VERSION / "known" / key[0]

    def _at(self, content_hash: str, size: str) -> Path:
        folder = self.folder / _VERSION / f"{size}-{SIZES_PX[size]}"
        return folder / content_hash[:2] / content_hash[2:4] / f"{content_hash}.webp"

    def _kept(self, source: Path, key: tuple[str, str]) -> bytes | None:
        with contextlib.suppress(OSError, UnicodeDecodeError):
            noted = self._known(key).read_text(encoding="ascii")
            if len(noted) == 64 and noted.isalnum():
                return self._at(noted, key[1]).read_bytes()
        return None

    def _make(self, source: Path, key: tuple[str, str]) -> bytes | None:
        if source.stat().st_size > _MOST_BYTES:
            return None
        content = source.read_bytes()
        content_hash = hashlib.sha256(content).hexdigest()
        target = self._at(content_hash, key[1])
        picture = target.read_bytes() if target.exists() else _reduced(content, source, SIZES_PX[key[1]])
        if picture is None:
            return None
        with contextlib.suppress(OSError):  # a full disk costs time, not the picture
            for file, holding in ((target, picture), (self._known(key), content_hash.encode())):
                file.parent.mkdir(parents=True, exist_ok=True)
                write_bytes(file, holding)
        return picture


def no_picture(source: Path | None) -> bytes:
    """Return the sheet that stands for a picture that cannot be had, SVG; it says so where a library would help."""
    lacks = source is not None and (
        (_is_heif(source) and not _installed("pi_heif")) or (_is_raw(source) and not _installed("rawpy"))
    )
    told = _NEEDS_EXTRA if lacks else ("no preview",)
    lines = "".join(
        f'<text x="160" y="{112 + 24 * number - 12 * (len(told) - 1)}">{html.escape(line)}</text>'
        for number, line in enumerate(told)
    )
    return _NO_PICTURE.format(lines=lines).encode()


def _installed(library: str) -> bool:
    return importlib.util.find_spec(library) is not None


def _is_raw(source: Path) -> bool:
    return source.suffix.lower().lstrip(".") in _RAW_FORMATS


def _is_heif(source: Path) -> bool:
    try:
        with source.open("rb") as stream:
            return _says_heif(stream.read(12))
    except OSError:
        return False


def _says_heif(content: bytes) -> bool:
    return content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS


def _reduced(content: bytes, source: Path, longest_px: int) -> bytes | None:
    """Decode at a fraction of the size where the format allows it, turn upright, write as WebP."""
    try:
        upright = _heif(content) if _says_heif(content) else _upright(content, source, longest_px)
        if upright is None:
            return None
        upright.thumbnail((longest_px, longest_px))
        written = io.BytesIO()
        upright.save(written, "WEBP", quality=80, method=1)
    except Exception:
        return None
    return written.getvalue()


def _upright(content: bytes, source: Path, longest_px: int) -> Image.Image | None:
    embedded = _embedded(content) if _is_raw(source) else content
    if embedded is None:
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        with Image.open(io.BytesIO(embedded), formats=_FORMATS) as picture:
            picture.draft("RGB", (longest_px, longest_px))
            return ImageOps.exif_transpose(picture).convert("RGB")


def _heif(content: bytes) -> Image.Image | None:
    """Decode a HEIF, which turns itself upright; nothing without the library for it, or from an absurd size."""
    if not _installed("pi_heif"):
        return None
    opened = importlib.import_module("pi_heif").open_heif(io.BytesIO(content), convert_hdr_to_8bit=True)
    if opened.size[0] * opened.size[1] > _MOST_PIXELS:
        return None
    decoded: Image.Image = opened.to_pillow().convert("RGB")
    return decoded


def _embedded(raw: bytes) -> bytes | None:
    """Return the JPEG that the camera put into a raw file; raw files are not developed."""
    try:
        rawpy = importlib.import_module("rawpy")
        with rawpy.imread(io.BytesIO(raw)) as opened:
            found = opened.extract_thumb()
    except Exception:
        return None
    return bytes(found.data) if found.format == rawpy.ThumbFormat.JPEG else None
