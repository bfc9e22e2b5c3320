"""The plan in words: every verdict with its reasons, every number with where it comes from."""

from __future__ import annotations

import math
from collections.abc import Mapping

from auditor.audit.fair.words import comparison_sentence, percent
from auditor.audit.planning import Evidence, LensPlan
from auditor.audit.reach import WhatIf
from auditor.audit.usage import Range
from auditor.model.settings import Plan
from auditor.wording import counted

__all__ = ["CAUTION", "explained", "reasons", "what_if_sentence"]

CAUTION = (
    "A rate is not proof: subject, focus and tiredness are in no record. Before you sell, photograph one target with "
    "both lenses, same exposure times, settings in random order, and judge the frames without knowing which is which."
)
"""Said under every plan."""


def reasons(plan: LensPlan, weights: Plan) -> list[str]:
    """
    Say in words what speaks for a verdict, the strongest first.

    Parameters
    ----------
    plan : LensPlan
    weights : Plan
        Limits that the reasons name.
    """
    usage, cover = plan.evidence.usage, plan.evidence.cover
    said = []
    if plan.verdict == "too little to say":
        said.append(
            f"{counted(usage.judged, 'judged frame')} in {counted(usage.bursts, 'burst')}; from "
            f"{counted(weights.least_judged, 'frame')} in 10 bursts "
            "on something can be said"
        )
    said += [_instead(plan, way) for way in plan.instead]
    said.append(
        f"{usage.keepers_a_year:.0f} keepers a year ({usage.kept} in {usage.years:.1f} years, {usage.trend})"
        if not math.isnan(usage.years)
        else f"{counted(usage.kept, 'keeper')}; no year is known of it"
    )
    said.append(_covered(plan))
    fair = plan.evidence.fair
    if fair is None or fair.difference is None:
        said.append("cannot be compared with the other lenses under the same conditions")
    else:
        said.append(
            f"{fair.verdict} under the same conditions: {round(fair.difference.difference * 100):+d} points against "
            f"the others ({fair.difference.low * 100:+.0f} to {fair.difference.high * 100:+.0f})"
        )
    cost = plan.evidence.price_a_keeper
    if math.isfinite(cost) and cost >= weights.dear_keeper:
        said.append(f"dear: {cost:.0f} a keeper so far")
    if cover.without and plan.verdict == "candidate to sell":
        said.append(f"{counted(cover.without, 'keeper')} would have been out of reach without it")
    return said


def _instead(plan: LensPlan, way: str) -> str:
    saved = plan.evidence.saved
    if way == "right setting":
        return (
            f"mend the setting first: {percent(saved.share)} of its {counted(saved.failures, 'failure')} came of the "
            f"setting and not of the lens ({saved.lost:.0f} keepers, {saved.low:.0f} to {saved.high:.0f}; at most "
            f"{percent(saved.most)})"
        )
    if way == "faster exposure":
        gain = plan.evidence.faster_gain * 100
        return f"use a faster exposure: one stop would be expected to bring {round(gain):+d} points of keep rate"
    return f"use {way}, which kept less under the same conditions"


def _covered(plan: LensPlan) -> str:
    cover = plan.evidence.cover
    if math.isnan(cover.covered):
        return "what it was used for is not known"
    frames = counted(cover.frames, "keeper" if plan.evidence.usage.kept else "frame")
    if not cover.by:
        return f"nothing else in the kit reaches its {frames}"
    best = ", ".join(f"{lens} {percent(share)}" for lens, share in cover.by[:3])
    return f"{percent(cover.covered)} of its {frames} can be reached with other lenses ({best}); {cover.without} cannot"


def explained(plan: LensPlan, weights: Plan) -> list[str]:
    """
    Say of every number of a plan why it is what it is.

    Parameters
    ----------
    plan : LensPlan
    weights : Plan
        Of settings.toml.
    """
    evidence = plan.evidence
    usage, saved = evidence.usage, evidence.saved
    used = f"{counted(usage.frames, 'frame')} in {counted(usage.bursts, 'burst')}"
    lines = [
        f"Used: {used}, {usage.judged} judged, {usage.kept} kept.",
        *_years(evidence),
        (
            f"Trend: {percent(usage.later_share)} of its keepers came in the later half of these years "
            f"({percent(usage.later_low)} to {percent(usage.later_high)}, a trip being one trial): {usage.trend}."
        ),
        f"Focal length: {_range(usage.focal_mm, ' mm')}.",
        f"Aperture: {_range(usage.f_number, '', 'f/')}.",
        f"Distance: {_range(usage.distance_m, ' m')}.",
        (
            f"In reach: {_covered(plan)}. Another lens reaches a frame if a pairing of it on the same body is within "
            f"{weights.reach_percent:.0f} % of its focal length, at most {weights.reach_stops:g} stop slower than the "
            "aperture used, and focuses as close; what is not known is no hindrance."
        ),
    ]
    if evidence.fair is not None:
        lines.append(f"Same conditions: {comparison_sentence(evidence.fair)}")
    lines.append(
        f"The setting's fault: {saved.lost:.1f} ({saved.low:.0f} to {saved.high:.0f}) of "
        f"{counted(saved.failures, 'failure')} = {percent(saved.share)}; the mean of the shake model and of what "
        "you kept (ledger --lost shows both)."
    )
    if evidence.price is not None:
        each = evidence.price_a_keeper
        lines.append(
            f"Cost: {evidence.price:g} ÷ ({usage.kept} kept + {saved.lost:.1f} lost to settings)"
            + (f" = {each:.2f} a keeper." if math.isfinite(each) else ": no keeper yet.")
        )
    lines.append(_score(plan, weights))
    return lines


def _years(evidence: Evidence) -> list[str]:
    usage = evidence.usage
    if math.isnan(usage.years):
        return ["Years: not known, for none of its frames tells a day.", "Keepers a year: not known without the years."]
    return [
        f"Years: {usage.years:.2f}, from the day acquired or the archive's first frame, the later, to its last frame.",
        (
            f"Keepers a year: {usage.kept} ÷ {usage.years:.2f} = {usage.keepers_a_year:.1f}; with the settings right "
            f"{evidence.keepers_a_year_if_right:.1f}. Trips that were never judged are not in it."
        ),
    ]


def _score(plan: LensPlan, weights: Plan) -> str:
    weigh: Mapping[str, float] = {
        "unused": weights.weigh_unused,
        "covered": weights.weigh_covered,
        "worse": weights.weigh_worse,
        "cost": weights.weigh_cost,
    }
    if math.isnan(plan.score):
        return "For selling: not weighed, for nothing that speaks for or against it is known."
    parts = ", ".join(f"{name} {value:.2f} × {weigh[name]:g}" for name, value in plan.parts.items())
    return (
        f"For selling: {parts}; weighted mean {plan.score:.2f}, a candidate from {weights.sell_from:g} ([plan] in "
        "settings.toml). Every part counts keepers as if the settings had been right."
    )


def _range(used: Range, unit: str, before: str = "") -> str:
    if not used.frames:
        return "not known of any of its frames"
    return (
        f"{before}{used.middle:.3g}{unit} in the middle, {before}{used.low:.3g} to {before}{used.high:.3g}{unit} for "
        f"eight in ten ({counted(used.frames, 'frame')})"
    )


def what_if_sentence(found: WhatIf) -> str:
    """Say what would be out of reach had some lenses been sold."""
    lost = found.before - found.after
    names = " and ".join(found.sold)
    text = f"Without {names}: of {counted(found.keepers, 'keeper')} {found.after} stay in reach, {lost} do not"
    if not lost:
        return (
            f"{text}. What is in reach need not come out as well: see how the lenses compare under the same conditions."
        )
    worst = found.rows.sort_values("lost", ascending=False).iloc[0]
    return f"{text}; most of those at {worst['id']} ({worst['lost']} of {worst['keepers']})."
