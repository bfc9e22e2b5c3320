"""How counts are written for people."""

from __future__ import annotations

__all__ = ["counted"]


def counted(number: int, one: str, more: str = "") -> str:
    """
    Return a count with its noun.

    Examples
    --------
    >>> counted(1, "frame"), counted(12400, "frame"), counted(2, "body", "bodies")
    ('1 frame', '12,400 frames', '2 bodies')
    """
    return f"{number:,} {one if number == 1 else more or f'{one}s'}"
