"""What all tests share: where real files lie, and small kits and tables made by hand."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

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
