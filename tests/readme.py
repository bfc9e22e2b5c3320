"""
The README's printed output, as the program prints it now.

Run ``python -m tests.readme`` to put it in; a test holds that it is so.
"""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import sys
import tempfile
from pathlib import Path

from auditor.cli import main

README = Path(__file__).resolve().parent.parent / "README.md"
_BLOCK = re.compile(r"```\n\$ steadykeep ([^\n]+)\n```\n<!-- output -->\n```\n(.*?)```\n", re.DOTALL)
# What differs from run to run: how long it took and how fast that was.
_TIMING = re.compile(r"[\d.]+ s(, [\d,]+ a second)?\.")


def commands(text: str) -> list[tuple[str, str]]:
    """Return each command that the README shows with output, and that output."""
    return [(command, output) for command, output in _BLOCK.findall(text)]


def output_of(command: str, folder: Path) -> str:
    """Run a command of the README in a folder and return what it prints on standard output."""
    out = io.StringIO()
    with contextlib.chdir(folder), contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        status = main(shlex.split(command))
    assert status == 0, command
    return "".join(line.rstrip() + "\n" for line in out.getvalue().splitlines())


def without_timing(text: str) -> str:
    return _TIMING.sub("… s.", text)


def rewritten(text: str, folder: Path) -> str:
    def fresh(found: re.Match[str]) -> str:
        printed = output_of(found[1], folder)
        shown = found[2] if without_timing(printed) == without_timing(found[2]) else printed
        return found[0].replace(f"<!-- output -->\n```\n{found[2]}```", f"<!-- output -->\n```\n{shown}```")

    return _BLOCK.sub(fresh, text)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        README.write_text(rewritten(README.read_text(encoding="utf-8"), Path(place)), encoding="utf-8")
    sys.stdout.write(f"{README} holds what the program prints now\n")
