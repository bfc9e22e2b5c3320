"""What takes longer than a page may: worked out once a desk, in the background, while the page says so."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any, TypeVar

from auditor.errors import SteadykeepError
from auditor.model.workspace import Workspace
from dashboards.apart import MANY_FRAMES
from dashboards.desk import Desk

__all__ = ["PATIENCE_S", "Waiting", "is_awaited", "worked_out"]

Made = TypeVar("Made")

PATIENCE_S = 0.25
"""How long a page waits for what is worked out in the background. [s]"""

_MOST_THOUGHTS = 64


class Waiting(Exception):
    """What was asked for is still being worked out; its text is the key that it is held under."""


def worked_out(desk: Desk, key: str, make: Callable[[Workspace], Made], patience_s: float | None) -> Made:
    """Return what is worked out once a desk; raise Waiting where it takes longer than the patience."""
    workspace = desk.workspace
    if workspace is None:
        raise SteadykeepError("these pages were opened over tables alone, without a workspace")
    held = desk.worked_out
    if len(held) > _MOST_THOUGHTS:
        held.clear()
    own: Future[Any] = Future()
    found = held.setdefault(key, own)
    if found is own:
        threading.Thread(target=_make, args=(own, make, workspace), daemon=True).start()
    if patience_s and len(desk) >= MANY_FRAMES:
        patience_s = 0.0  # it would be spent in vain, and such a page takes a while by itself
    try:
        result: Made = found.result(patience_s)
    except TimeoutError as error:
        raise Waiting(key) from error
    return result


def _make(own: Future[Any], make: Callable[[Workspace], Any], workspace: Workspace) -> None:
    """Fill a future; what goes wrong is raised again where the result is asked for."""
    try:
        own.set_result(make(workspace))
    except SteadykeepError as error:
        own.set_exception(error)
    except BaseException as error:
        told = SteadykeepError(f"it ended in a way the program does not know: {error!r}. Please report it")
        told.__cause__ = error
        own.set_exception(told)


def is_awaited(desk: Desk, key: str) -> bool:
    """Return whether something is still being worked out for this desk: asking costs nothing."""
    found = desk.worked_out.get(key)
    return found is not None and not found.done()
