"""Asks exiv2's XMP toolkit, which runs in a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

Said = list[tuple[str, str, str]]


class Toolkit:
    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process

    def _ask(self, question: dict[str, Any]) -> Any:
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.write(json.dumps(question) + "\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())

    def read(self, content: bytes) -> Said:
        found = self._ask({"read": content.decode()})
        assert found is not None, "the toolkit refuses the packet"
        return sorted(tuple(row) for row in found)

    def make(self, properties: list[tuple[str, str, Any]], *, compact: bool = False) -> bytes:
        return str(self._ask({"make": properties, "compact": compact})).encode()


@contextmanager
def toolkit() -> Iterator[Toolkit]:
    worker = Path(__file__).with_name("exiv2_worker.py")
    with subprocess.Popen(
        [sys.executable, str(worker)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8"
    ) as process:
        yield Toolkit(process)
        assert process.stdin
        process.stdin.close()
