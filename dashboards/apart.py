"""Work over many frames in a process of its own: what memory it took is given back when it ends."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait
from typing import TypeVar

from auditor.errors import SteadykeepError

__all__ = ["MANY_FRAMES", "apart"]

Made = TypeVar("Made")

MANY_FRAMES = 200_000
"""From here on the second that a new process takes to begin is small beside the work."""


def apart(step: Callable[..., Made], *given: object, frames: int) -> Made:
    """
    Run a step, in a process of its own where it is about many frames.

    Parameters
    ----------
    step : callable
        A function of a module, so that another process finds it.
    *given : object
        What it is given; like what it returns, of a kind that can be sent between processes.
    frames : int
        How many the step is about.

    Raises
    ------
    SteadykeepError
        What the step raises; or its process was ended from outside, as where memory runs out.
    """
    if frames < MANY_FRAMES:
        return step(*given)
    with ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_leave_with_the_pages) as pool:
        try:
            return pool.submit(step, *given).result()
        except BrokenProcessPool as error:
            raise SteadykeepError(
                "The work was ended from outside, as where memory runs out; what was stored before is untouched"
            ) from error


def _leave_with_the_pages() -> None:
    """End this process when the one that began it has ended, however it did: nobody would take what it works out."""
    pages = parent_process()
    if pages is not None:
        threading.Thread(target=_leave_after, args=(pages.sentinel,), daemon=True).start()


def _leave_after(sentinel: int) -> None:
    wait([sentinel])
    os._exit(1)
