"""A small archive on disk with its workspace: indexed and audited, with pictures that are nothing but Exif."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from PIL import Image

from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.auditing import audit_workspace
from auditor.pipeline.indexing import index_archives
from tests.kits import KIT_TEXT

START = dt.datetime(2026, 5, 2, 10, 0)
XMP = (
    '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/">'
    '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="" '
    'xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="3" xmlns:their="urn:theirs#" their:crop="1, 2"/></rdf:RDF>'
    "</x:xmpmeta>"
).encode()


def jpeg(path: Path, number: int) -> None:
    exif = Image.Exif()
    exif[0x0110] = "Silverline 2"
    details = exif.get_ifd(0x8769)
    details[0x9003] = f"{START + dt.timedelta(seconds=10 * number):%Y:%m:%d %H:%M:%S}"
    details[0x829A] = 1 / 60
    details[0x920A] = 50.0
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.new("RGB", (16, 12)).save(path, exif=exif)


def workspace_of(folder: Path, names: Sequence[str], *, log: str = "one,orla-50,m42-plain") -> Workspace:
    """Lay out frames by these names, ten seconds apart, all made with the lens that the log names."""
    archive = folder / "archive"
    archive.mkdir(parents=True)
    for number, name in enumerate(names):
        jpeg(archive / name, number)
    own = folder / "workspace"
    own.mkdir()
    (own / "kit.toml").write_text(KIT_TEXT, encoding="utf-8")
    (own / "log.csv").write_text(
        f"start,body,lens,adapter,aperture,setting_mm\n2026-05-02 09:59,{log},2.8,50\n", encoding="utf-8"
    )
    # The threshold is low, as it is not the pairing that is tested here.
    settings = f'[archives]\nmain = "{archive}"\n[sidecar]\nconfidence_at_least = 0.5\n'
    (own / "settings.toml").write_text(settings, encoding="utf-8")
    return audited(own)


def audited(folder: Path) -> Workspace:
    opened = open_workspace(folder)
    index_archives(opened.archives, opened.store, jobs=1)
    audit_workspace(opened)
    return opened


def contents(folder: Path) -> dict[str, bytes]:
    """Every file's content, by its path, hidden ones too."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}
