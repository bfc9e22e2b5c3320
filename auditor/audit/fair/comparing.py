"""Fair comparison: keep rates under the same conditions, and only where there are such."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from auditor.audit.fair.keeping import Keeping, fit_keeping
from auditor.audit.fair.trials import Codes, Trials, strata_of
from auditor.stats.assisted import AssistedRate, Difference, Outcomes, assisted_rate, rate_difference
from auditor.stats.multiplicity import holm

__all__ = ["OTHERS", "Comparison", "Crude", "compare", "compare_each"]

OTHERS = "the others"
"""Name of the second side where a group is compared with all the others together."""

Mix = Literal["both", "first"]
Verdict = Literal["worse", "better", "not shown to differ", "cannot be compared"]
Mask = npt.NDArray[np.bool_]

_LEAST_IN_STRATUM = 5
_LEAST_FRAMES, _LEAST_BURSTS = 20, 5


@dataclass(frozen=True)
class Crude:
    """What was counted, before any comparison: frames judged, kept, and left out for want of a comparable one."""

    judged: int
    kept: int
    left_out: int
    difficulty_stops: float

    @property
    def rate(self) -> float:
        """Keep rate as counted."""
        return self.kept / self.judged if self.judged else float("nan")


@dataclass(frozen=True)
class Comparison:
    """
    Two groups under the same conditions.

    Attributes
    ----------
    first, second : str
        Names of the groups; the second may be ``OTHERS``.
    crude : (Crude, Crude)
        As counted, with the median difficulty in stops.
    rates : (AssistedRate, AssistedRate) or None
        Keep rates at one mix of conditions; None where nothing is comparable.
    difference : Difference or None
        First less second.
    verdict : str
        worse, better, not shown to differ, cannot be compared: of the first, at 95 %, all comparisons made together.
    adjusted_p : float
        p-value after Holm's correction for the comparisons made together.
    strata : int
        Conditions (a stop of difficulty, one support, …) in which both have frames.
    mix : str
        Whose mix of conditions: that of both together or that of the first.
    correlation : float
        How alike frames of one burst are.
    compared : int
        Comparisons made together.
    """

    first: str
    second: str
    crude: tuple[Crude, Crude]
    rates: tuple[AssistedRate, AssistedRate] | None
    difference: Difference | None
    verdict: Verdict
    adjusted_p: float
    strata: int
    mix: Mix
    correlation: float
    compared: int = 1


def compare(
    trials: Trials, first: str, second: str = OTHERS, *, mix: Mix = "both", keeping: Keeping | None = None
) -> Comparison:
    """
    Compare two groups under the same conditions.

    Parameters
    ----------
    trials : Trials
    first, second : str
        Names of groups; the second may be ``OTHERS``.
    mix : {"both", "first"}
        Conditions at which both are shown: those of both together, or those the first was used under.
    keeping : Keeping, optional
        The model, where it was fitted already.

    Returns
    -------
    Comparison
        Over the strata in which both have at least 5 frames (for the first's own mix: the second has). Frames of other
        strata are left out and counted, never extrapolated to.

    Raises
    ------
    ValueError
        A name is not that of a group with frames that can be compared.
    """
    keeping = keeping or fit_keeping(trials)
    sides = _sides(trials, first, second)
    stratum, common = _common(strata_of(trials, with_setting=keeping.with_setting), sides, mix)
    inside = (common[stratum] & sides[0], common[stratum] & sides[1])
    crude = (_crude(trials, sides[0], inside[0]), _crude(trials, sides[1], inside[1]))
    blank = Comparison(
        first, second, crude, None, None, "cannot be compared", 1.0, int(common.sum()), mix, keeping.correlation
    )
    if not all(_enough(trials, side) for side in inside):
        return blank
    target = inside[0] if mix == "first" else inside[0] | inside[1]
    own = keeping.group_effects()
    chance = keeping.expected(own[trials.group] if own.size else 0.0)
    outcomes = Outcomes(trials.kept, chance, trials.burst, keeping.correlation)
    rates = [_rate_at(trials, keeping, outcomes, (stratum, common.size), (side, target)) for side in inside]
    error = outcomes.error(rates[0].influence - rates[1].influence)
    difference = rate_difference(rates[0], rates[1], error=error)
    p_value = difference.p_value
    return replace(
        blank,
        rates=(rates[0], rates[1]),
        difference=difference,
        adjusted_p=p_value,
        verdict=_verdict(difference, p_value),
    )


def compare_each(
    trials: Trials, *, names: Sequence[str] = (), mix: Mix = "first", keeping: Keeping | None = None
) -> list[Comparison]:
    """
    Compare each group with all the others, and correct for having made so many comparisons.

    Parameters
    ----------
    trials : Trials
    names : sequence of str
        Groups; empty for all.
    mix, keeping
        As in `compare`.

    Returns
    -------
    list of Comparison
        In the order of the names. A false "worse" or "better" among all of them is made in at most one archive in
        twenty (Holm).
    """
    keeping = keeping or fit_keeping(trials)
    found = [compare(trials, name, mix=mix, keeping=keeping) for name in names or trials.ids]
    made = [comparison for comparison in found if comparison.difference is not None]
    adjusted = (
        dict(zip((one.first for one in made), holm([one.adjusted_p for one in made]), strict=True)) if made else {}
    )
    return [
        replace(
            one,
            adjusted_p=float(adjusted[one.first]),
            verdict=_verdict(one.difference, float(adjusted[one.first])),
            compared=len(made),
        )
        if one.difference is not None
        else replace(one, compared=len(made))
        for one in found
    ]


def _verdict(difference: Difference, p_value: float) -> Verdict:
    if p_value >= 0.05:
        return "not shown to differ"
    return "worse" if difference.difference < 0 else "better"


def _sides(trials: Trials, first: str, second: str) -> tuple[Mask, Mask]:
    mine = trials.group == trials.number(first)
    return mine, ~mine if second == OTHERS else trials.group == trials.number(second)


def _common(stratum: Codes, sides: tuple[Mask, Mask], mix: Mix) -> tuple[Codes, Mask]:
    count = int(stratum.max(initial=-1)) + 1
    mine, theirs = (np.bincount(stratum[side], minlength=count) for side in sides)
    return stratum, (mine >= (1 if mix == "first" else _LEAST_IN_STRATUM)) & (theirs >= _LEAST_IN_STRATUM)


def _enough(trials: Trials, side: Mask) -> bool:
    return int(side.sum()) >= _LEAST_FRAMES and np.unique(trials.burst[side]).size >= _LEAST_BURSTS


def _crude(trials: Trials, side: Mask, inside: Mask) -> Crude:
    groups = np.unique(trials.group[side])
    judged, kept = (int(count[groups].sum()) for count in trials.counted)
    hard = float(np.median(trials.difficulty_stops[side])) if judged else float("nan")
    left_out = float(trials.worth[side & ~inside].sum())
    return Crude(judged, kept, round(left_out), hard)


def _rate_at(
    trials: Trials, keeping: Keeping, outcomes: Outcomes, strata: tuple[Codes, int], frames: tuple[Mask, Mask]
) -> AssistedRate:
    """Rate of one side at the conditions of the target."""
    (stratum, count), (side, target) = strata, frames
    shares = np.bincount(trials.group[side], minlength=len(trials.ids)) / side.sum()
    own = keeping.group_effects()
    expected = keeping.expected(float(shares @ own) if own.size else 0.0)
    size = np.bincount(stratum[target], minlength=count)
    at_mix = np.bincount(stratum[target], expected[target], count) / np.maximum(size, 1)
    share = size / size.sum()
    in_side = np.bincount(stratum[side], minlength=count)
    weight = target / size.sum() - np.where(side, (share / np.maximum(in_side, 1))[stratum], 0.0)
    by_way_of_model = keeping.influence(trials.group, weight * expected * (1.0 - expected), shares)
    return assisted_rate(
        outcomes, side, stratum, expected=expected, mix=(share, at_mix), model_influence=by_way_of_model
    )
