"""Focal ratios measured from the pixels of two frames, as evidence of what was on before and after."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.sequence.assemble import change_odds
from auditor.audit.sequence.chain import Floats
from auditor.audit.sequence.states import States
from auditor.audit.sequence.timeline import Timeline
from auditor.model.settings import Habits

__all__ = ["ratio_likelihood", "ratio_links", "turned_density", "with_turning"]

_INTERVAL_SPANS = 3.92
"""The interval is taken as 95 %: 2 × 1.96 standard deviations of the ratio's logarithm."""

_STEPPED, _STEP_SPREAD = 0.02, 0.15
"""Share of pairs between which the photographer moved unnoticed, and how far that takes the logarithm. Judgement."""

_MISTAKEN = 0.01
"""Share of measured ratios that belong to something else altogether. Judgement."""

_POSITION_SPREAD = 0.06
"""A zoom's position is known to its step only: standard deviation of the logarithm. Judgement."""

_TURNED = 0.1
"""Pairs between which a zoom was turned a little, not as far as to the next of its positions. Judgement."""

_FOCUSED = 0.01
"""Two frames of one lens are not focused alike: standard deviation of the logarithm. Judgement."""

_BREATHING_SPREAD = 0.03
"""Two frames are seldom focused at one distance: standard deviation of the logarithm. Judgement."""

_TOO_FAR = 0.5
"""From this chance of a change in another pause on, two frames are too far apart to tell of one."""

_ANY_RATIO = float(np.log(100.0))


def ratio_links(
    frames: pd.DataFrame, timeline: Timeline, states: States, overlaps: pd.DataFrame | None, habits: Habits
) -> dict[int, Floats]:
    """
    Return the likelihood of every pair of states before and at a step, where a ratio was measured across it.

    The two frames may lie any number of steps apart within one sequence. The change they tell of is looked for in the
    pause of their span in which a change is most likely; the chance that there was one in another pause of the span
    takes that much from what the ratio says, and where it is more likely than not the pair says nothing. Several pairs
    across one pause count together.

    Parameters
    ----------
    frames : DataFrame
        One body's frames, with ``archive`` and ``path``.
    timeline : Timeline
        Laid out from these frames.
    states : States
    overlaps : DataFrame or None
        Columns of ``store/overlaps``.
    habits : Habits
        How long a lens change takes and how often a pause has one.
    """
    if overlaps is None or overlaps.empty:
        return {}
    answered = overlaps.loc[overlaps["focal_ratio"].notna() & (overlaps["overlap_verdict"] != "unknown")]
    step = pd.Series(timeline.step_of, index=pd.MultiIndex.from_frame(frames.iloc[timeline.order][["archive", "path"]]))
    first = step.reindex(pd.MultiIndex.from_frame(answered[["archive", "path_a"]])).to_numpy()
    second = step.reindex(pd.MultiIndex.from_frame(answered[["archive", "path_b"]])).to_numpy()
    pauses = timeline.begin_s - np.roll(timeline.end_s, 1)
    odds = change_odds(np.nan_to_num(pauses), habits)
    weight = states.share / states.share.sum()
    links: dict[int, Floats] = {}
    turned: dict[int, float] = {}
    columns = answered[["focal_ratio", "focal_ratio_low", "focal_ratio_high"]].to_numpy(np.float64)
    for a, b, (ratio, low, high) in zip(first, second, columns, strict=True):
        if np.isnan(a) or np.isnan(b) or a == b:
            continue
        place = _place(timeline, odds, (int(min(a, b)), int(max(a, b))))
        if place is None:
            continue
        at, elsewhere = place
        link = ratio_likelihood(states, ratio, (low, high))
        anything = float(weight @ link @ weight)
        link = (1 - elsewhere) * link + elsewhere * anything
        links[at] = links.get(at, 1.0) * (link if a < b else link.T)
        turned[at] = turned.get(at, 1.0) * ((1 - elsewhere) * turned_density(ratio, (low, high)) + elsewhere * anything)
    return {at: with_turning(link, states, turned[at]) for at, link in links.items()}


def with_turning(link: Floats, states: States, turned: float) -> Floats:
    """Let a zoom that stays on be turned a little: once for all pairs across a pause, not once for each."""
    zooms = _zooms(states)
    link[zooms, zooms] = (1 - _TURNED) * link[zooms, zooms] + _TURNED * turned
    return link


def _zooms(states: States) -> npt.NDArray[np.intp]:
    return np.flatnonzero([bool(state.pairing and state.pairing.lens.is_zoom) for state in states.entries])


def turned_density(ratio: float, interval: tuple[float, float]) -> float:
    """Return the density of a measured ratio where a zoom was turned a little between the frames."""
    return float(_of_ratio(np.log(ratio), float(np.hypot(_POSITION_SPREAD, _measured(interval)))))


def _measured(interval: tuple[float, float]) -> float:
    return max(float(np.log(interval[1] / interval[0])) / _INTERVAL_SPANS, 0.005)


def _place(timeline: Timeline, odds: Floats, span: tuple[int, int]) -> tuple[int, float] | None:
    """Return the step of a span before which a change is most likely, and the chance of one elsewhere in the span."""
    first, last = span
    if timeline.sequence[first] != timeline.sequence[last]:
        return None
    within = odds[first + 1 : last + 1]
    at = int(within.argmax())
    elsewhere = 1 - float(np.prod(1 - np.delete(within, at)))
    return None if elsewhere > _TOO_FAR else (first + 1 + at, elsewhere)


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
        As densities of the logarithm of the ratio; a lens not in the kit may have any. On the diagonal a lens stays on,
        and its zoom is not turned.
    """
    focal = np.array(
        [state.position_mm * state.pairing.factor if state.pairing else np.nan for state in states.entries]
    )
    turns = np.isin(np.arange(len(focal)), _zooms(states))
    expected = np.log(focal[None, :] / focal[:, None])
    measured = _measured(interval)
    spread = np.hypot(np.where(turns[None, :] | turns[:, None], _POSITION_SPREAD, _BREATHING_SPREAD), measured)
    away = np.log(ratio) - expected
    density = np.nan_to_num(_of_ratio(away, spread), nan=1 / _ANY_RATIO)
    # A contacts zoom may stand anywhere, whatever its short end.
    free = np.array([state.contacts for state in states.entries]) & turns
    density[free, :] = 1 / _ANY_RATIO
    density[:, free] = 1 / _ANY_RATIO
    # Who keeps a lens on, in the kit or not, has the same focal length before and after.
    np.fill_diagonal(density, _of_ratio(np.log(ratio), float(np.hypot(_FOCUSED, measured))))
    return np.asarray(density)


def _of_ratio(away: Floats | float, spread: Floats | float) -> Floats:
    """Density of a measured ratio so far from the expected one, both as logarithms, mistakes included."""
    meant = np.exp(-0.5 * (away / spread) ** 2) / (spread * np.sqrt(2 * np.pi))
    stepped = np.exp(-np.abs(away) / _STEP_SPREAD) / (2 * _STEP_SPREAD)
    return np.asarray((1 - _STEPPED - _MISTAKEN) * meant + _STEPPED * stepped + _MISTAKEN / _ANY_RATIO)
