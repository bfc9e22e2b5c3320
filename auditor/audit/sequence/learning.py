"""The photographer's habits, learnt from the archive itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from auditor.audit.sequence.assemble import BodySequences, Laid, batches, change_odds
from auditor.audit.sequence.chain import REACH, Floats, Ints, Layout
from auditor.audit.sequence.notes import note_density
from auditor.audit.sequence.smoothing import Posterior, posteriors
from auditor.audit.sequence.typed import TYPED_CAUSES
from auditor.model.settings import Habits

__all__ = ["Learnt", "learn", "starting_point"]

_ROUNDS = 4
_STEPS_TO_LEARN_FROM = 12_000
_HOLD = 30.0
"""How many observations the prior of a share counts for. Judgement: a trip's worth of lens changes."""

_HOLD_COVERAGE = 6.0
_HOLD_POPULARITY = 2.0
_STRANGER = 0.4
"""A lens that is not in the kit begins this much as likely as each pairing of it: new kits are never complete. At 1 a
complete kit would lose a point of recall, at 0.15 an incomplete one half of its strangers. Judgement."""
_NO_LOG_COVERAGE = 0.02
_PAUSE_BINS_S = np.geomspace(8.0, 86400.0, 41)
_FIELD_OF_CAUSE = {
    "adapter-factor-left-out": "factor_left_out",
    "equivalent-entered": "equivalent_entered",
    "long-end-of-zoom": "long_end_of_zoom",
    "digit-slip": "digit_slip",
    "unexplained": "odd_value",
}


@dataclass(frozen=True)
class Learnt:
    """
    Habits, and what is learnt for each body and sequence.

    Attributes
    ----------
    habits : Habits
    popularity : list of array, shape (pairings,)
        For each body, the chance of each pairing when a lens is put on.
    coverage : list of array, shape (sequences,)
        For each body, the share of changes that were noted in each sequence.
    changes : float
        Lens changes expected in what was learnt from.
    """

    habits: Habits
    popularity: list[Floats]
    coverage: list[Floats]
    changes: float = 0.0


@dataclass
class _Counts:
    """Expected events, added up over batches."""

    arrived: float = 0.0
    forgotten: float = 0.0
    wrong_pauses: float = 0.0
    mended: float = 0.0
    right_pauses: float = 0.0
    retyped: float = 0.0
    causes: Floats = field(default_factory=lambda: np.zeros(len(TYPED_CAUSES)))
    chances: Floats = field(default_factory=lambda: np.zeros(len(TYPED_CAUSES)))
    pauses: Floats = field(default_factory=lambda: np.zeros(len(_PAUSE_BINS_S)))
    changes: Floats = field(default_factory=lambda: np.zeros(len(_PAUSE_BINS_S)))
    notes: list[Floats] = field(default_factory=list)
    rows: float = 0.0
    misnamed: float = 0.0


def starting_point(bodies: Sequence[BodySequences], habits: Habits, noted: Sequence[np.ndarray]) -> Learnt:
    """
    Return what is believed before anything is learnt.

    Parameters
    ----------
    bodies : sequence of BodySequences
    habits : Habits
    noted : sequence of array of bool, shape (sequences,)
        For each body, the sequences for which there is a log at all.
    """
    popularity = [_popularity(np.zeros(len(body.states.pairings))) for body in bodies]
    return Learnt(habits, popularity, [np.where(some, habits.log_coverage, _NO_LOG_COVERAGE) for some in noted])


def _popularity(counts: Floats) -> Floats:
    prior = np.ones(len(counts))
    prior[-1] = _STRANGER
    share = counts + _HOLD_POPULARITY * prior
    return np.asarray(share / share.sum())


def layout_of(body: BodySequences, popularity: Floats, habits: Habits) -> Layout:
    """Return what is the same at every step of a body."""
    return Layout(body.states.popularity(popularity), body.states.group, habits.zoom_turns)


def learn(bodies: Sequence[BodySequences], start: Learnt) -> Learnt:
    """
    Re-estimate habits by expectation and maximisation, each held to its prior.

    Parameters
    ----------
    bodies : sequence of BodySequences
    start : Learnt
        Where to begin; its habits are the priors.

    Returns
    -------
    Learnt
        Popularity and coverage of sequences that were not learnt from are kept or set to the learnt mean.

    References
    ----------
    .. [1] A. P. Dempster, N. M. Laird and D. B. Rubin, Maximum likelihood from incomplete data via the EM algorithm,
       J. R. Stat. Soc. B 39 (1977) 1-38 (from memory).
    """
    learnt = start
    samples = [_sample(body) for body in bodies]
    for _ in range(_ROUNDS):
        learnt = _round(bodies, samples, learnt, start)
    return learnt


def _sample(body: BodySequences) -> Ints:
    """Choose sequences to learn from: the latest ones, up to a number of steps."""
    sequence = body.timeline.sequence
    count = int(sequence[-1]) + 1 if len(sequence) else 0
    lengths = np.bincount(sequence, minlength=count)
    latest = np.cumsum(lengths[::-1])[::-1]
    chosen = np.flatnonzero(latest <= _STEPS_TO_LEARN_FROM)
    return chosen if len(chosen) else np.arange(max(count - 1, 0), count)


def _round(bodies: Sequence[BodySequences], samples: Sequence[Ints], learnt: Learnt, prior: Learnt) -> Learnt:
    counts = _Counts()
    popularity, coverage = [], []
    used, changed = 0.0, 0.0
    for number, prior_body in enumerate(bodies):
        body = prior_body.with_habits(learnt.habits)
        arrivals = np.zeros(len(body.states.pairings))
        noted = [np.zeros(len(learnt.coverage[number])) for _ in range(2)]
        layout = layout_of(body, learnt.popularity[number], learnt.habits)
        for laid in batches(body, learnt.habits, layout.popularity, learnt.coverage[number], only=samples[number]):
            found = posteriors(layout, laid.batch, with_arrivals=True)
            arrivals += body.states.totals(found.events.arrived.sum(axis=(0, 1)))
            noted[0][laid.sequence] = found.events.used.sum(axis=(1, 2))
            noted[1][laid.sequence] = found.events.changed.sum(axis=1)
            _count(counts, body, laid, found)
        popularity.append(_popularity(arrivals))
        has_log = prior.coverage[number] > _NO_LOG_COVERAGE
        used, changed = used + noted[0][has_log].sum(), changed + noted[1][has_log].sum()
        coverage.append((noted, has_log))
    overall = (used + _HOLD * prior.habits.log_coverage) / (changed + _HOLD)
    habits = _habits(counts, prior.habits, learnt.habits).model_copy(update={"log_coverage": float(overall)})
    return Learnt(habits, popularity, [_coverage(*each, overall) for each in coverage], float(counts.changes.sum()))


def _coverage(noted: list[Floats], has_log: np.ndarray, overall: float) -> Floats:
    own = (noted[0] + _HOLD_COVERAGE * overall) / (noted[1] + _HOLD_COVERAGE)
    return np.where(has_log, np.clip(own, 0.02, 0.98), _NO_LOG_COVERAGE)


def _count(counts: _Counts, body: BodySequences, laid: Laid, found: Posterior) -> None:
    """Add one batch's expected events."""
    batch, typed = laid.batch, body.typed
    arrived = found.events.arrived
    token, before = body.timeline.token[laid.step], body.timeline.before[laid.step]
    shows = laid.real & (token >= 0)
    known = shows & (before >= 0)
    share = batch.carried[batch.kind_at] / np.maximum(batch.change[batch.kind_at], 1e-300)
    counts.arrived += float(arrived[known].sum())
    counts.forgotten += float((arrived * share)[known].sum())
    later = known.copy()
    later[:, 0] = False
    staying = np.maximum(found.state - arrived, 0.0)[later]
    wrong = ~typed.fits[before[later]]
    anew = (token != before)[later][:, None]
    counts.wrong_pauses += float((staying * wrong).sum())
    counts.mended += float((staying * wrong * anew).sum())
    counts.right_pauses += float((staying * ~wrong).sum())
    counts.retyped += float((staying * ~wrong * anew).sum())
    _count_causes(counts, body, (arrived * (1 - share))[shows], token[shows])
    _count_rows(counts, body, laid, found)
    pause = (laid.end_s - laid.begin_s)[:, 1:]
    real = laid.real[:, 1:] & ~np.isnan(pause)
    place = np.clip(np.searchsorted(_PAUSE_BINS_S, pause[real]) - 1, 0, len(_PAUSE_BINS_S) - 1)
    long_enough = pause[real] >= _PAUSE_BINS_S[0]
    np.add.at(counts.pauses, place[long_enough], 1.0)
    np.add.at(counts.changes, place[long_enough], found.events.changed[:, 1:][real][long_enough])


def _count_rows(counts: _Counts, body: BodySequences, laid: Laid, found: Posterior) -> None:
    """Add which rows were used where, and how often one named another lens or adapter than was on."""
    sequence, step, offset = np.nonzero(found.events.used > 0.02)
    if not len(sequence):
        return
    used = found.events.used[sequence, step, offset]
    times = (laid.row_s[sequence, step, offset], laid.begin_s[sequence, step], laid.end_s[sequence, step])
    counts.notes.append(np.stack([used, *times]))
    place = laid.batch.gone[sequence, step] + offset - REACH
    kind = laid.batch.row_at[sequence, np.clip(place, 0, laid.batch.row_at.shape[1] - 1)]
    arrived = found.events.arrived[sequence, step]
    arrived = arrived / np.maximum(arrived.sum(axis=1, keepdims=True), 1e-300)
    names = body.notes.match[kind].max(axis=1) > 0.5
    counts.rows += float(used[names].sum())
    counts.misnamed += float((used[:, None] * arrived * (body.notes.match[kind] < 0.05))[names].sum())


def _count_causes(counts: _Counts, body: BodySequences, typed_now: Floats, token: Ints) -> None:
    """Add how often each way of typing occurred, and how often it could have."""
    by_cause = body.typed.by_cause
    total = np.maximum(by_cause.sum(axis=0), 1e-300)
    possible = by_cause.max(axis=1) > 0
    by_token = np.zeros(total.shape)
    np.add.at(by_token, token, typed_now)
    counts.causes += (by_cause / total * by_token).sum(axis=(1, 2))
    counts.chances += (possible * by_token.sum(axis=0)).sum(axis=1)


def _habits(counts: _Counts, prior: Habits, now: Habits) -> Habits:
    """Return the habits that make the expected events most likely, each share held to its prior."""
    shares = {
        "forgets": (counts.forgotten, counts.arrived, _HOLD),
        "mends": (counts.mended, counts.wrong_pauses, 10 * _HOLD),
        "retypes": (counts.retyped, counts.right_pauses, 50 * _HOLD),
        "log_misnames": (counts.misnamed, counts.rows, 2 * _HOLD),
    }
    for place, cause in enumerate(TYPED_CAUSES):
        if cause in _FIELD_OF_CAUSE:
            shares[_FIELD_OF_CAUSE[cause]] = (counts.causes[place], counts.chances[place], _HOLD)
    update = {
        name: float(np.clip((seen + hold * getattr(prior, name)) / (of + hold), 1e-4, 0.6))
        for name, (seen, of, hold) in shares.items()
    }
    update |= _change_times(counts, prior)
    update |= _note_times(counts, prior)
    return now.model_copy(update=update)


def _change_times(counts: _Counts, prior: Habits) -> dict[str, float]:
    """How long a change takes and how often a pause has one: most likely on a grid, given the expected changes."""
    middle = np.sqrt(_PAUSE_BINS_S * np.append(_PAUSE_BINS_S[1:], _PAUSE_BINS_S[-1] * 2))
    best, chosen = -np.inf, (prior.lens_change_s, prior.changes_a_pause)
    for long_s in np.geomspace(12, 180, 28):
        for odds in np.geomspace(0.01, 0.55, 28):
            guess = prior.model_copy(update={"lens_change_s": float(long_s), "changes_a_pause": float(odds)})
            chance = change_odds(middle, guess)
            fit = (counts.changes * np.log(chance) + (counts.pauses - counts.changes) * np.log1p(-chance)).sum()
            fit -= 0.5 * (np.log(long_s / prior.lens_change_s) / 0.5) ** 2
            fit -= 0.5 * (np.log(odds / prior.changes_a_pause) / 1.0) ** 2
            if fit > best:
                best, chosen = fit, (float(long_s), float(odds))
    return {"lens_change_s": chosen[0], "changes_a_pause": chosen[1]}


def _note_times(counts: _Counts, prior: Habits) -> dict[str, float]:
    """How far noted times are off, and how late: most likely on a grid, given which rows were used where."""
    if not counts.notes:
        return {}
    weight, at_s, begin_s, end_s = np.concatenate(counts.notes, axis=1)
    best, chosen = -np.inf, (prior.log_error_s, prior.log_late_s)
    for error_s in np.geomspace(8, 600, 24):
        for late_s in prior.log_late_s + np.arange(-300.0, 601.0, 20.0):
            guess = prior.model_copy(update={"log_error_s": float(error_s), "log_late_s": float(late_s)})
            fit = (weight * np.log(note_density(at_s, begin_s, end_s, guess) + 1e-12)).sum()
            fit -= 3 * np.log(error_s / prior.log_error_s) ** 2 + 0.5 * ((late_s - prior.log_late_s) / 120) ** 2
            if fit > best:
                best, chosen = fit, (float(error_s), float(late_s))
    return {"log_error_s": chosen[0], "log_late_s": chosen[1]}
