"""What all tests share: where real files lie, and small kits and tables made by hand."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from auditor.model.workspace import open_workspace
from auditor.pipeline.auditing import audit_workspace
from auditor.pipeline.demo import lay_out_sample
from auditor.pipeline.indexing import index_archives

PROJECT = Path(__file__).resolve().parent.parent


def _beside(variable: str, name: str) -> Path | None:
    """Find a folder of files that are not ours to pass on: where a variable says, else beside the project."""
    folder = Path(os.environ.get(variable) or PROJECT.parent / "shared" / name)
    return folder if folder.is_dir() else None


@pytest.fixture(scope="session")
def real_frames() -> Path:
    folder = _beside("STEADYKEEP_FRAMES", "frames")
    if folder is None:
        pytest.skip("the real camera files are not here; they are not ours to pass on")
    return folder


@pytest.fixture(scope="session")
def real_photos() -> Path:
    folder = _beside("STEADYKEEP_PHOTOS", "photos")
    if folder is None:
        pytest.skip("the real photographs are not here; they are not ours to pass on")
    return folder


@pytest.fixture(scope="session")
def sample_workspace(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Lay out, index and audit the sample library once; tests read it and write only to copies."""
    folder = lay_out_sample(tmp_path_factory.mktemp("sample") / "steadykeep-demo")
    opened = open_workspace(folder)
    index_archives(opened.archives, opened.store, jobs=1)
    audit_workspace(opened)
    return folder


@pytest.fixture
def own_workspace(sample_workspace: Path, tmp_path: Path) -> Path:
    """Copy the sample's workspace, without its pictures, for a test that writes to it."""
    folder = tmp_path / "workspace"
    shutil.copytree(sample_workspace, folder, ignore=shutil.ignore_patterns("archive"))
    return folder
