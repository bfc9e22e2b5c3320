"""One frame's measures from one look at half size, and from a second one at full size where that matters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.vision.edge_width import edge_width_px, sharp_fraction
from auditor.vision.kind import ANSWER_FROM, Decision, decide
from auditor.vision.looks import Look, blocks_to_look_at, look
from auditor.vision.moving import has_moving_subject

__all__ = ["FrameMeasures", "first_look", "measure", "needs_second_look", "second_look", "shake_trace"]

_AGREE_DEG = 25.0
_DIRECTIONAL = 0.25
_STANDS_OUT = 15.0
_SHORTEST_PX = 6.0
_SHORTEST_PATTERN_PX = 7.5  # patterns come in steps of a fifth: below this the motion may be shorter than 6 px
_NO_INKLING, _MAY_BE_SHARP = 0.45, 0.25


@dataclass(frozen=True)
class FrameMeasures:
    """
    What the pixels of a frame tell.

    Attributes
    ----------
    edge_width_px : float
        10–90 % width of edges at the crispest part; NaN when it cannot be told. [px of the full picture]
    sharp_fraction : float
        Share of the judged tiles that are about as crisp; NaN likewise. [-]
    kind : str
        sharp, shake, missed-focus, subject-moved, unknown.
    confidence : float
        How sure the kind is, 0–1. [-]
    direction_deg, length_px : float
        Of the shake; NaN when not sure.
    raw_edges : float
        For comparison inside one scene only.
    """

    edge_width_px: float
    sharp_fraction: float
    kind: str
    confidence: float
    direction_deg: float
    length_px: float
    raw_edges: float


def first_look(half: NDArray[np.uint8], scale: float = 2.0) -> Look:
    """Look at the whole frame at half size."""
    return look([half], scale)


def needs_second_look(first: Look) -> bool:
    """
    Tell whether the look at half size leaves open what blurred the frame.

    What it calls blurred is always looked at again, since it takes a soft subject for missed focus more often than the
    full picture does. Where it has no inkling at all, the full picture seldom has, and is not decoded for it.
    """
    decision = decide(first, full_size=False)
    if decision.shares and decision.confidence < _NO_INKLING and decision.shares[0] > _MAY_BE_SHARP:
        return False
    return decision.kind != "sharp"


def second_look(full: NDArray[np.uint8], scale: float, first: Look) -> Look:
    """Look at the parts of the full picture with the most and the crispest edges."""
    return look(blocks_to_look_at(full, first), scale)


def measure(first: Look, second: Look | None = None) -> FrameMeasures:
    """
    Say what the looks at a frame tell.

    Parameters
    ----------
    first : Look
        At half size.
    second : Look, optional
        At full size.

    Returns
    -------
    FrameMeasures

    Examples
    --------
    >>> nothing = first_look(np.zeros((300, 400), np.uint8))
    >>> measure(nothing).kind, measure(nothing).edge_width_px
    ('unknown', nan)
    """
    finest = second or first
    decision = decide(first, full_size=False) if second is None else _weighed(first, second)
    direction, length = shake_trace(decision, finest)
    kind, confidence = decision.kind, decision.confidence
    if kind in ("sharp", "unknown") and not _called_blurred(first, second) and _moved(first, second):
        kind, confidence = "subject-moved", ANSWER_FROM
    return FrameMeasures(
        edge_width_px=edge_width_px([edges.crispest for edges in finest.edges], finest.scale),
        sharp_fraction=sharp_fraction(first.edges[0]),
        kind=kind,
        confidence=confidence,
        direction_deg=direction,
        length_px=length,
        raw_edges=first.edges[0].everywhere.worst,
    )


def _weighed(first: Look, second: Look) -> Decision:
    """
    Return what the full picture tells, unless it calls sharp what half of it calls blurred.

    Trails of lights are thin and crisp across: they look sharp at full size. Of such frames hardly more than half were
    sharp where the rules were fitted, so nothing is said.
    """
    half, full = decide(first, full_size=False), decide(second, full_size=True)
    if full.kind == "sharp" and half.kind in ("shake", "missed-focus"):
        between = tuple((a + b) / 2 for a, b in zip(half.shares, full.shares, strict=True))
        return Decision("unknown", max(between), between)
    return full


def _called_blurred(first: Look, second: Look | None) -> bool:
    """Tell whether one of the looks calls the whole frame blurred: then no part of it is told from the rest."""
    kinds = [decide(first, full_size=False).kind] + ([decide(second, full_size=True).kind] if second else [])
    return bool({"shake", "missed-focus"} & set(kinds))


def _moved(first: Look, second: Look | None) -> bool:
    looks = [(first, False)] if second is None else [(first, False), (second, True)]
    return any(has_moving_subject(seen.points, seen.edges[0].crispest, full_size=full) for seen, full in looks)


def shake_trace(decision: Decision, finest: Look) -> tuple[float, float]:
    """
    Return direction and length of the shake, each NaN when not sure.

    Direction only when spectrum and edges name about the same one; length only when it also stands out.
    """
    untold = float("nan"), float("nan")
    motion = finest.motion
    if decision.kind != "shake" or motion is None or motion.anisotropy <= _DIRECTIONAL:
        return untold
    edges = finest.edges[0].everywhere.direction_deg
    apart = abs((motion.direction_deg - edges + 90) % 180 - 90)
    if not apart <= _AGREE_DEG or motion.length_px * finest.scale < _SHORTEST_PATTERN_PX:
        return untold
    sure = finest.length_stands_out > _STANDS_OUT and finest.length_px >= _SHORTEST_PX
    return motion.direction_deg % 180, finest.length_px if sure else float("nan")
