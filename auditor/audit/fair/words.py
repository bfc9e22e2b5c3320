"""What a comparison, a cost and a ledger mean, for a reader without statistics: numbers in it, limits in it."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from auditor.audit.fair.comparing import OTHERS, Comparison, Crude
from auditor.audit.fair.cost import Cost
from auditor.audit.fair.trials import NOT_ADJUSTED_FOR
from auditor.audit.ledger import Ledger
from auditor.wording import counted

__all__ = [
    "COMPARISON_EXPLAINED",
    "COST_EXPLAINED",
    "LEDGER_EXPLAINED",
    "bursts_sentence",
    "comparison_sentence",
    "cost_sentence",
    "percent",
    "sharpness_sentences",
]

LEDGER_EXPLAINED: Mapping[str, str] = {
    "Frames": "all frames of that row, judged or not.",
    "Judged": "frames of trips in which you kept or rated anything; the others say nothing.",
    "Kept": "judged frames that meet the keep rule in settings.toml.",
    "Keep rate": "kept ÷ judged.",
    "95 % interval": (
        "where the rate would probably be with endlessly many such frames (Wilson's interval). Frames of one burst are "
        "alike, so many of them count as few: the count is divided by 1 + (m - 1) ρ, m the frames in a burst, ρ how "
        "alike they are."
    ),
    "Drawn in": (
        "the rate drawn towards what all rows show, the more the fewer frames it rests on: a lens with ten frames is "
        "more likely ordinary than extraordinary (beta-binomial model, its prior fitted to the rows and shown above)."
    ),
    "Told": (
        "frames whose pixels say what blurred them, or that nothing did; those of which they cannot tell and those "
        "never measured are in no rate."
    ),
    "Sharp": (
        "sharp somewhere ÷ told; not sharp are shake, missed focus and a subject that moved. An estimate: about one "
        "answer in twenty is wrong. Its interval is made as that of the keep rate is."
    ),
}
"""Each column of the ledger and what it means."""

COMPARISON_EXPLAINED: Mapping[str, str] = {
    "As counted": (
        "kept ÷ judged of all its frames, hard ones and easy ones together; then of the other side. Says what you got, "
        "not what the lens can do."
    ),
    "Same conditions": (
        "what it kept, and what the others kept, of frames alike to a stop in difficulty (exposure time × right "
        "setting × crop), on the same support, with the stabiliser on or off alike and as well set. A logistic model "
        "evens out "
        "what still differs inside: light, body, trip."
    ),
    "Difference": (
        "first less second, in points, with its 95 % interval. If the interval holds 0, the frames do not show which "
        "is better."
    ),
    "Left out": "its frames under conditions in which the other side has fewer than five: nothing is guessed for them.",
    "Said": (
        "worse or better only where all comparisons of this table together have at most one chance in twenty of a "
        "false word (Holm's correction)."
    ),
}
"""Each column of the fair comparison and what it means."""

COST_EXPLAINED: Mapping[str, str] = {
    "Wrong": "judged frames with a setting that was too short or too long.",
    "Not kept": "those of them that you did not keep. A kept frame lost nothing.",
    "Lost, by shake": (
        "of these, how many the right setting would probably have saved, by the shake model: exposure time, focal "
        "length, what the setting left of the shake, and a hand and stabiliser fitted to what you kept."
    ),
    "Lost, by your keeping": (
        "the same from your own choices: what you kept under the same conditions with the right setting. Not adjusted "
        "for the setting error, which is what is asked about. Only for frames that have at least five such partners."
    ),
}
"""Each column of the cost table and what it means."""


def percent(share: float) -> str:
    """
    Write a share as whole percent, a dash where it is not known.

    Examples
    --------
    >>> percent(0.375), percent(float("nan"))
    ('38 %', '-')
    """
    return "-" if math.isnan(share) else f"{share * 100:.0f} %"


def bursts_sentence(ledger: Ledger) -> str:
    """Say how bursts were counted, and what the rows were drawn towards."""
    rows = ledger.rows[ledger.rows["judged"] > 0]
    if rows.empty:
        return "Nothing was judged."
    bursts, judged = int(rows["bursts"].sum()), int(rows["judged"].sum())
    worth = float((rows["judged"] / rows["design_effect"]).sum())
    text = (
        f"{counted(judged, 'judged frame')} came in {counted(bursts, 'burst')}; frames of one burst are alike "
        f"(ρ = {ledger.correlation:.2f}), so they tell as much as about {worth:.0f} single ones, and "
        "the intervals are made for those."
    )
    if ledger.prior is not None:
        frames = ledger.prior.alpha + ledger.prior.beta
        text += f" Rates are drawn towards {percent(ledger.prior.mean)}, which weighs {frames:.0f} frames."
    return text


def sharpness_sentences(ledger: Ledger) -> list[str]:
    """
    Say what the pixels tell of the counted frames, and how that goes with what was kept.

    Examples
    --------
    >>> from auditor.audit.ledger import keep_rates
    >>> frames = pd.DataFrame({"lens": ["orla-50"] * 3, "kept": [True, False, False], "sharp": [1, 1, -2]})
    >>> sharpness_sentences(keep_rates(frames, "lens"))[0]
    '2 of 2 frames whose kind of blur is told are sharp (100 %). Left out: 1 never measured.'
    """
    told = ledger.sharpness
    if told is None:
        return ["How many are sharp is not known: none of them was measured (steadykeep measure)."]
    left = {"never measured": told.never_measured, "looked at but not to be told": told.unknown}
    text = f"{told.sharp} of {counted(told.judged, 'frame')} whose kind of blur is told are sharp"
    text += f" ({percent(told.sharp / told.judged)})." if told.judged else "."
    because = [f"{count} {why}" for why, count in left.items() if count]
    sentences = [f"{text} Left out: {', '.join(because)}." if because else text]
    both = told.kept_sharp + told.kept_soft + told.left_sharp + told.left_soft
    if both:
        sentences.append(
            f"Of {both} both judged and told, {told.kept_sharp} were kept and are sharp, {told.kept_soft} kept though "
            f"soft, {told.left_sharp} sharp but not kept, {told.left_soft} neither. A sharp frame may be dull and a "
            "kept one soft."
        )
    return sentences


def comparison_sentence(found: Comparison, names: Mapping[str, str] | None = None) -> str:
    """
    Say what a comparison shows and what it does not.

    Parameters
    ----------
    found : Comparison
    names : mapping of str to str, optional
        What the groups are called on a screen.
    """
    first, second = ((names or {}).get(name, name) for name in (found.first, found.second))
    mine, theirs = found.crude
    text = f"As counted, {first} kept {_counted(mine)} and {second} {_counted(theirs)}. "
    if found.rates is None or found.difference is None:
        return text + (
            f"They cannot be compared: only {mine.judged - mine.left_out} of its frames were made under conditions in "
            f"which {second} {_have(found)} enough frames too. Nothing is guessed for the rest."
        )
    text += _harder(first, mine, theirs)
    difference = found.difference
    text += (
        f"Under the same conditions the estimates are {percent(found.rates[0].rate)} and "
        f"{percent(found.rates[1].rate)} (difference {round(difference.difference * 100):+d} points, "
        f"95 % interval {difference.low * 100:+.0f} to "
        f"{difference.high * 100:+.0f}). {_verdict_words(found, first, second)}"
    )
    if mine.left_out:
        text += f" {mine.left_out} of {first}'s {counted(mine.judged, 'frame')} left out: none to compare with."
    return f"{text} Not in any record, and so not evened out: {NOT_ADJUSTED_FOR}."


def _counted(side: Crude) -> str:
    return f"{side.kept} of {counted(side.judged, 'frame')} ({percent(side.rate)})"


def _have(found: Comparison) -> str:
    return "have" if found.second == OTHERS else "has"


def _harder(first: str, mine: Crude, theirs: Crude) -> str:
    stops = mine.difficulty_stops - theirs.difficulty_stops
    if abs(stops) < 0.5:
        return "The frames of both were about equally hard. "
    harder = "harder" if stops > 0 else "easier"
    return f"The frames of {first} were {harder}, by {abs(stops):.1f} stops of exposure time in the middle. "


def _verdict_words(found: Comparison, first: str, second: str) -> str:
    if found.verdict in ("worse", "better"):
        count = "fewer" if found.verdict == "worse" else "more"
        settle = "a test with the same target, blind, would settle whether it is the cause"
        return f"{first} was associated with {count} keepers; {settle}."
    mine, theirs = found.crude
    suspect = first if found.second == OTHERS or mine.rate <= theirs.rate else second
    return f"Nothing here says that {suspect} is the worse one."


def cost_sentence(cost: Cost) -> str:
    """Say what the wrong settings cost in all, both ways."""
    total = cost.rows.iloc[-1]
    if not cost.judged_wrong:
        return "No judged frame had a setting that is known to be wrong."
    text = (
        f"{total['wrong']:.0f} judged frames had a wrong setting and {total['failed']:.0f} of them were not kept. "
        f"The right setting would probably have saved {_both(total)}."
    )
    missing = round(total["failed"] - total["compared"])
    if missing and not math.isnan(total["kept_lost"]):
        text += f" {missing} of the frames have no such partners, and that figure leaves them out."
    if bool(total["differ"]):
        text += " The two differ: the hand or the stabiliser is not as the model has it, or something else went along."
    if cost.not_judged:
        text += f" {cost.not_judged} more frames with a wrong setting were never judged and are in no figure."
    return text


def _both(total: pd.Series) -> str:
    """Say what was lost by each way of telling that can say something."""
    told = {
        "shake": f"{_range(total, 'shake')} by the shake model",
        "kept": f"{_range(total, 'kept')} by what you kept under the same conditions with the right setting",
    }
    known = [words for name, words in told.items() if not math.isnan(total[f"{name}_lost"])]
    return ", and ".join(known) or "a number that cannot be told: nothing comparable was made with the right setting"


def _range(row: pd.Series, name: str) -> str:
    low, high = row[f"{name}_low"], row[f"{name}_high"]
    return f"{row[f'{name}_lost']:.0f} ({low:.0f} to {high:.0f})"
