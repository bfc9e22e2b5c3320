"""The seam: evidence of each frame in, pairing with confidence out, inferred over each body's whole trip."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from auditor.audit.sequence.assemble import BodySequences
from auditor.audit.sequence.infer import CAUSES, Found, infer_bodies, learn_habits, lens_names, read_bodies
from auditor.audit.sequence.sources import name_sources
from auditor.audit.trips import add_trip
from auditor.model.answers import NOT_IN_KIT
from auditor.model.kit import Kit
from auditor.model.log import LogRow
from auditor.model.pairings import Pairing, kit_pairings
from auditor.model.settings import Habits, Settings

__all__ = ["CAUSE_COLUMNS", "Paired", "habit_lines", "pair_frames", "prefer_likely_cause"]

CAUSE_COLUMNS: Mapping[str, str] = {cause: f"{cause.replace('-', '_')}_probability" for cause in CAUSES}
"""Column with the chance of each cause of a wrong setting."""

_LEAST = 0.2
"""Below this chance the best pairing is a guess, and the answer is that it is not known. Judgement."""

_SHARED = 0.6
"""A rival with at least this part of the answer's chance shares the frame with it. Judgement."""


@dataclass(frozen=True)
class Paired:
    """
    Frames with their pairings, and what was learnt on the way.

    Attributes
    ----------
    frames : DataFrame
        The evidence with ``lens``, ``adapter``, ``pairing_confidence``, ``pairing_evidence``, ``setting_mm``,
        ``sources_disagree``; ``likely_cause`` (of a wrong setting, given that pairing); a column of
        :data:`CAUSE_COLUMNS` for each cause, whose sum is the chance of a wrong setting whatever was mounted;
        ``rival_lens``, ``rival_adapter``, ``rival_confidence``; ``on_two_bodies``; and ``stretch``, the number of the
        run of frames that one answer settles.
    habits : Habits
        As learnt from the archive, or as settings.toml holds them.
    changes : float
        Lens changes from which they were learnt.
    """

    frames: pd.DataFrame
    habits: Habits
    changes: float


def pair_frames(
    evidence: pd.DataFrame,
    kit: Kit,
    log: Sequence[LogRow],
    settings: Settings,
    *,
    overlaps: pd.DataFrame | None = None,
) -> Paired:
    """
    Infer the pairing of each frame from its body's whole trip.

    Parameters
    ----------
    evidence : DataFrame
        Frames with the columns of :func:`auditor.audit.evidence.add_evidence`; ``trip`` is added where it is missing;
        ``confirmed_lens`` and ``confirmed_adapter``, where present, outrank everything.
    kit, log, settings
        The photographer's files.
    overlaps : DataFrame, optional
        Rows of ``store/overlaps``: focal ratios measured between two frames.

    Returns
    -------
    Paired
        Same rows, same order.
    """
    stacks = [row.adapter for row in log if row.adapter] + _confirmed_stacks(evidence)
    pairings = kit_pairings(kit, stacks=stacks)
    known = _prepared(evidence, kit, pairings, settings)
    usable = known.loc[known["body"].notna()]
    bodies = read_bodies(usable, kit, pairings, log, settings, overlaps=overlaps)
    learnt = learn_habits(list(bodies.values()), settings.habits)
    parts = []
    for body_id, found in infer_bodies(bodies, learnt, settings).items():
        own = usable.loc[usable["body"] == body_id]
        parts.append(_frames_of(own, bodies[body_id], found))
    paired = _gathered(known, parts)
    return Paired(name_sources(paired, log, shared=_SHARED), learnt.habits, learnt.changes)


def _confirmed_stacks(evidence: pd.DataFrame) -> list[str]:
    if "confirmed_adapter" not in evidence:
        return []
    return [str(stack) for stack in evidence["confirmed_adapter"].dropna().unique() if "+" in str(stack)]


def _prepared(evidence: pd.DataFrame, kit: Kit, pairings: Sequence[Pairing], settings: Settings) -> pd.DataFrame:
    """Add what the layout needs: trip, setting, the confirmed pairing's number, the era of the kit."""
    known = evidence if "trip" in evidence else add_trip(evidence, settings.trips)
    setting = known["recorded_setting_mm"].fillna(known["logged_setting_mm"]).mask(known["has_contacts"])
    return known.assign(setting_mm=setting, confirmed=_confirmed(known, pairings), day=_era(known["at"], kit))


def _confirmed(known: pd.DataFrame, pairings: Sequence[Pairing]) -> np.ndarray:
    number = np.full(len(known), -1, dtype=np.int64)
    if "confirmed_lens" not in known:
        return number
    places = {(p.body.id, p.lens.id, p.adapter_id): place for place, p in enumerate(pairings)}
    places |= {(str(body), NOT_IN_KIT, ""): len(pairings) for body in known["body"].dropna().unique()}
    told = np.flatnonzero(known["confirmed_lens"].notna().to_numpy())
    columns = known.iloc[told][["body", "confirmed_lens", "confirmed_adapter"]]
    adapters = columns["confirmed_adapter"].fillna("")
    keys = zip(columns["body"], columns["confirmed_lens"], adapters, strict=True)
    number[told] = [places.get(key, -1) for key in keys]
    return number


def _era(at: pd.Series, kit: Kit) -> pd.Series:
    """Name a day that stands for all days on which the same lenses were owned."""
    turns = sorted({day for lens in kit.lenses for day in (lens.acquired, lens.sold) if day is not None})
    if not turns:
        return pd.Series(None, index=at.index, dtype="str")
    day = at.to_numpy("datetime64[D]")
    edges = np.array(turns, dtype="datetime64[D]")
    era = np.where(np.isnat(day), -1, np.searchsorted(edges, day, side="right") * 2 + np.isin(day, edges))
    first = pd.Series(day).groupby(era).transform("min").to_numpy("datetime64[D]")
    return pd.Series(first.astype(str), index=at.index, dtype="str").mask(np.isnat(day))


def _frames_of(own: pd.DataFrame, body: BodySequences, found: Found) -> pd.DataFrame:
    """Spread what was found for each step over its frames."""
    timeline = body.timeline
    steps = np.arange(timeline.steps)
    rivals = found.chance.copy()
    rivals[steps, found.pairing] = -1.0
    rival = rivals.argmax(axis=1)
    stretch = _stretches(timeline.sequence, found.pairing, timeline.token)
    columns = {
        "pairing": found.pairing,
        "pairing_confidence": np.clip(found.chance[steps, found.pairing], 0.0, 1.0),
        "rival": rival,
        "rival_confidence": np.maximum(rivals[steps, rival], 0.0),
        "likely": found.likely_cause,
        "by_pixels": _by_pixels(body),
        "stretch": stretch,
        "on_two_bodies": found.doubled,
        **{CAUSE_COLUMNS[cause]: found.causes[:, place] for place, cause in enumerate(CAUSES)},
    }
    table = pd.DataFrame({name: values[timeline.step_of] for name, values in columns.items()})
    table.index = own.index[timeline.order]
    lens, adapter = _names(body)
    for prefix, place in (("", "pairing"), ("rival_", "rival")):
        table[f"{prefix}lens"] = pd.Series(lens[table[place]], index=table.index, dtype="str")
        table[f"{prefix}adapter"] = pd.Series(adapter[table[place]], index=table.index, dtype="str")
    causes = np.array([*CAUSES, None], dtype=object)
    table["likely_cause"] = pd.Series(causes[table["likely"]], index=table.index, dtype="str")
    table["stretch"] = f"{body.states.body.id}/" + table["stretch"].astype("str")
    return table.drop(columns=["pairing", "rival", "likely"])


def _names(body: BodySequences) -> tuple[np.ndarray, np.ndarray]:
    lens = lens_names(body.states)
    adapter = np.array([p.adapter_id if p else None for p in body.states.pairings], dtype=object)
    return lens, adapter


def _stretches(sequence: np.ndarray, pairing: np.ndarray, token: np.ndarray) -> np.ndarray:
    """Return the number of each run of steps with the same answer and the same typed value."""
    begins = np.ones(len(sequence), dtype=bool)
    begins[1:] = (sequence[1:] != sequence[:-1]) | (pairing[1:] != pairing[:-1]) | (token[1:] != token[:-1])
    return np.cumsum(begins)


def _by_pixels(body: BodySequences) -> np.ndarray:
    touched = np.zeros(body.timeline.steps, dtype=bool)
    for step in body.links:
        touched[[step - 1, step]] = True
    return touched


def _gathered(known: pd.DataFrame, parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Put the bodies' frames back in order; what could not be inferred is not known, never dropped."""
    texts = ("lens", "adapter", "rival_lens", "rival_adapter", "likely_cause", "stretch")
    numbers = ("pairing_confidence", "rival_confidence", *CAUSE_COLUMNS.values())
    truths = ("by_pixels", "on_two_bodies")
    if parts:
        found = pd.concat(parts).reindex(known.index)
    else:
        found = pd.DataFrame(index=known.index, columns=[*texts, *numbers, *truths])
    values: dict[str, pd.Series] = {name: found[name].astype("str") for name in texts}
    values |= {name: found[name].astype("float64").fillna(0.0) for name in numbers}
    values |= {name: found[name].eq(True) for name in truths}
    guess = values["pairing_confidence"] < _LEAST
    for name in ("lens", "adapter"):
        values[name] = values[name].mask(guess)
    return known.assign(**values)


def prefer_likely_cause(frames: pd.DataFrame) -> pd.DataFrame:
    """
    Let the sequence's cause stand wherever the verdict is wrong and the sequence has one.

    Parameters
    ----------
    frames : DataFrame
        With ``setting_cause`` as found frame by frame, and ``likely_cause``.

    Returns
    -------
    DataFrame
        Same rows, same order.

    Examples
    --------
    >>> causes = pd.DataFrame({"setting_cause": ["unexplained", None], "likely_cause": ["carried-over", "digit-slip"]})
    >>> prefer_likely_cause(causes)["setting_cause"].fillna("right").tolist()
    ['carried-over', 'right']
    """
    better = frames["setting_cause"].notna() & frames["likely_cause"].notna()
    return frames.assign(setting_cause=frames["setting_cause"].mask(better, frames["likely_cause"]))


def habit_lines(habits: Habits) -> list[str]:
    """
    Say in words how a photographer works.

    Examples
    --------
    >>> habit_lines(Habits())[0]
    'After 15 % of lens changes the old setting was left standing.'
    """
    late = "late" if habits.log_late_s >= 0 else "early"
    return [
        f"After {habits.forgets * 100:.0f} % of lens changes the old setting was left standing.",
        f"Of the settings typed through an adapter with a factor, {habits.factor_left_out * 100:.0f} % leave it out.",
        f"At each pause a wrong setting is put right with a chance of {habits.mends * 100:.0f} %.",
        f"A lens change takes about {habits.lens_change_s:.0f} s.",
        f"The log notes {habits.log_coverage * 100:.0f} % of lens changes.",
        f"Its times are {abs(habits.log_late_s):.0f} s {late}, and off by {habits.log_error_s:.0f} s on average.",
    ]
