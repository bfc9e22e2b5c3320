"""Decoding frames: orientation, reduced sizes, formats, and refusal of what is damaged or too large."""

from __future__ import annotations

import struct
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from auditor.errors import MissingExtra
from auditor.readers import pixels as module
from auditor.readers.pixels import Undecodable, need_pixel_libraries, read_pixels


def picture(width: int = 320, height: int = 200) -> np.ndarray:
    """Return a picture whose top left is dark and whose right is bright."""
    y, x = np.mgrid[0:height, 0:width]
    return np.clip(30 + 150 * x / width + 50 * y / height, 0, 255).astype(np.uint8)


def saved(path: Path, content: np.ndarray | None = None, **options: object) -> Path:
    Image.fromarray(picture() if content is None else content).save(path, **options)
    return path


@pytest.mark.parametrize(("reduced", "shape"), [(1, (200, 320)), (2, (100, 160)), (4, (50, 80)), (8, (25, 40))])
@pytest.mark.parametrize("ending", ["jpg", "png", "tif", "webp"])
def test_reduced_sizes(tmp_path: Path, ending: str, reduced: int, shape: tuple[int, int]) -> None:
    found = read_pixels(saved(tmp_path / f"frame.{ending}"), reduced=reduced)
    assert found.grey.shape == shape
    assert found.grey.dtype == np.uint8
    assert found.scale == pytest.approx(reduced)
    assert float(found.grey[:, -5:].mean()) > float(found.grey[:, :5].mean()) + 80


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("ending", ["jpg", "tif"])
@pytest.mark.parametrize("reduced", [1, 2])
def test_orientation_is_applied(tmp_path: Path, ending: str, orientation: int, reduced: int) -> None:
    # Exif 3.0 (CIPA DC-008), Orientation: how rows and columns of the file lie in the upright picture.
    upright = picture()
    lying = {
        1: upright,
        2: upright[:, ::-1],
        3: upright[::-1, ::-1],
        4: upright[::-1],
        5: upright.T,
        6: np.rot90(upright),
        7: upright.T[::-1, ::-1],
        8: np.rot90(upright, -1),
    }[orientation]
    exif = Image.Exif()
    exif[0x0112] = orientation
    place = saved(tmp_path / f"frame.{ending}", np.ascontiguousarray(lying), exif=exif)
    found = read_pixels(place, reduced=reduced)
    assert found.grey.shape == (200 // reduced, 320 // reduced)
    assert np.abs(found.grey.astype(float) - upright[::reduced, ::reduced]).mean() < 6


def test_real_frames_in_all_orientations(real_frames: Path) -> None:
    folder = real_frames / "jpg" / "orientation"
    for shape in ("landscape", "portrait"):
        upright = read_pixels(folder / f"{shape}_1.jpg", reduced=8).grey.astype(float)
        for number in range(2, 9):
            turned = read_pixels(folder / f"{shape}_{number}.jpg", reduced=8).grey.astype(float)
            assert turned.shape == upright.shape
            assert np.corrcoef(turned.ravel(), upright.ravel())[0, 1] > 0.9, number


def test_sixteen_bits_and_colours(tmp_path: Path) -> None:
    deep = saved(tmp_path / "deep.png", picture().astype(np.uint16) * 257)
    assert np.abs(read_pixels(deep).grey.astype(float) - picture()).mean() < 15
    colour = saved(tmp_path / "colour.png", np.dstack([picture()] * 3))
    assert np.array_equal(read_pixels(colour).grey, picture())


def jpeg_claiming(width: int, height: int) -> bytes:
    """Return a small JPEG whose frame header claims a size (ITU-T T.81, B.2.2)."""
    from io import BytesIO

    content = BytesIO()
    Image.fromarray(picture(16, 16)).save(content, "JPEG")
    plain = content.getvalue()
    at = plain.index(b"\xff\xc0") + 5
    return plain[:at] + struct.pack(">HH", height, width) + plain[at + 4 :]


def test_bombs_are_refused_before_decoding(tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.jpg"
    bomb.write_bytes(jpeg_claiming(60000, 60000))
    with pytest.raises(Undecodable, match="60000 × 60000"):
        read_pixels(bomb)
    png = bytearray(saved(tmp_path / "plain.png").read_bytes())
    png[16:24] = struct.pack(">II", 50000, 50000)
    import zlib

    png[29:33] = struct.pack(">I", zlib.crc32(bytes(png[12:29])))
    (tmp_path / "bomb.png").write_bytes(png)
    with pytest.raises(Undecodable, match="more"):
        read_pixels(tmp_path / "bomb.png")


def test_too_long_a_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_MOST_BYTES", 100)
    with pytest.raises(Undecodable, match="too large"):
        read_pixels(saved(tmp_path / "frame.jpg"))


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "empty"),
        (b"\xff\xd8\xff\xe0", "damaged"),
        (b"\xff\xd8\xff\xda\x00\x0c" + b"x" * 40, "damaged"),
        (b"not a picture at all, but text", "cannot be decoded"),
        (b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + b"\x00" * 60, "damaged or of a kind"),
        (b"\x00\x00\x00\x0cJXL \r\n\x87\n" + b"\x00" * 40, "cannot be decoded"),
    ],
)
def test_damaged_files_say_why(tmp_path: Path, content: bytes, why: str) -> None:
    place = tmp_path / "frame.jpg"
    place.write_bytes(content)
    with pytest.raises(Undecodable, match=why):
        read_pixels(place)


def test_a_file_cut_short_is_not_measured_as_if_it_were_whole(tmp_path: Path) -> None:
    whole = saved(tmp_path / "whole.jpg").read_bytes()
    (tmp_path / "cut.jpg").write_bytes(whole[: len(whole) * 2 // 3])
    with pytest.raises(Undecodable, match="cut short"):
        read_pixels(tmp_path / "cut.jpg", reduced=2)
    png = saved(tmp_path / "whole.png").read_bytes()
    (tmp_path / "cut.png").write_bytes(png[: len(png) // 2])
    with pytest.raises(Undecodable, match="damaged"):
        read_pixels(tmp_path / "cut.png")


def test_missing_and_closed_files_say_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(Undecodable, match="gone"):
        read_pixels(tmp_path / "nowhere.jpg")

    def closed(self: Path) -> bytes:
        raise PermissionError

    place = saved(tmp_path / "frame.jpg")
    monkeypatch.setattr(Path, "read_bytes", closed)
    with pytest.raises(Undecodable, match="permission"):
        read_pixels(place)

    def broken(self: Path) -> bytes:
        raise OSError(5, "input/output error")

    monkeypatch.setattr(Path, "read_bytes", broken)
    with pytest.raises(Undecodable, match="could not read"):
        read_pixels(place)


def test_the_extra_that_is_missing_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    need_pixel_libraries()
    monkeypatch.setitem(sys.modules, "cv2", None)
    with pytest.raises(MissingExtra, match=r"steadykeep\[pixels\]"):
        need_pixel_libraries()


@pytest.mark.real_frames
def test_real_heif_frames(real_frames: Path) -> None:
    found = read_pixels(real_frames / "heic" / "spring_1440x960.heic", "heif", reduced=2)
    assert found.grey.shape == (480, 720)
    assert found.grey.std() > 10


@pytest.mark.real_frames
def test_a_real_raw_is_read_through_its_preview(real_frames: Path) -> None:
    found = read_pixels(real_frames / "raw" / "n-sample.cr3", "cr3")
    assert found.grey.shape == (1080, 1620)  # the file is cut after its preview, which is found by its own header
    assert found.grey.std() > 10


@pytest.mark.real_frames
def test_a_real_raw_without_preview_says_so(real_frames: Path) -> None:
    with pytest.raises(Undecodable, match="no preview"):
        read_pixels(real_frames / "raw" / "b-sample.cr2", "cr2")


@pytest.mark.parametrize(("flip", "turns"), [(0, 0), (3, 2), (5, 1), (6, 3)])
def test_a_preview_is_turned_as_the_raw_file_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, flip: int, turns: int
) -> None:
    import rawpy

    class Sizes:
        width, height = 640, 400

    class Preview:
        format = rawpy.ThumbFormat.BITMAP
        data = np.dstack([picture()] * 3)

    class Raw:
        sizes = Sizes()

        def __enter__(self) -> Raw:
            return self

        def __exit__(self, *_: object) -> None:
            return None

        def extract_thumb(self) -> Preview:
            return Preview()

    Sizes.flip = flip
    monkeypatch.setattr(rawpy, "imread", lambda _: Raw())
    place = tmp_path / "frame.orf"
    place.write_bytes(b"IIRO")
    for kind in ("orf", ""):
        found = read_pixels(place, kind)
        assert np.array_equal(found.grey, np.rot90(picture(), turns))
        assert found.scale == pytest.approx(2.0)


def test_a_jpeg_preview_that_says_its_orientation_is_not_turned_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import rawpy

    exif = Image.Exif()
    exif[0x0112] = 6
    jpeg = saved(tmp_path / "preview.jpg", np.ascontiguousarray(np.rot90(picture())), exif=exif).read_bytes()

    class Raw:
        class sizes:  # noqa: N801
            width, height, flip = 320, 200, 6

        def __enter__(self) -> Raw:
            return self

        def __exit__(self, *_: object) -> None:
            return None

        def extract_thumb(self) -> object:
            return type("Preview", (), {"format": rawpy.ThumbFormat.JPEG, "data": jpeg})()

    monkeypatch.setattr(rawpy, "imread", lambda _: Raw())
    found = read_pixels(tmp_path / "preview.jpg", "orf")
    assert found.grey.shape == (200, 320)
    assert np.abs(found.grey.astype(float) - picture()).mean() < 6
