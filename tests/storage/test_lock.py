"""One writer at a time."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from auditor.errors import StoreError
from auditor.storage.lock import StoreLocked, locked
from auditor.storage.places import place_at

HOLD = """
import sys, time
from pathlib import Path
from auditor.storage.lock import locked
with locked(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def holder(store: Path) -> subprocess.Popen[str]:
    process = subprocess.Popen([sys.executable, "-c", HOLD, str(store)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    process.stdout.close()
    return process


def test_the_second_is_told_who_holds_it_and_since_when(tmp_path: Path) -> None:
    process = holder(tmp_path)
    try:
        with pytest.raises(StoreLocked, match=f"process {process.pid} on {socket.gethostname()}, since 2") as caught:
            locked(tmp_path).__enter__()
        assert caught.value.note["process"] == process.pid
    finally:
        process.kill()
        process.wait()


def test_a_lock_whose_holder_was_killed_is_taken_over_and_told(tmp_path: Path) -> None:
    process = holder(tmp_path)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    time.sleep(0.05)
    with locked(tmp_path) as left_behind:
        assert left_behind is not None
        assert left_behind["process"] == process.pid
    with locked(tmp_path) as left_behind:
        assert left_behind is None


def test_an_error_in_the_block_gives_the_lock_back(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError, match="inside"), locked(tmp_path):
        raise RuntimeError("inside")
    with locked(tmp_path) as left_behind:
        assert left_behind is None


def test_a_store_that_cannot_be_made_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="cannot be written"):
        locked(tmp_path / "file" / "store").__enter__()


def test_behind_a_url_a_note_is_the_lock(tmp_path: Path) -> None:
    store = place_at(f"memory://{tmp_path.name}")
    with locked(store), pytest.raises(StoreLocked, match=f"process {os.getpid()}"):
        locked(store).__enter__()
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    note = json.dumps({"holder": "h", "process": ended.pid, "computer": socket.gethostname(), "since": "then"}).encode()
    store.write("lock", lambda stream: stream.write(note))
    with locked(store) as left_behind:
        assert left_behind is not None
        assert left_behind["since"] == "then"
    elsewhere = note.replace(socket.gethostname().encode(), b"another-computer")
    store.write("lock", lambda stream: stream.write(elsewhere))
    with pytest.raises(StoreLocked, match="another-computer"):
        locked(store).__enter__()
