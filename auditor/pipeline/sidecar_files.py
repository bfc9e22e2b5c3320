"""Where sidecars lie, beside a frame or in the workspace's mirror of the archive, and reading them."""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path
from typing import NamedTuple
from urllib.parse import quote

from auditor.corrections.journal import Spot
from auditor.corrections.packet import MOST_BYTES, UnfitPacket
from auditor.model.workspace import Workspace
from auditor.readers.names import as_name

__all__ = ["MIRROR", "Listing", "list_folder", "read_sidecar", "sidecar_at"]

MIRROR = "sidecars"
"""Folder of the mirror in a workspace."""


def sidecar_at(workspace: Workspace, spot: Spot) -> Path:
    """
    Return a sidecar's file.

    Raises
    ------
    KeyError
        Its archive is not in settings.toml any more.
    """
    if spot.where == "beside":
        return workspace.archives[spot.archive] / as_name(spot.path)
    # An archive's name may hold what a folder's cannot, and must never lead out of the mirror.
    name = re.sub(r"[^\w .-]", lambda found: quote(found[0], safe=""), spot.archive)
    return workspace.folder / MIRROR / (name if name.strip(" .") else f"_{name}") / as_name(spot.path)


def read_sidecar(path: Path) -> bytes | None:
    """
    Return a sidecar's content, None when there is none.

    Raises
    ------
    UnfitPacket
        It is not a file, or far too large.
    OSError
        It cannot be read.
    """
    try:
        about = path.stat()
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(about.st_mode):
        raise UnfitPacket("is not a file")
    if about.st_size > MOST_BYTES:
        raise UnfitPacket(f"is larger than {MOST_BYTES >> 20} MB, too large for a sidecar")
    return path.read_bytes()


class Listing(NamedTuple):
    """What a folder of an archive holds: every name, and those of sidecars."""

    names: frozenset[str]
    sidecars: tuple[str, ...]


def list_folder(folder: Path) -> Listing:
    """
    List a folder of an archive.

    Raises
    ------
    OSError
        It cannot be read.
    """
    names = frozenset(os.listdir(folder))  # noqa: PTH208  (names as str, undecodable bytes and all)
    return Listing(names, tuple(name for name in names if name[-4:].lower() == ".xmp"))
