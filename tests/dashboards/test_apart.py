from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.errors import InputError, SteadykeepError
from dashboards.apart import MANY_FRAMES, apart


def process(_folder: Path) -> int:
    return os.getpid()


def refuse(folder: Path) -> None:
    raise InputError(f"{folder.name}: refused", ["line 3"])


def end_at_once(_folder: Path) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def test_few_frames_are_worked_on_here_and_many_in_a_process_of_their_own(tmp_path: Path) -> None:
    assert apart(process, tmp_path, frames=MANY_FRAMES - 1) == os.getpid()
    assert apart(process, tmp_path, frames=MANY_FRAMES) != os.getpid()


@pytest.mark.parametrize("frames", [1, MANY_FRAMES])
def test_what_a_step_refuses_is_said_from_there_too(tmp_path: Path, frames: int) -> None:
    with pytest.raises(InputError, match="refused\n  line 3"):
        apart(refuse, tmp_path, frames=frames)


def test_a_process_ended_from_outside_is_told(tmp_path: Path) -> None:
    with pytest.raises(SteadykeepError, match="ended from outside"):
        apart(end_at_once, tmp_path, frames=MANY_FRAMES)


WAITS_FOR_EVER = """
import sys, time
from pathlib import Path
from dashboards.apart import MANY_FRAMES, apart
from tests.dashboards.test_apart import say_and_wait
if __name__ == "__main__":
    apart(say_and_wait, Path(sys.argv[1]), frames=MANY_FRAMES)
"""


def say_and_wait(folder: Path) -> None:
    (folder / "process").write_text(str(os.getpid()), encoding="utf-8")
    (folder / "process").rename(folder / "said")
    time.sleep(600)


def lives(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    status = Path(f"/proc/{process}/stat")
    return not (status.exists() and status.read_text(encoding="utf-8").rpartition(")")[2].split()[0] == "Z")


def until(is_so: Callable[[], bool]) -> bool:
    for _ in range(600):
        if is_so():
            return True
        time.sleep(0.1)
    return False


def test_the_process_does_not_outlive_pages_that_were_killed(tmp_path: Path) -> None:
    (tmp_path / "pages.py").write_text(WAITS_FOR_EVER, encoding="utf-8")
    house = Path(__file__).parents[2]
    pages = subprocess.Popen(
        [sys.executable, str(tmp_path / "pages.py"), str(tmp_path)], env={**os.environ, "PYTHONPATH": str(house)}
    )
    try:
        assert until((tmp_path / "said").exists)
        working = int((tmp_path / "said").read_text(encoding="utf-8"))
        assert lives(working)
    finally:
        pages.kill()
        pages.wait()
    assert until(lambda: not lives(working))
