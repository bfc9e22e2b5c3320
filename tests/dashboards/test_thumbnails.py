from __future__ import annotations

import dataclasses
import hashlib
import io
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from auditor.model.kit import Kit
from auditor.model.log import Log
from auditor.model.settings import Settings
from auditor.model.workspace import Workspace
from dashboards.app import create_app
from dashboards.desk import Desk, desk_of
from dashboards.thumbnails import Thumbnails, key_of, no_picture, picture_file, place_of
from tests.dashboards.desks import audit_table, frames_table


def photograph(width: int = 1200, height: int = 800, orientation: int = 1) -> bytes:
    """A JPEG, red on its left and blue on its right half as stored."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[:, : width // 2, 0] = pixels[:, width // 2 :, 2] = 220
    exif = Image.Exif()
    exif[0x0112] = orientation
    held = io.BytesIO()
    Image.fromarray(pixels).save(held, "JPEG", exif=exif)
    return held.getvalue()


def desk_over(folder: Path, *paths: str) -> Desk:
    archive = folder / "archive"
    archive.mkdir(exist_ok=True)
    settings = Settings(archives={"main": str(archive)})
    workspace = Workspace(folder, Kit(), Log(), settings)
    rows = [{"path": path, "size": 1, "mtime_ns": number} for number, path in enumerate(paths)]
    flags = [{"path": path, "flags": ["pairing-unknown"]} for path in paths]
    return dataclasses.replace(desk_of(frames_table(rows), audit_table(flags)), workspace=workspace)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    laid = desk_over(
        tmp_path, "one.jpg", "upright.jpg", "broken.jpg", "gone.jpg", "../outside.jpg", "link.jpg", "bomb.png"
    )
    archive = tmp_path / "archive"
    (archive / "one.jpg").write_bytes(photograph())
    (archive / "upright.jpg").write_bytes(photograph(orientation=6))
    (archive / "broken.jpg").write_bytes(photograph()[:300])
    (tmp_path / "outside.jpg").write_bytes(photograph())
    (archive / "link.jpg").symlink_to(tmp_path / "outside.jpg")
    (archive / "bomb.png").write_bytes(bomb())
    return laid


def bomb() -> bytes:
    """A PNG that claims 60 000 by 60 000 pixels and holds none of them."""
    held = io.BytesIO()
    Image.new("L", (1, 1)).save(held, "PNG")
    content = bytearray(held.getvalue())
    content[16:24] = (60_000).to_bytes(4, "big") * 2
    content[29:33] = __import__("zlib").crc32(bytes(content[12:29])).to_bytes(4, "big")
    return bytes(content)


def made(desk: Desk, place: int, size: str = "small") -> Image.Image | None:
    assert desk.workspace is not None
    content = Thumbnails(desk.workspace.store / "pictures").ask(desk, place, size).result(timeout=20)
    return None if content is None else Image.open(io.BytesIO(content))


def test_a_picture_is_reduced_and_turned_upright(desk: Desk) -> None:
    flat, upright = made(desk, 0), made(desk, 1)
    assert flat is not None
    assert upright is not None
    assert (flat.format, flat.size) == ("WEBP", (320, 213))
    assert upright.size == (213, 320)
    # Orientation 6: the stored left side is shown on top (CIPA DC-008, Orientation).
    red, _, blue = upright.convert("RGB").getpixel((100, 20))  # type: ignore[misc]
    assert red > 180 > 60 > blue


def test_a_large_one_is_larger(desk: Desk) -> None:
    assert made(desk, 0, "large").size == (1200, 800)  # type: ignore[union-attr]


@pytest.mark.parametrize("place", [2, 3, 4, 5, 6], ids=["broken", "gone", "outside", "link leads out", "bomb"])
def test_what_cannot_or_must_not_be_shown_has_no_picture(desk: Desk, place: int) -> None:
    assert made(desk, place) is None


def test_nothing_outside_the_archive_is_named(desk: Desk) -> None:
    assert picture_file(desk, 0) is not None
    assert picture_file(desk, 4) is None
    assert picture_file(desk, 5) is None
    assert picture_file(dataclasses.replace(desk, workspace=None), 0) is None


def test_a_picture_is_kept_by_its_content_and_found_again(desk: Desk, tmp_path: Path) -> None:
    source = tmp_path / "archive" / "one.jpg"
    before = hashlib.sha256(source.read_bytes()).hexdigest()
    assert made(desk, 0) is not None
    kept = list((tmp_path / "store" / "pictures").rglob("*.webp"))
    assert [file.stem for file in kept] == [before]
    source.unlink()
    source.symlink_to(tmp_path / "archive" / "upright.jpg")  # opening it would give another picture
    assert made(desk, 0).size == (320, 213)  # type: ignore[union-attr]


def test_a_deleted_store_is_made_again(desk: Desk, tmp_path: Path) -> None:
    made(desk, 0)
    shutil.rmtree(tmp_path / "store")
    assert made(desk, 0) is not None


def test_the_archive_is_only_read(desk: Desk, tmp_path: Path) -> None:
    before = sorted((file.name, file.lstat().st_mtime_ns) for file in (tmp_path / "archive").iterdir())
    for place in range(len(desk)):
        made(desk, place)
    assert sorted((file.name, file.lstat().st_mtime_ns) for file in (tmp_path / "archive").iterdir()) == before


def test_a_key_names_one_state_of_one_file(desk: Desk) -> None:
    key = key_of(desk, 1)
    assert place_of(desk, key) == 1
    assert key_of(desk, 0).split("-")[1] != key.split("-")[1]


@pytest.mark.parametrize(
    "key", ["", "1", "1-", "1-00", "-1-00", "99999-00", "١-00", "9" * 30, "../1", "1-../../etc/passwd"]
)
def test_any_other_key_names_nothing(desk: Desk, key: str) -> None:
    assert place_of(desk, key) is None


def test_pictures_over_the_web(desk: Desk) -> None:
    client = create_app(desk).server.test_client()
    shown = client.get(f"/picture/small/{key_of(desk, 0)}.webp")
    assert (shown.status_code, shown.mimetype) == (200, "image/webp")
    assert "immutable" in shown.headers["Cache-Control"]
    none = client.get(f"/picture/small/{key_of(desk, 2)}.webp")
    assert (none.status_code, none.data) == (200, no_picture(None))
    for address in (f"/picture/huge/{key_of(desk, 0)}.webp", "/picture/small/0-00.webp", "/picture/small/../x.webp"):
        assert client.get(address).status_code == 404


@pytest.mark.real_frames
def test_a_raw_file_shows_the_picture_that_its_camera_put_in(real_frames: Path, tmp_path: Path) -> None:
    pytest.importorskip("rawpy", reason="the extra 'pixels' is not installed")
    raws = sorted(file for file in (real_frames / "raw").iterdir() if file.suffix.lower() in {".arw", ".dng"})
    desk = desk_over(tmp_path, *(file.name for file in raws))
    for file in raws:
        shutil.copyfile(file, tmp_path / "archive" / file.name)
    shown = [picture is not None for picture in (made(desk, place) for place in range(len(desk)))]
    if not raws:
        pytest.skip("no raw file of a kind that holds a JPEG")
    assert sum(shown) >= 2, dict(zip([file.name for file in raws], shown, strict=True))


def test_a_heif_has_a_preview_and_without_the_library_says_what_it_needs(
    tmp_path: Path, real_frames: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("pi_heif")
    source = min((real_frames / "heic").rglob("*.[hH][eE][iI][cC]"), key=lambda file: file.stat().st_size)
    desk = desk_over(tmp_path, "one.heic")
    (tmp_path / "archive" / "one.heic").write_bytes(source.read_bytes())
    picture = made(desk, 0)
    assert picture is not None
    assert max(picture.size) == 320
    assert np.asarray(picture).std() > 5  # something is on it
    monkeypatch.setattr("dashboards.thumbnails._installed", lambda _library: False)
    assert made(desk_over(tmp_path, "one.heic"), 0) is not None  # kept from before
    shutil.rmtree(tmp_path / "store")
    assert made(desk, 0) is None
    assert b"steadykeep[pixels]" in no_picture(tmp_path / "archive" / "one.heic")
    assert b"steadykeep[pixels]" in no_picture(tmp_path / "any.orf")
    assert b"steadykeep" not in no_picture(tmp_path / "any.jpg")


def test_a_damaged_or_absurd_heif_has_no_preview(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("pi_heif")
    desk = desk_over(tmp_path, "cut.heic")
    (tmp_path / "archive" / "cut.heic").write_bytes(b"\0\0\0\x18ftypheic" + b"\0" * 40)
    assert made(desk, 0) is None

    class Vast:
        size = (60_000, 60_000)

    monkeypatch.setattr("pi_heif.open_heif", lambda *_args, **_options: Vast())
    assert made(desk, 0) is None
