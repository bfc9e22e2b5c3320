"""Bodies that took frames and that no lens of the kit fits: what a new kit lacks first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from auditor.model.kit import Kit
from auditor.model.pairings import Pairing
from auditor.wording import counted

__all__ = ["Lensless", "lensless_bodies", "lensless_sentence"]

_BODIES_SHOWN, _VALUES_SHOWN = 3, 6


@dataclass(frozen=True)
class Lensless:
    """Frames of a body that no lens of the kit fits, and the values typed for them: mm and frames, most first."""

    frames: int
    typed: tuple[tuple[float, int], ...] = ()


def lensless_bodies(kit: Kit, pairings: Iterable[Pairing], frames: pd.DataFrame | None) -> dict[str, Lensless]:
    """
    Return the bodies that no lens of the kit fits, most frames first; those without frames left out.

    Parameters
    ----------
    kit : Kit
    pairings : iterable of Pairing
        What the kit allows.
    frames : DataFrame or None
        With ``body`` and, where it is known, ``setting_mm``; one row an audited frame.
    """
    if frames is None:
        return {}
    fitting = {pairing.body.id for pairing in pairings}
    counts = frames["body"].value_counts()
    lensless = {body.id: int(counts.get(body.id, 0)) for body in kit.bodies if body.id not in fitting}
    most_first = sorted(((key, count) for key, count in lensless.items() if count), key=lambda one: -one[1])
    return {key: Lensless(count, _typed(frames, key)) for key, count in most_first}


def _typed(frames: pd.DataFrame, body: str) -> tuple[tuple[float, int], ...]:
    if "setting_mm" not in frames:
        return ()
    own = frames["setting_mm"][(frames["body"] == body).to_numpy(bool, na_value=False)]
    counts = own.dropna().astype(float).round(1).value_counts().sort_index()
    counts = counts.sort_values(ascending=False, kind="stable").head(_VALUES_SHOWN)
    return tuple(zip(counts.index.tolist(), counts.tolist(), strict=True))


def lensless_sentence(found: Mapping[str, Lensless]) -> str:
    """
    Say which bodies lack a lens, what was typed on the first, and how to go on.

    Examples
    --------
    >>> print(lensless_sentence({"one": Lensless(340, ((50.0, 198), (85.0, 64)))}))
    no lens of the kit fits "one" (340 frames), so no lens can be told: add its lenses, and their adapters; \
typed on it: 50 mm (198 frames), 85 mm (64 frames)
    """
    named = [f'"{key}" ({counted(one.frames, "frame")})' for key, one in found.items()]
    more = f" and {len(named) - _BODIES_SHOWN} more" if len(named) > _BODIES_SHOWN else ""
    names = ", ".join(named[:_BODIES_SHOWN]) + more
    text = f"no lens of the kit fits {names}, so no lens can be told: add its lenses, and their adapters"
    first = next(iter(found))
    typed = ", ".join(f"{mm:g} mm ({counted(frames, 'frame')})" for mm, frames in found[first].typed)
    on = "it" if len(found) == 1 else f'"{first}"'
    return f"{text}; typed on {on}: {typed}" if typed else text
