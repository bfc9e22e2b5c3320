"""Focal ratios measured from the pixels of two frames, as evidence of what was on before and after."""

from __future__ import annotations

import numpy as np
import pandas as pd

from auditor.audit.sequence.chain import Floats
from auditor.audit.sequence.states import States
from auditor.audit.sequence.timeline import Timeline

__all__ = ["ratio_likelihood", "ratio_links"]

_INTERVAL_SPANS = 3.92
"""The interval is taken as 95 %: 2 × 1.96 standard deviations of the ratio's logarithm."""

_MISTAKEN = 0.03
"""Share of measured ratios that belong to something else, such as a step forward. Judgement."""

_POSITION_SPREAD = 0.06
"""A zoom's position is known to its step only: standard deviation of the logarithm. Judgement."""

_BREATHING_SPREAD = 0.03
"""Two frames are seldom focused at one distance: standard deviation of the logarithm. Judgement."""

_ANY_RATIO = float(np.log(100.0))


def ratio_links(
    frames: pd.DataFrame, timeline: Timeline, states: States, overlaps: pd.DataFrame | None
) -> dict[int, Floats]:
    """
    Return the likelihood of every pair of states before and at a step, where a ratio was measured across it.

    Only pairs of frames that lie in neighbouring steps of one sequence tell of a change between them; several such
    pairs count together.

    Parameters
    ----------
    frames : DataFrame
        One body's frames, with ``archive`` and ``path``.
    timeline : Timeline
        Laid out from these frames.
    states : States
    overlaps : DataFrame or None
        Columns of ``store/overlaps``.
    """
    if overlaps is None or overlaps.empty:
        return {}
    answered = overlaps.loc[overlaps["focal_ratio"].notna() & (overlaps["overlap_verdict"] != "unknown")]
    step = pd.Series(timeline.step_of, index=pd.MultiIndex.from_frame(frames.iloc[timeline.order][["archive", "path"]]))
    first = step.reindex(pd.MultiIndex.from_frame(answered[["archive", "path_a"]])).to_numpy()
    second = step.reindex(pd.MultiIndex.from_frame(answered[["archive", "path_b"]])).to_numpy()
    links: dict[int, Floats] = {}
    columns = answered[["focal_ratio", "focal_ratio_low", "focal_ratio_high"]].to_numpy(np.float64)
    for a, b, (ratio, low, high) in zip(first, second, columns, strict=True):
        if np.isnan(a) or np.isnan(b) or abs(a - b) != 1:
            continue
        later = int(max(a, b))
        if timeline.sequence[later] != timeline.sequence[later - 1]:
            continue
        link = ratio_likelihood(states, ratio, (low, high))
        links[later] = links.get(later, 1.0) * (link if a < b else link.T)
    return links


def ratio_likelihood(states: States, ratio: float, interval: tuple[float, float]) -> Floats:
    """
    Likelihood of a measured focal ratio for every pair of states.

    Parameters
    ----------
    states : States
    ratio : float
        True focal length of the later frame over that of the earlier. [-]
    interval : tuple of float
        Its low and high end, 95 %. [-]

    Returns
    -------
    array, shape (states before, states at)
        As densities of the logarithm of the ratio; a lens not in the kit may have any.
    """
    focal = np.array(
        [state.position_mm * state.pairing.factor if state.pairing else np.nan for state in states.entries]
    )
    turns = np.array([bool(state.pairing and state.pairing.lens.is_zoom) for state in states.entries])
    expected = np.log(focal[None, :] / focal[:, None])
    measured = np.log(interval[1] / interval[0]) / _INTERVAL_SPANS
    spread = np.where(turns[None, :] | turns[:, None], _POSITION_SPREAD, _BREATHING_SPREAD)
    np.fill_diagonal(spread, np.where(turns, _POSITION_SPREAD, 0.0))
    spread = np.hypot(spread, max(measured, 0.005))
    density = np.exp(-0.5 * ((np.log(ratio) - expected) / spread) ** 2) / (spread * np.sqrt(2 * np.pi))
    density = (1 - _MISTAKEN) * np.nan_to_num(density) + _MISTAKEN / _ANY_RATIO
    outside = np.isnan(focal)
    density[outside, :] = 1 / _ANY_RATIO
    density[:, outside] = 1 / _ANY_RATIO
    # A contacts zoom may stand anywhere, whatever its short end.
    free = np.array([state.contacts for state in states.entries]) & turns
    density[free, :] = 1 / _ANY_RATIO
    density[:, free] = 1 / _ANY_RATIO
    return np.asarray(density)
