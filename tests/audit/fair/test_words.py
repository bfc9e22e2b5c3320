from __future__ import annotations

import pandas as pd
import pytest

from auditor.audit.fair.comparing import compare, compare_each
from auditor.audit.fair.cost import setting_cost
from auditor.audit.fair.keeping import fit_keeping
from auditor.audit.fair.trials import trials_of
from auditor.audit.fair.words import bursts_sentence, comparison_sentence, cost_sentence
from auditor.audit.ledger import keep_rates
from tests.audit.fair.test_comparing import DARK, banded
from tests.audit.fair.test_cost import HAND, shaken
from tests.benchmarks.ledger.archives import Story, made


def cost_words(frames: pd.DataFrame) -> str:
    trials = trials_of(frames)
    return cost_sentence(setting_cost(frames, trials, fit_keeping(trials), by="lens", hand=HAND))


def test_the_sentence_holds_counts_estimates_the_interval_and_what_is_not_said() -> None:
    said = comparison_sentence(compare(trials_of(banded(DARK)), "A", "B"), {"A": "Orla", "B": "Hale"})
    for words in (
        "Orla kept 60 of 200 frames (30 %) and Hale 140 of 200 frames (70 %)",
        "The frames of Orla were harder, by 4.0 stops",
        "the estimates are 50 % and 50 % (difference +0 points, 95 % interval -",
        "Nothing here says that Orla is the worse one",
        "subject, focus and tiredness",
    ):
        assert words in said


def test_what_cannot_be_compared_is_said_so() -> None:
    found = compare(trials_of(banded({"A": [(30, 40), (0, 0)], "B": [(0, 0), (10, 40)]})), "A", "B")
    assert "They cannot be compared: only 0 of its frames" in comparison_sentence(found)


def test_what_is_left_out_and_easier_frames_are_said() -> None:
    found = compare(trials_of(banded({"A": [(30, 40), (5, 10)], "B": [(20, 40), (1, 3)]})), "B", "A")
    assert "3 of B's 43 frames left out: none to compare with" in comparison_sentence(found)
    assert "about equally hard" in comparison_sentence(found)
    assert "The frames of B were easier" in comparison_sentence(compare(trials_of(banded(DARK)), "B", "A"))


@pytest.mark.parametrize(("effect", "words"), [(-1.5, "fewer keepers"), (1.5, "more keepers")])
def test_a_difference_is_associated_and_a_test_would_settle_it(effect: float, words: str) -> None:
    frames = made(Story(bursts=700, effects={"hale-85": effect}, correlation=0.1), 5).frames
    said = comparison_sentence(compare_each(trials_of(frames), names=["hale-85"])[0])
    assert f"was associated with {words}; a test" in said


def test_bursts_are_spoken_of() -> None:
    frames = made(Story(), 1).frames
    said = bursts_sentence(keep_rates(frames, "lens"))
    assert "came in 500 bursts" in said
    assert "Rates are drawn towards" in said
    assert "drawn" not in bursts_sentence(keep_rates(frames.assign(body=pd.Categorical(["one"] * len(frames))), "body"))
    assert bursts_sentence(keep_rates(frames.iloc[:0], "lens")) == "Nothing was judged."


def test_both_ways_of_telling_the_cost_are_said() -> None:
    said = cost_words(shaken(2).frames)
    assert "by the shake model, and" in said
    assert "by what you kept under the same conditions" in said
    assert "never judged" not in said


def test_a_cost_that_cannot_be_told_is_not_told() -> None:
    frames = made(Story(bursts=300, wrong={"orla-50": 1.0}), 5).frames
    alone = frames.assign(difficulty_stops=frames["difficulty_stops"].where(frames["lens"] != "orla-50", 12.0))
    assert "a number that cannot be told" in cost_words(alone)
    partly = frames.copy()
    first = partly.index[(partly["lens"] == "orla-50") & (partly["kept"] == 0)][:6]
    partly.loc[first, "difficulty_stops"] = 40.0
    assert "6 of the frames have no such partners" in cost_words(partly)
    never = frames.copy()
    never.loc[first, "kept"] = -1
    assert "6 more frames with a wrong setting were never judged" in cost_words(never)
    assert cost_words(made(Story(wrong={}), 3).frames).startswith("No judged frame had a setting")


def test_it_is_said_where_the_two_ways_differ() -> None:
    # A hand a hundred times as shaky as the model may think loses nothing by the model; the keeping says otherwise.
    frames = made(Story(bursts=1500, wrong={"orla-50": 0.5, "hale-85": 0.5}, cost=1.2, correlation=0.0), 5).frames
    steady = frames.assign(shake_um=0.001, tolerated_um=14.0, residual=0.06, residual_floor=0.06)
    assert "The two differ" in cost_words(steady)
