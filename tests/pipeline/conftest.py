from __future__ import annotations

from pathlib import Path

import pytest

from auditor.readers import frames as frame_reading
from tests.pipeline.indexed import Archive


@pytest.fixture
def archive(tmp_path: Path) -> Archive:
    return Archive(tmp_path)


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the files that the index opens."""
    seen: list[str] = []
    real = frame_reading._open

    def note(root: str, path: str) -> int:
        seen.append(path)
        return real(root, path)

    monkeypatch.setattr(frame_reading, "_open", note)
    return seen
