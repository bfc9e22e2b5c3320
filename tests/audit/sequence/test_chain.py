"""Forward-backward and best path against every course written out, and against published worked examples."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from auditor.audit.sequence.chain import Batch, Layout
from auditor.audit.sequence.path import best_paths
from auditor.audit.sequence.smoothing import posteriors
from tests.audit.sequence.walks import Walker, random_batch, random_layout

CASES = [
    ([0, 1, 2], [4, 3, 2], [3, 1, 2]),
    ([0, 1, 1, 2], [3, 4, 1], [4, 0, 2]),
    ([0, 0, 1], [4, 4, 3], [0, 0, 0]),
    ([0, 1, 2], [3, 2, 3], [6, 5, 7]),
]


@pytest.fixture(params=range(len(CASES) * 3))
def case(request: pytest.FixtureRequest) -> tuple[Layout, Batch]:
    groups, length, rows = CASES[request.param % len(CASES)]
    random = np.random.default_rng(request.param)
    layout = random_layout(random, groups)
    return layout, random_batch(random, layout, length, rows)


def _with_links(layout: Layout, batch: Batch) -> Batch:
    random = np.random.default_rng(5)
    link = random.uniform(0.2, 1, (layout.states, layout.states))
    return dataclasses.replace(batch, links={(0, 1): link, (1, 2): link.T.copy()})


def _linked_weights(batch: Batch, sequence: int, states: tuple[int, ...]) -> float:
    weight = 1.0
    for (which, step), link in batch.links.items():
        if which == sequence and step < len(states):
            weight *= link[states[step - 1], states[step]]
    return weight


@pytest.mark.parametrize("linked", [False, True])
def test_posteriors_are_those_of_all_walks_added_up(case: tuple[Layout, Batch], linked: bool) -> None:
    layout, batch = case
    batch = _with_links(layout, batch) if linked else batch
    found = posteriors(layout, batch)
    for sequence in range(len(batch.length)):
        walks = Walker(layout, batch, sequence).walks()
        weights = np.array([walk.weight * _linked_weights(batch, sequence, walk.states) for walk in walks])
        assert found.log_likelihood[sequence] == pytest.approx(np.log(weights.sum()), abs=1e-9)
        weights /= weights.sum()
        for step in range(int(batch.length[sequence])):
            for state in range(layout.states):
                here = np.array([walk.states[step] == state for walk in walks])
                left = np.array([walk.carried[step] for walk in walks])
                assert found.state[sequence, step, state] == pytest.approx(weights[here].sum(), abs=1e-10)
                assert found.carried[sequence, step, state] == pytest.approx(weights[here & left].sum(), abs=1e-10)
            changed = np.array([walk.changed[step] for walk in walks])
            assert found.events.changed[sequence, step] == pytest.approx(weights[changed].sum(), abs=1e-10)
        assert (found.state[sequence, batch.length[sequence] :] == 0).all()


def test_expected_rows_used_are_those_of_all_walks(case: tuple[Layout, Batch]) -> None:
    layout, batch = case
    found = posteriors(layout, batch).events.used
    for sequence in range(len(batch.length)):
        walks = Walker(layout, batch, sequence).walks()
        weights = np.array([walk.weight for walk in walks])
        weights /= weights.sum()
        for step in range(int(batch.length[sequence])):
            gone = int(batch.gone[sequence, step])
            for column in range(batch.width):
                row = gone + column - (batch.width - 1) // 2
                with_row = np.array([walk.used[step] == row for walk in walks])
                assert found[sequence, step, column] == pytest.approx(weights[with_row].sum(), abs=1e-10)


@pytest.mark.parametrize("linked", [False, True])
def test_best_path_is_the_heaviest_walk(case: tuple[Layout, Batch], linked: bool) -> None:
    layout, batch = case
    batch = _with_links(layout, batch) if linked else batch
    # A walk's weight here is over both ways in which its value came about: the best path does not ask which.
    paths, log_likelihood = best_paths(layout, batch)
    for sequence in range(len(batch.length)):
        heaviest: dict[tuple[object, ...], float] = {}
        for walk in Walker(layout, batch, sequence).walks():
            key = (walk.states, walk.changed, walk.used)
            weight = walk.weight * _linked_weights(batch, sequence, walk.states)
            heaviest[key] = heaviest.get(key, 0.0) + weight
        best = max(heaviest, key=lambda key: heaviest[key])
        assert tuple(paths[sequence, : batch.length[sequence]]) == best[0]
        assert log_likelihood[sequence] == pytest.approx(np.log(heaviest[best]), abs=1e-9)


def _umbrellas(carried: list[bool]) -> tuple[Layout, Batch]:
    """States rain, dry. The chance to stay is 0.7, so a change to the other has 0.3."""
    steps = len(carried)
    seen = np.array([[0.9, 0.2], [0.1, 0.8]])
    one = np.ones((1, 2))
    batch = Batch(
        length=np.array([steps]),
        emit=seen,
        emit_at=np.array([[0 if umbrella else 1 for umbrella in carried]]),
        stay=one,
        change=one,
        carried=0 * one,
        kept=np.ones(1),
        kind_at=np.zeros((1, steps), dtype=np.int64),
        odds=np.full((1, steps), 0.3),
        gone=np.zeros((1, steps), dtype=np.int64),
        rows=np.zeros(1, dtype=np.int64),
        row_at=np.zeros((1, 1), dtype=np.int64),
        match=0 * one,
        skip=one,
        skip_start=np.ones(1),
        use=np.zeros((1, steps, 1)),
        unnoted=np.ones(1),
        links={},
    )
    return Layout(np.array([0.5, 0.5]), np.array([0, 1])), batch


@pytest.mark.published
def test_umbrella_world_two_days() -> None:
    # S. Russell and P. Norvig, Artificial Intelligence: A Modern Approach, umbrella example, section "Smoothing":
    # after umbrellas on days 1 and 2, P(rain on day 1) = 0.883, and P(rain on day 2) = 0.883 (from memory).
    found = posteriors(*_umbrellas([True, True])).state[0]
    assert found[:, 0] == pytest.approx([0.883, 0.883], abs=5e-4)


@pytest.mark.published
def test_umbrella_world_five_days() -> None:
    # Wikipedia, "Forward-backward algorithm", worked example, five days, umbrella on all but the third: smoothed
    # chance of rain (printed to 4 decimals; from memory).
    found = posteriors(*_umbrellas([True, True, False, True, True])).state[0]
    assert found[:, 0] == pytest.approx([0.8673, 0.8204, 0.3075, 0.8204, 0.8673], abs=5e-5)


@pytest.mark.published
def test_umbrella_world_best_path() -> None:
    # Russell and Norvig, section "Finding the most likely sequence": rain, rain, dry, rain, rain, the last message
    # .0210 (from memory; their message starts from the filtered .8182 of day 1, so the scale differs by that day's
    # normaliser 0.55).
    path, log_likelihood = best_paths(*_umbrellas([True, True, False, True, True]))
    assert path[0].tolist() == [0, 0, 1, 0, 0]
    assert np.exp(log_likelihood[0]) / 0.55 == pytest.approx(0.0210, abs=5e-5)


def test_two_states_that_nothing_tells_apart_share_the_chance() -> None:
    layout, batch = _umbrellas([True, True, True])
    batch = dataclasses.replace(batch, emit=np.array([[0.9, 0.9], [0.1, 0.1]]))
    assert posteriors(layout, batch).state[0] == pytest.approx(np.full((3, 2), 0.5))


def test_long_sequences_neither_overflow_nor_vanish() -> None:
    layout, batch = _umbrellas([True] * 4000)
    batch = dataclasses.replace(batch, emit=np.array([[1e-30, 1e-31], [1.0, 1.0]]))
    found = posteriors(layout, batch)
    assert np.allclose(found.state[0].sum(axis=1), 1)
    assert np.isfinite(found.log_likelihood).all()
