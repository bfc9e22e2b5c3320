"""From evidence to the pairing of every frame, how sure it is, and how its setting came about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.sequence.assemble import BodySequences, Laid, batches, sequence_rows
from auditor.audit.sequence.chain import Floats, Ints
from auditor.audit.sequence.clues import clue_chances
from auditor.audit.sequence.elsewhere import free_elsewhere, mounted, on_another_too
from auditor.audit.sequence.learning import Learnt, layout_of, learn, starting_point
from auditor.audit.sequence.links import ratio_links
from auditor.audit.sequence.notes import notes_of
from auditor.audit.sequence.path import best_paths
from auditor.audit.sequence.smoothing import posteriors
from auditor.audit.sequence.states import States, states_of
from auditor.audit.sequence.timeline import Timeline, lay_out
from auditor.audit.sequence.typed import TYPED_CAUSES, TypedValues, typed_values
from auditor.model.kit import Kit
from auditor.model.log import LogRow
from auditor.model.pairings import Pairing
from auditor.model.settings import Habits, Settings

__all__ = ["CAUSES", "Found", "infer_bodies", "infer_body", "learn_habits", "lens_names", "read_bodies"]

CAUSES = ("carried-over", *TYPED_CAUSES[1:])
"""Causes of a wrong setting."""


@dataclass(frozen=True)
class Found:
    """
    What was found for the steps of one body.

    Attributes
    ----------
    pairing : array of int, shape (steps,)
        Place in the body's pairings, by the most likely course; where that course and the verdict on the setting
        disagree, the likeliest pairing that goes with the verdict.
    chance : array, shape (steps, pairings)
        Chance of each pairing.
    causes : array, shape (steps, causes)
        Chance of each cause of a wrong setting, whatever is mounted; their sum is that of a wrong setting.
    likely_cause : array of int, shape (steps,)
        Most likely cause given the answered pairing, -1 where the setting is right for it.
    changed : array, shape (steps,)
        Chance that a lens change lies before the step.
    doubled : array of bool, shape (steps,)
        The answered lens seems to be on another body at the same time.
    """

    pairing: Ints
    chance: Floats
    causes: Floats
    likely_cause: Ints
    changed: Floats
    doubled: npt.NDArray[np.bool_]


def read_bodies(
    evidence: pd.DataFrame,
    kit: Kit,
    pairings: Sequence[Pairing],
    log: Sequence[LogRow],
    settings: Settings,
    *,
    overlaps: pd.DataFrame | None = None,
) -> dict[str, BodySequences]:
    """
    Lay out the frames of each body, with tables made for the habits that settings.toml holds.

    Parameters
    ----------
    evidence : DataFrame
        As for :func:`auditor.audit.sequence.timeline.lay_out`, with ``body``; ``confirmed`` counts along
        ``pairings``; their number stands for a lens that the kit does not name.
    kit, pairings, log, settings
        The photographer's files, and the pairings that may occur.
    overlaps : DataFrame, optional
        Focal ratios measured between two frames.
    """
    bodies = {}
    for body_id, frames in evidence.groupby("body", observed=True):
        states = states_of(kit.body(str(body_id)), pairings)
        place = {pairing: number for number, pairing in enumerate(states.pairings)}
        # After the pairings comes what is none of them.
        own = {number: place.get(pairing, -1) for number, pairing in enumerate((*pairings, None))}
        mapped = frames["confirmed"].map(lambda number, own=own: own.get(number, -1)).astype("int64")
        timeline = lay_out(frames.assign(confirmed=mapped))
        links = ratio_links(frames, timeline, states, overlaps, settings.habits)
        bodies[str(body_id)] = replace(_read_body(timeline, states, log, settings), links=links)
    return bodies


def _read_body(timeline: Timeline, states: States, log: Sequence[LogRow], settings: Settings) -> BodySequences:
    habits, tolerance = settings.habits, settings.tolerance.setting_percent / 100
    return BodySequences(
        states=states,
        timeline=timeline,
        notes=notes_of(log, states, habits),
        typed=typed_values(timeline.tokens, states, habits, tolerance),
        emit=clue_chances(timeline.clues, states),
        links={},
        rows=tuple(row for row in log if row.body == states.body.id),
    )


def learn_habits(bodies: Sequence[BodySequences], habits: Habits) -> Learnt:
    """Return the habits to use: those given, or what the archive says where they may be learnt."""
    noted = [_has_log(body) for body in bodies]
    start = starting_point(bodies, habits, noted)
    return learn(bodies, start) if habits.learn else start


def _has_log(body: BodySequences) -> np.ndarray:
    count = int(body.timeline.sequence[-1]) + 1 if body.timeline.steps else 0
    return np.isin(np.arange(count), sequence_rows(body.timeline, body.notes))


def infer_bodies(bodies: Mapping[str, BodySequences], learnt: Learnt, settings: Settings) -> dict[str, Found]:
    """
    Infer the pairing of every step of all bodies; a lens is on one of them at a time.

    Each body is first taken by itself. Then each is taken again, where its time meets the others', with what those said
    by themselves: never with what they made of this body's own word, which would be believed twice.

    Parameters
    ----------
    bodies : mapping of body id to BodySequences
    learnt : Learnt
        In the order of ``bodies``.
    settings : Settings
    """
    wrong_from = settings.tolerance.wrong_from
    found = {
        name: infer_body(body, learnt, number, wrong_from=wrong_from)
        for number, (name, body) in enumerate(bodies.items())
    }
    if len(bodies) < 2:
        return found
    on = {name: mounted(body.timeline, body.states, found[name].chance) for name, body in bodies.items()}
    for number, (name, body) in enumerate(bodies.items()):
        free = free_elsewhere(body.timeline, body.states, [theirs for other, theirs in on.items() if other != name])
        if free is not None:
            met = np.unique(body.timeline.sequence[free[1] > 0])
            again = replace(body, free=free)
            infer_body(again, learnt, number, wrong_from=wrong_from, again=(met, found[name]))
    on = {name: mounted(body.timeline, body.states, found[name].chance) for name, body in bodies.items()}
    answered = {name: lens_names(body.states)[found[name].pairing] for name, body in bodies.items()}
    doubled = on_another_too({name: body.timeline for name, body in bodies.items()}, on, answered)
    return {name: replace(one, doubled=doubled[name]) for name, one in found.items()}


def lens_names(states: States) -> npt.NDArray[np.object_]:
    """Return the lens of each pairing, None for one that is not in the kit."""
    return np.array([pairing.lens.id if pairing else None for pairing in states.pairings], dtype=object)


def infer_body(
    body: BodySequences,
    learnt: Learnt,
    number: int,
    *,
    wrong_from: float = 0.5,
    again: tuple[Ints, Found] | None = None,
) -> Found:
    """
    Infer the pairing of every step of one body.

    Parameters
    ----------
    body : BodySequences
    learnt : Learnt
    number : int
        Place of the body in ``learnt``.
    wrong_from : float
        A setting is called wrong where the chance of it, over all pairings and causes, is at least this.
    again : tuple of (array of int, Found), optional
        Sequences to infer anew, and where to put what is found of them.
    """
    body = body.with_habits(learnt.habits)
    steps, pairings = body.timeline.steps, len(body.states.pairings)
    only, found = again or (None, _nothing_found(steps, pairings))
    layout = layout_of(body, learnt.popularity[number], learnt.habits)
    for laid in batches(body, learnt.habits, layout.popularity, learnt.coverage[number], only=only):
        path, _ = best_paths(layout, laid.batch)
        posterior = posteriors(layout, laid.batch)
        real = laid.real
        step = laid.step[real]
        found.pairing[step] = body.states.group[path[real]]
        found.chance[step] = body.states.totals(posterior.state[real])
        found.changed[step] = posterior.events.changed[real]
        _settle_verdicts(found, body, step, posterior.state[real], wrong_from)
        _add_causes(found, body, laid, (posterior.state[real], posterior.carried[real]))
    return found


def _nothing_found(steps: int, pairings: int) -> Found:
    return Found(
        np.zeros(steps, dtype=np.int64),
        np.zeros((steps, pairings)),
        np.zeros((steps, len(CAUSES))),
        np.full(steps, -1, dtype=np.int64),
        np.zeros(steps),
        np.zeros(steps, dtype=bool),
    )


def _settle_verdicts(found: Found, body: BodySequences, step: Ints, state: Floats, wrong_from: float) -> None:
    """
    Let the answered pairing agree with what is more likely of the setting, over all pairings.

    The most likely course may be one of right settings while most other courses, each a little less likely, agree that
    it was wrong (or the other way round). The verdict is the sum's, and the pairing the likeliest that goes with it.
    """
    token = body.timeline.token[step]
    shown = np.flatnonzero(token >= 0)
    chance = body.states.totals(state[shown])
    lost = body.states.totals(state[shown] * ~body.typed.fits[token[shown]])
    for_wrong = lost > chance / 2
    called = lost.sum(axis=1) >= wrong_from
    agree = for_wrong == called[:, None]
    answer = found.pairing[step[shown]]
    turned = np.flatnonzero(~agree[np.arange(len(shown)), answer] & agree.any(axis=1))
    found.pairing[step[shown[turned]]] = np.where(agree[turned], chance[turned], -1.0).argmax(axis=1)


def _add_causes(found: Found, body: BodySequences, laid: Laid, chances: tuple[Floats, Floats]) -> None:
    """Split the chance of a wrong setting among its causes."""
    state, carried = chances
    step = laid.step[laid.real]
    token = body.timeline.token[step]
    shown = np.flatnonzero(token >= 0)
    wrong = ~body.typed.fits[token[shown]]
    left = carried[shown] * wrong
    typed = np.maximum(state[shown] - carried[shown], 0.0) * wrong
    ways = _ways(body.typed)
    own = body.states.group[None, :] == found.pairing[step[shown]][:, None]
    for place in range(len(CAUSES)):
        mass = left if place == 0 else typed * ways[place - 1][token[shown]]
        found.causes[step[shown], place] = mass.sum(axis=1)
    given = np.stack(
        [
            ((left if place == 0 else typed * ways[place - 1][token[shown]]) * own).sum(axis=1)
            for place in range(len(CAUSES))
        ],
        axis=1,
    )
    right = ((state[shown] * ~wrong) * own).sum(axis=1)
    found.likely_cause[step[shown]] = np.where(right > given.sum(axis=1), -1, given.argmax(axis=1))


def _ways(typed: TypedValues) -> Floats:
    """Share of each way of typing a wrong value, shape (causes but carried-over, tokens, states)."""
    ways = typed.by_cause[1:]
    total = ways.sum(axis=0)
    shares = np.zeros_like(ways)
    shares[-1] = 1.0  # nothing explains it
    np.divide(ways, total, out=shares, where=total > 0)
    return shares
