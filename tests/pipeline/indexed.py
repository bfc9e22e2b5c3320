"""An archive of small pictures in a test's folder, and its index."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from auditor.pipeline.indexing import IndexSummary, index_archives
from auditor.storage.datasets import read_table
from tests.readers import making


def picture(when: str = "2026:05:02 14:20:31", rating: int | None = None, model: str = "Silverline 2") -> bytes:
    exif = [entry for entry in making.EXPOSURE if entry[0] not in (0x9003, 0x9291)]
    block = making.tiff("<", [making.MAKE, (0x0110, 2, model)], [*exif, (0x9003, 2, when)])
    packets = [] if rating is None else [making.app1_xmp(making.xmp_packet(rating))]
    return making.jpeg(making.app1(block), *packets)


def raw(when: str = "2026:05:02 14:20:31") -> bytes:
    exif = [entry for entry in making.EXPOSURE if entry[0] not in (0x9003, 0x9291)]
    return making.tiff("<", [making.MAKE, making.MODEL], [*exif, (0x9003, 2, when)], 0x4F52)


class Archive:
    """An archive in a test's folder, and its index."""

    def __init__(self, folder: Path) -> None:
        self.root, self.store = folder / "archive", folder / "store"
        self.root.mkdir()

    def put(self, path: str, content: bytes, mtime_s: int = 1_777_000_000) -> Path:
        file = self.root / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)
        os.utime(file, (mtime_s, mtime_s))
        return file

    def index(self, **options: Any) -> IndexSummary:
        return index_archives({"main": self.root}, self.store, **options)

    def rows(self) -> dict[str, dict[str, Any]]:
        return {row["path"]: row for row in read_table(self.store, "frames").to_pylist()}


def counts(summary: IndexSummary) -> tuple[int, int, int, int, int]:
    return summary.frames, summary.new, summary.changed, summary.unchanged, summary.gone
