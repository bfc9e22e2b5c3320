"""What else in the kit could have made a frame: lenses whose focal length, aperture and close focus reach it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.model.kit import Lens
from auditor.model.pairings import Pairing
from auditor.model.settings import Plan

__all__ = ["Cover", "WhatIf", "cover_of", "in_reach", "what_if"]

Mask = npt.NDArray[np.bool_]
_CLOSE_SLACK = 1.1


@dataclass(frozen=True)
class Cover:
    """
    Who could stand in for a lens.

    Attributes
    ----------
    frames : int
        Keepers of the lens with a known focal length (all its frames, where it has no keeper).
    covered : float
        Share of them that another lens of the kit reaches, 0-1; NaN where none is known.
    without : int
        Those that no other lens reaches: what would have been lost without it.
    by : tuple of (lens id, share)
        Who reaches how much, most first.
    """

    frames: int
    covered: float
    without: int
    by: tuple[tuple[str, float], ...]


def in_reach(frames: pd.DataFrame, lens_ids: Sequence[str], pairings: Sequence[Pairing], plan: Plan) -> Mask:
    """
    Tell which lenses could have made which frames.

    Parameters
    ----------
    frames : DataFrame
        ``body`` (category), ``effective_focal_mm``, ``used_f_number``, ``distance_m``.
    lens_ids : sequence of str
        Lenses asked about.
    pairings : sequence of Pairing
        What the kit allows.
    plan : Plan
        ``reach_percent`` and ``reach_stops``.

    Returns
    -------
    bool array, shape (frames, lenses)
        True where one pairing of the lens on the frame's body has the focal length within reach, opens wide enough
        (where the f-number used and the lens's are known) and focuses close enough (where both are known).
    """
    key = pd.DataFrame(
        {
            "body": frames["body"].cat.codes,
            "focal": np.round(np.log2(frames["effective_focal_mm"].to_numpy(np.float64)) * 50.0),
            "f_number": np.round(np.log2(frames["used_f_number"].to_numpy(np.float64)) * 6.0),
            "distance": np.round(np.log2(frames["distance_m"].to_numpy(np.float64)) * 10.0),
        }
    ).fillna(-999.0)
    alike, number = np.unique(key.to_numpy(np.float64), axis=0, return_inverse=True)
    bodies = [str(name) for name in frames["body"].cat.categories]
    reached = np.zeros((len(alike), len(lens_ids)), bool)
    focal, f_number, distance = (
        np.where(alike[:, place] == -999.0, np.nan, 2.0 ** (alike[:, place] / scale))
        for place, scale in ((1, 50.0), (2, 6.0), (3, 10.0))
    )
    for pairing in pairings:
        if pairing.lens.id not in lens_ids or pairing.body.id not in bodies:
            continue
        on_body = alike[:, 0] == bodies.index(pairing.body.id)
        fits = _reaches(pairing, (focal, f_number, distance), plan)
        reached[:, lens_ids.index(pairing.lens.id)] |= on_body & fits
    return np.asarray(reached[number.ravel()])


def _reaches(pairing: Pairing, used: tuple[npt.NDArray[np.float64], ...], plan: Plan) -> Mask:
    focal, f_number, distance = used
    short, long = pairing.effective_focal_mm
    near = plan.reach_percent / 100.0
    fits = (focal >= short * (1.0 - near)) & (focal <= long * (1.0 + near))
    widest = pairing.lens.max_aperture
    if widest is not None:
        fits &= ~(widest * pairing.factor > f_number * 2.0 ** (plan.reach_stops / 2.0))
    closest = pairing.lens.close_focus_m
    if closest is not None:
        fits &= ~(closest > distance * _CLOSE_SLACK)
    return np.asarray(fits)


def cover_of(
    condensed: pd.DataFrame, lens_id: str, lenses: Sequence[Lens], pairings: Sequence[Pairing], plan: Plan
) -> Cover:
    """
    Tell how far the rest of the kit covers what a lens was used for.

    Parameters
    ----------
    condensed : DataFrame
        Columns of `auditor.audit.condensed.CONDENSED`, of this lens alone.
    lens_id : str
        The lens.
    lenses : sequence of Lens
        Those still owned.
    pairings, plan
        As in `in_reach`.
    """
    others = [lens.id for lens in lenses if lens.id != lens_id]
    used = condensed[condensed["kept"] == 1]
    used = (used if len(used) else condensed).dropna(subset=["effective_focal_mm"])
    if not len(used) or not others:
        return Cover(len(used), 0.0 if len(used) else float("nan"), len(used), ())
    reached = in_reach(used, others, pairings, plan)
    covered = reached.any(axis=1)
    share = reached.mean(axis=0)
    by = tuple((others[place], float(share[place])) for place in np.argsort(-share, kind="stable") if share[place] > 0)
    return Cover(len(used), float(covered.mean()), int((~covered).sum()), by)


@dataclass(frozen=True)
class WhatIf:
    """
    Keepers before and after some lenses were sold.

    Attributes
    ----------
    sold : tuple of str
        Lenses sold in thought.
    keepers : int
        Keepers made with lenses of the kit, of known focal length.
    before, after : int
        Of these, those that a lens still owned reaches: now, and without the lenses sold.
    rows : DataFrame
        One row a focal band: ``id, keepers, before, after, lost``.
    """

    sold: tuple[str, ...]
    keepers: int
    before: int
    after: int
    rows: pd.DataFrame


def what_if(
    condensed: pd.DataFrame, sold: Collection[str], lenses: Sequence[Lens], pairings: Sequence[Pairing], plan: Plan
) -> WhatIf:
    """
    Tell which keepers would still have been in reach had some lenses been sold.

    A keeper that its own lens made is in reach of that lens, whatever the bands say.

    Parameters
    ----------
    condensed : DataFrame
        Columns of `auditor.audit.condensed.CONDENSED`.
    sold : collection of str
        Lenses sold in thought.
    lenses, pairings, plan
        As in `cover_of`.
    """
    kept = condensed[(condensed["kept"] == 1) & condensed["lens"].notna()].dropna(subset=["effective_focal_mm"])
    owned = [lens.id for lens in lenses]
    reached = in_reach(kept, owned, pairings, plan)
    own = kept["lens"].astype(str).to_numpy()
    reached |= own[:, np.newaxis] == np.asarray(owned, dtype=object)[np.newaxis, :]
    staying = np.array([lens_id not in sold for lens_id in owned], bool)
    before, after = reached.any(axis=1), reached[:, staying].any(axis=1)
    counts = pd.DataFrame({"id": kept["focal"], "keepers": 1, "before": before, "after": after})
    rows = counts.groupby("id", observed=True).sum().reset_index()
    rows["lost"] = rows["before"] - rows["after"]
    return WhatIf(tuple(sorted(sold)), len(kept), int(before.sum()), int(after.sum()), rows)
