"""
The walk through an archive: which frames there are, without opening a picture.

A raw file and the JPEG or HEIF of the same stem in the same folder are supposed to be one exposure, the raw file first;
a sidecar belongs to the picture whose name it bears (``a.orf.xmp``), or to every picture of its stem (``a.xmp``).
Names only say what is worth opening: what a file is, its content says. A file with an ending that no camera and no
other program is known for is opened to see.

Symbolic links are followed, folders after all real ones, and no folder is entered twice: a loop ends, and a folder
that is linked elsewhere is not counted double. Hidden files and folders (a leading dot, and the thumbnail folders of
network disks) are left out.
"""

from __future__ import annotations

import os
import stat
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from auditor.readers.frames import File, Frame
from auditor.readers.names import as_text
from auditor.readers.problems import Skipped
from auditor.readers.remote import is_remote, list_folder

__all__ = ["Folder", "Walk", "frames_in", "walk"]

_RAW = "3fr arw cr2 cr3 crw dcr dng erf fff gpr iiq kdc mef mos mrw nef nrw orf ori pef raf raw rw2 rwl sr2 srf srw x3f"
_RENDERED = "jpg jpeg jpe heic heif hif"
_OTHER_PICTURES = "tif tiff avif jxl webp png mpo"
_NO_PICTURES = (
    "aae acr afphoto ai aiff avi bak bmp bup cdr cos cmd cop comask copy csv ctg dat db ddoc doc docx dop eip exe gif "
    "gpx gz htm html icc icm ifo ini insv iso json key kmz lnk log lrcat lrdata lrf lrv m2ts m4a m4v md mdb mkv mov "
    "mp3 mp4 mpg mpl mts numbers odt ods on1 ots pages pdf pp3 ppt pptx psb psd rar rtf sav sh sql srt svg tar thm tmp "
    "toml tsv txt url vcf vob vrd wav wmv xcf xls xlsx xml yaml yml zip 7z"
)
_KINDS = {
    **dict.fromkeys(_RAW.split(), "raw"),
    **dict.fromkeys(_RENDERED.split(), "rendered"),
    **dict.fromkeys(_OTHER_PICTURES.split(), "picture"),
    **dict.fromkeys(_NO_PICTURES.split(), "none"),
    "xmp": "sidecar",
}
_KINDS.update({ending.upper(): kind for ending, kind in tuple(_KINDS.items())})
_THUMBNAIL_FOLDERS = frozenset({"@eaDir", "#recycle", "$RECYCLE.BIN", "System Volume Information", "__MACOSX"})

Entry = tuple[str, int, int]
"""Name, size [byte], time [ns]."""


@dataclass
class Folder:
    """
    What one folder of an archive holds directly.

    Attributes
    ----------
    path : str
        Inside the archive, with a ``/`` at its end, as Python's `os` functions give it; empty for the archive itself.
    entries : dict
        Pictures and sidecars by kind: raw, rendered, picture, doubtful, sidecar.
    skipped : Counter
        What else there is, by reason.
    """

    path: str
    entries: dict[str, list[Entry]] = field(default_factory=dict)
    skipped: Counter[str] = field(default_factory=Counter)


@dataclass
class Walk:
    """State of one walk: what is still to be entered, and what was."""

    root: str
    to_enter: list[str] = field(default_factory=lambda: [""])
    links: list[str] = field(default_factory=list)
    entered: set[tuple[int, int]] = field(default_factory=set)


def _kind(name: str) -> str:
    ending = name.rpartition(".")[2]
    kind = _KINDS.get(ending)
    if kind is None:
        kind = _KINDS.get(ending.lower(), "doubtful")
    return kind


def _note_file(folder: Folder, name: str, size: int, mtime_ns: int) -> None:
    kind = _kind(name)
    if kind == "none":
        folder.skipped[Skipped.NOT_A_PICTURE.value] += 1
        return
    entry = (name, size, mtime_ns)
    of_kind = folder.entries.get(kind)
    if of_kind is None:
        folder.entries[kind] = [entry]
    else:
        of_kind.append(entry)


def _note_link(walk: Walk, folder: Folder, entry: os.DirEntry[str]) -> None:
    try:
        about = entry.stat()
    except OSError:  # it leads nowhere, or to itself
        folder.skipped[Skipped.DEAD_LINK.value] += 1
        return
    if stat.S_ISDIR(about.st_mode):
        walk.links.append(f"{folder.path}{entry.name}/")
    elif stat.S_ISREG(about.st_mode):
        _note_file(folder, entry.name, about.st_size, about.st_mtime_ns)
    else:
        folder.skipped[Skipped.NOT_A_FILE.value] += 1


def _note(walk: Walk, folder: Folder, entry: os.DirEntry[str], deeper: list[str]) -> None:
    name = entry.name
    if name[0] == "." or name in _THUMBNAIL_FOLDERS:
        folder.skipped[Skipped.HIDDEN.value] += 1
    elif entry.is_symlink():
        _note_link(walk, folder, entry)
    elif entry.is_dir(follow_symlinks=False):
        deeper.append(f"{folder.path}{name}/")
    elif entry.is_file(follow_symlinks=False):
        try:
            about = entry.stat(follow_symlinks=False)
        except OSError:  # gone since the folder was listed
            return
        _note_file(folder, name, about.st_size, about.st_mtime_ns)
    else:
        folder.skipped[Skipped.NOT_A_FILE.value] += 1


def _enter(walk: Walk, path: str) -> Folder:
    folder = Folder(path)
    where = os.path.join(walk.root, path)  # noqa: PTH118  (a str is what scandir takes and gives)
    try:
        about = os.stat(where)  # noqa: PTH116
        identity = (about.st_dev, about.st_ino)
        if identity in walk.entered:
            folder.skipped[Skipped.FOLDER_SEEN.value] += 1
            return folder
        if about.st_ino:  # some network disks have no numbers for their folders
            walk.entered.add(identity)
        deeper: list[str] = []
        with os.scandir(where) as entries:
            for entry in entries:
                _note(walk, folder, entry, deeper)
    except OSError:
        folder.skipped[Skipped.FOLDER_CLOSED.value] += 1
        return folder
    walk.to_enter.extend(sorted(deeper, reverse=True))
    return folder


def _enter_remote(root: str, path: str, to_enter: list[str]) -> Folder:
    folder = Folder(path)
    deeper: list[str] = []
    for name, is_folder, size, mtime_ns in list_folder(root, path):
        if name[0] == "." or name in _THUMBNAIL_FOLDERS:
            folder.skipped[Skipped.HIDDEN.value] += 1
        elif is_folder:
            deeper.append(f"{path}{name}/")
        else:
            _note_file(folder, name, size, mtime_ns)
    to_enter.extend(sorted(deeper, reverse=True))
    return folder


def _walk_remote(root: str) -> Iterator[Folder]:
    to_enter = [""]
    yield _enter_remote(root, to_enter.pop(), to_enter)
    while to_enter:
        path = to_enter.pop()
        try:
            yield _enter_remote(root, path, to_enter)
        except OSError:
            yield Folder(path, skipped=Counter({Skipped.FOLDER_CLOSED.value: 1}))


def walk(root: str) -> Iterator[Folder]:
    """
    Walk through an archive, folder by folder in the order of their names, linked folders last.

    Parameters
    ----------
    root : str
        The archive's folder or fsspec URL.

    Yields
    ------
    Folder
        Also for a folder that holds nothing or cannot be read; then `skipped` says so.

    Raises
    ------
    OSError
        The archive's own folder cannot be read.
    """
    if is_remote(root):
        yield from _walk_remote(root)
        return
    os.scandir(root).close()
    state = Walk(root)
    while state.to_enter or state.links:
        yield _enter(state, state.to_enter.pop() if state.to_enter else state.links.pop(0))


def _sidecars(folder: Folder) -> dict[str, list[Entry]]:
    """Return the sidecars of a folder by the name they bear, without their own ending."""
    found: dict[str, list[Entry]] = {}
    for entry in folder.entries.get("sidecar", ()):
        found.setdefault(entry[0][:-4], []).append(entry)
    return found


def _file(folder: Folder, entry: Entry, sidecars: dict[str, list[Entry]], used: set[str]) -> File:
    name, size, mtime_ns = entry
    path = as_text(folder.path + name)
    if not sidecars:
        return File(path, size, mtime_ns)
    stem = name.rpartition(".")[0]
    own = [*sidecars.get(name, ()), *sidecars.get(stem, ())]
    used.update(sidecar[0] for sidecar in own)
    newest_ns = max([mtime_ns, *(sidecar[2] for sidecar in own)])
    return File(path, size, newest_ns, tuple(as_text(folder.path + sidecar[0]) for sidecar in own))


def _companions(folder: Folder) -> dict[str, Entry]:
    """Return which JPEG or HEIF goes with which raw file, by the raw file's name."""
    raws: dict[str, Entry] = {}
    for entry in sorted(folder.entries.get("raw", ()), key=lambda entry: (_kind_rank(entry[0]), entry[0])):
        raws.setdefault(entry[0].rpartition(".")[0], entry)
    pairs: dict[str, Entry] = {}
    if raws:
        for entry in sorted(folder.entries.get("rendered", ()), key=lambda entry: (_kind_rank(entry[0]), entry[0])):
            raw = raws.get(entry[0].rpartition(".")[0])
            if raw is not None:
                pairs.setdefault(raw[0], entry)
    return pairs


def _kind_rank(name: str) -> int:
    """Cameras write a raw format of their own and JPEG; DNG and HEIF beside them come second."""
    return name.rpartition(".")[2].lower() in ("dng", "heic", "heif", "hif")


def frames_in(folder: Folder) -> list[Frame]:
    """
    Return the frames that a folder holds, in the order of their names; sidecars that belong to none are counted.

    Examples
    --------
    >>> folder = Folder("day/", {"raw": [("a.orf", 9, 1)], "rendered": [("a.jpg", 5, 2)], "sidecar": [("a.xmp", 1, 7)]})
    >>> [frame] = frames_in(folder)
    >>> frame.file.path, frame.companion.path, frame.file.mtime_ns
    ('day/a.orf', 'day/a.jpg', 7)
    """
    sidecars = _sidecars(folder)
    used: set[str] = set()
    pairs = _companions(folder)
    paired = {entry[0] for entry in pairs.values()}
    frames: list[Frame] = []
    for kind, entries in folder.entries.items():
        if kind == "sidecar":
            continue
        for entry in entries:
            if entry[0] in paired:
                continue
            companion = pairs.get(entry[0])
            frames.append(
                Frame(
                    _file(folder, entry, sidecars, used),
                    _file(folder, companion, sidecars, used) if companion else None,
                    kind == "doubtful",
                )
            )
    alone = sum(len(entries) for entries in sidecars.values()) - len(used)
    if alone:
        folder.skipped[Skipped.SIDECAR_ALONE.value] += alone
    frames.sort(key=lambda frame: frame.file.path)
    return frames
