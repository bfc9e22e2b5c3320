"""What each folder of the archives looked like in the last index run; a folder that looks the same needs no more."""

from __future__ import annotations

import io
import marshal
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import blake2b
from typing import TypeAlias

import pyarrow as pa
import pyarrow.feather as feather

from auditor.readers.archive import Folder
from auditor.storage.datasets import Manifest
from auditor.storage.places import Place

__all__ = ["FolderKey", "KnownFolder", "digest", "folder_notes", "known_folders"]

_DIGEST_BYTES = 16

FolderKey: TypeAlias = tuple[str, str]
"""An archive, and a folder's path in it with a ``/`` at its end."""


@dataclass
class KnownFolder:
    """What a folder looked like: its digest, sidecars without a picture, files that are no pictures by content."""

    digest: bytes
    alone: int = 0
    no_pictures: int = 0


def known_folders(place: Place, manifest: Manifest) -> dict[FolderKey, KnownFolder]:
    """Return what the folders looked like in the last run; nothing when its notes do not hold any more."""
    content = place.read(manifest.notes) if manifest.notes else None
    if content is None:
        return {}
    columns = feather.read_table(io.BytesIO(content)).to_pydict()
    keys = zip(columns["archive"], columns["folder"], strict=True)
    values = zip(columns["digest"], columns["alone"], columns["no_pictures"], strict=True)
    return {key: KnownFolder(*value) for key, value in zip(keys, values, strict=True)}


def folder_notes(folders: Mapping[FolderKey, KnownFolder]) -> bytes:
    """Return what `known_folders` reads."""
    columns = {
        "archive": [archive for archive, _ in folders],
        "folder": [folder for _, folder in folders],
        "digest": [known.digest for known in folders.values()],
        "alone": [known.alone for known in folders.values()],
        "no_pictures": [known.no_pictures for known in folders.values()],
    }
    content = io.BytesIO()
    feather.write_feather(pa.table(columns), content, compression="zstd")
    return content.getvalue()


def digest(folder: Folder) -> bytes:
    """Return what changes when a name, a size or a time in a folder changes."""
    # In the order of the listing: it is the same for a folder that nobody touched, and another order only costs a look.
    return blake2b(marshal.dumps(folder.entries, 2), digest_size=_DIGEST_BYTES).digest()
