"""The plan: which lenses to keep, to use differently, or to sell, each with its reasons in words and its numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import pandas as pd

from auditor.audit.fair.comparing import Comparison, compare, compare_each
from auditor.audit.fair.cost import setting_cost
from auditor.audit.fair.keeping import Keeping, fit_keeping
from auditor.audit.fair.trials import Trials, trials_of
from auditor.audit.reach import Cover, cover_of
from auditor.audit.usage import Usage, usage_of
from auditor.model.kit import Kit
from auditor.model.pairings import Pairing
from auditor.model.settings import Plan, Settings

__all__ = ["Evidence", "LensPlan", "Saved", "Verdict", "judge", "plan_lenses"]

Verdict = Literal["keep", "use differently", "candidate to sell", "too little to say"]

_FASTER_GAIN = 0.10
_HARDER_STOPS = 1.0
_LEAST_BURSTS = 10
_LONG_OWNED_YEARS = 2.0


@dataclass(frozen=True)
class Saved:
    """Keepers that the right setting would probably have saved, with an interval, and failures in all."""

    lost: float = 0.0
    low: float = 0.0
    high: float = 0.0
    failures: int = 0

    @property
    def share(self) -> float:
        """Share of the failures that were the setting's fault and not the lens's; NaN without failures."""
        return self.lost / self.failures if self.failures else float("nan")

    @property
    def most(self) -> float:
        """The largest that the share may be, by its interval; NaN without failures."""
        return min(self.high / self.failures, 1.0) if self.failures else float("nan")


@dataclass(frozen=True)
class Evidence:
    """
    What is known of one lens.

    Attributes
    ----------
    usage, cover, saved
        What it is used for, who could stand in, what the setting cost it.
    fair : Comparison or None
        With all other lenses under the same conditions; None where it has no frame that can be compared.
    adapters : tuple of Comparison
        Its own pairings with each other, those found worse than another one.
    faster_gain : float
        Points of keep rate expected from one stop faster, 0-1; NaN where not known.
    price : float or None
    """

    usage: Usage
    cover: Cover
    saved: Saved = Saved()
    fair: Comparison | None = None
    adapters: tuple[Comparison, ...] = ()
    faster_gain: float = float("nan")
    price: float | None = None

    @property
    def keepers_a_year_if_right(self) -> float:
        """Keepers a year had every setting been right: a lens is not sold for a forgotten menu."""
        return self.usage.keepers_a_year + self.saved.lost / self.usage.years

    @property
    def harder_stops(self) -> float:
        """How much harder its frames were than those of the others, in the middle; 0 where not known. [stop]."""
        if self.fair is None:
            return 0.0
        mine, theirs = self.fair.crude
        return mine.difficulty_stops - theirs.difficulty_stops

    @property
    def price_a_keeper(self) -> float:
        """Price over keepers so far, those included that the right setting would have saved; NaN without a price."""
        keepers = self.usage.kept + self.saved.lost
        if self.price is None:
            return float("nan")
        return self.price / keepers if keepers > 0 else float("inf")


@dataclass(frozen=True)
class LensPlan:
    """
    What to do with a lens.

    Attributes
    ----------
    lens : str
        Kit id.
    verdict : Verdict
    instead : tuple of str
        How to use it differently: right setting, faster exposure, another adapter.
    score : float
        Weighted mean of the parts, 0-1, from which on it is a candidate to sell; NaN where it was not formed.
    parts : dict of str to float
        unused, covered, worse, cost, each 0-1; one that is not known is left out.
    evidence : Evidence
    """

    lens: str
    verdict: Verdict
    instead: tuple[str, ...]
    score: float
    evidence: Evidence
    parts: Mapping[str, float] = field(default_factory=dict)


def judge(lens_id: str, evidence: Evidence, plan: Plan) -> LensPlan:
    """
    Weigh one lens.

    A lens whose failures were, or by the interval may have been, the setting's fault in a good part is used
    differently, never sold: mend the setting first. A lens with too few judged frames gets no verdict, unless it was
    owned for two years and hardly used: that says enough by itself.

    Parameters
    ----------
    lens_id : str
    evidence : Evidence
    plan : Plan
        The photographer's weights and limits, from settings.toml.
    """
    usage, cover = evidence.usage, evidence.cover
    parts = _parts(evidence, plan)
    weights = {
        "unused": plan.weigh_unused,
        "covered": plan.weigh_covered,
        "worse": plan.weigh_worse,
        "cost": plan.weigh_cost,
    }
    total = sum(weights[name] for name in parts)
    score = sum(weights[name] * value for name, value in parts.items()) / total if total > 0 else float("nan")
    instead = _instead(evidence, plan)
    # The doubt is the lens's: where the setting may well have been at fault it is mended before anything is sold.
    if score >= plan.sell_from and evidence.saved.most >= plan.setting_share and "right setting" not in instead:
        instead = ("right setting", *instead)
    few = usage.judged < plan.least_judged or usage.bursts < _LEAST_BURSTS
    hardly_used = usage.years >= _LONG_OWNED_YEARS and usage.frames_a_year < plan.few_keepers_a_year
    verdict: Verdict
    if few and not (hardly_used and cover.covered >= 0.5):
        verdict = "too little to say"
    elif "right setting" in instead:
        verdict = "use differently"
    elif score >= plan.sell_from:
        verdict = "candidate to sell"
    else:
        verdict = "use differently" if instead else "keep"
    return LensPlan(lens_id, verdict, instead, score, evidence, parts)


def _parts(evidence: Evidence, plan: Plan) -> dict[str, float]:
    """Return what speaks for selling, each 0-1; every part counts what the right setting would have saved."""
    parts = {}
    if not np.isnan(evidence.keepers_a_year_if_right):
        parts["unused"] = float(np.clip(1.0 - evidence.keepers_a_year_if_right / plan.few_keepers_a_year, 0.0, 1.0))
    if not np.isnan(evidence.cover.covered):
        parts["covered"] = evidence.cover.covered
    if evidence.fair is not None and evidence.fair.difference is not None:
        parts["worse"] = float(evidence.fair.verdict == "worse")
    if not np.isnan(evidence.price_a_keeper):
        parts["cost"] = float(np.clip(evidence.price_a_keeper / plan.dear_keeper - 1.0, 0.0, 1.0))
    return parts


def _instead(evidence: Evidence, plan: Plan) -> tuple[str, ...]:
    found = []
    if evidence.saved.share >= plan.setting_share:
        found.append("right setting")
    found += [f"{one.second} instead of {one.first}" for one in evidence.adapters]
    # Every lens gains by a faster exposure: it is worth saying of one whose frames are harder than the others'.
    if evidence.faster_gain >= _FASTER_GAIN and evidence.harder_stops >= _HARDER_STOPS:
        found.append("faster exposure")
    return tuple(found)


def plan_lenses(
    condensed: pd.DataFrame, kit: Kit, pairings: Sequence[Pairing], settings: Settings
) -> tuple[list[LensPlan], list[str]]:
    """
    Weigh every lens of the kit that is still owned.

    Parameters
    ----------
    condensed : DataFrame
        Columns of `auditor.audit.condensed.CONDENSED`.
    kit, pairings, settings
        The photographer's files.

    Returns
    -------
    plans : list of LensPlan
        In the kit's order.
    sold : list of str
        Lenses that were sold already: in the comparisons, but without a verdict.
    """
    archive = float(condensed["year"].min()), float(condensed["year"].max())
    owned = [lens for lens in kit.lenses if lens.sold is None]
    fair, saved, gains = _compared(condensed, settings)
    adapters = _worse_adapters(condensed)
    plans = []
    for lens in owned:
        own = condensed[(condensed["lens"] == lens.id).to_numpy(bool)]
        evidence = Evidence(
            usage=usage_of(own, lens, archive),
            cover=cover_of(own, lens.id, owned, pairings, settings.plan),
            saved=saved.get(lens.id, Saved()),
            fair=fair.get(lens.id),
            adapters=tuple(one for one in adapters if _lens_of(one.first) == lens.id),
            faster_gain=gains.get(lens.id, float("nan")),
            price=lens.price,
        )
        plans.append(judge(lens.id, evidence, settings.plan))
    return plans, [lens.id for lens in kit.lenses if lens.sold is not None]


def _compared(
    condensed: pd.DataFrame, settings: Settings
) -> tuple[dict[str, Comparison], dict[str, Saved], dict[str, float]]:
    trials = trials_of(condensed)
    if not trials.ids:
        return {}, {}, {}
    keeping = fit_keeping(trials)
    hand = (settings.hand.exponent, settings.hand.spread_stops)
    cost = setting_cost(condensed, trials, keeping, by="lens", hand=hand).rows
    rows = {str(row["id"]): row for _, row in cost.iterrows()}
    failures = trials.counted[0] - trials.counted[1]
    saved = {
        name: _saved(rows[name], int(failures[place])) if name in rows else Saved(failures=int(failures[place]))
        for place, name in enumerate(trials.ids)
    }
    return {one.first: one for one in compare_each(trials, keeping=keeping)}, saved, _gains(trials, keeping)


def _saved(row: pd.Series, failures: int) -> Saved:
    """Put both ways of telling together: their mean, and an interval that holds both."""
    told = [name for name in ("shake", "kept") if not np.isnan(row[f"{name}_lost"])]
    if not told:
        return Saved(failures=failures)
    return Saved(
        lost=float(np.mean([row[f"{name}_lost"] for name in told])),
        low=float(min(row[f"{name}_low"] for name in told)),
        high=float(max(row[f"{name}_high"] for name in told)),
        failures=failures,
    )


def _gains(trials: Trials, keeping: Keeping) -> dict[str, float]:
    """Return what one stop faster would be expected to bring each lens, at the right setting."""
    own = keeping.group_effects()
    effect = own[trials.group] if own.size else 0.0
    gain = keeping.easier(1.0).expected(effect) - keeping.expected(effect)
    right = trials.stops_lost < 0.5
    count = np.bincount(trials.group[right], minlength=len(trials.ids))
    total = np.bincount(trials.group[right], gain[right], len(trials.ids))
    return {name: float(total[place] / count[place]) for place, name in enumerate(trials.ids) if count[place]}


def _worse_adapters(condensed: pd.DataFrame) -> list[Comparison]:
    """Pairings of one lens that keep less than another of the same lens under the same conditions (Holm)."""
    trials = trials_of(condensed, "pairing")
    own = [(a, b) for a in trials.ids for b in trials.ids if a < b and _lens_of(a) == _lens_of(b)]
    if not own:
        return []
    keeping = fit_keeping(trials)
    found = [compare(trials, first, second, keeping=keeping) for first, second in own]
    made = [one for one in found if one.difference is not None]
    worse = [one for one in made if one.adjusted_p * len(made) < 0.05]
    turned = [
        one if one.verdict == "worse" else compare(trials, one.second, one.first, keeping=keeping) for one in worse
    ]
    return [one for one in turned if one.verdict == "worse"]


def _lens_of(pairing: str) -> str:
    return pairing.split(" + ")[0]
