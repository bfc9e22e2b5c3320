"""Which stretches are asked about, and what an answer marks."""

from __future__ import annotations

import datetime as dt

import pandas as pd

from auditor.audit.questions import Candidate, Question, add_answers, find_questions, question_sentence
from auditor.model.answers import Answer
from tests.audit.sequence.archives import paired, shots


def doubtful() -> pd.DataFrame:
    """Frames with a value that fits no pairing, beside frames that are sure."""
    rows = (
        shots("2026-05-02 10:00", 10, 85.0) + shots("2026-05-02 11:00", 38, 47.0) + shots("2026-05-02 13:00", 4, 47.0)
    )
    return paired(rows, "2026-05-02 09:59,2026-05-02 10:30,one,hale-85,m42-plain,,\n").frames


def test_the_longest_doubt_is_asked_about_first_and_the_sure_not_at_all() -> None:
    questions = find_questions(doubtful())
    assert questions
    assert questions[0].frames >= 38
    assert [question.number for question in questions] == list(range(1, len(questions) + 1))
    assert [q.doubtful for q in questions] == sorted((q.doubtful for q in questions), reverse=True)
    assert all(question.setting_mm == 47.0 for question in questions)
    assert len(questions[0].paths) == questions[0].frames


def test_no_more_questions_than_wanted() -> None:
    assert len(find_questions(doubtful(), most=1)) == 1
    assert find_questions(doubtful().iloc[:0]) == ()


def test_what_was_answered_is_not_asked_again() -> None:
    frames = doubtful()
    first = find_questions(frames)[0]
    told = frames.assign(
        pairing_evidence=frames["pairing_evidence"].mask(frames["stretch"] == frames["stretch"].iloc[20], "confirmed")
    )
    assert first.first not in {question.first for question in find_questions(told)}


def test_candidates_are_the_likeliest_first() -> None:
    for question in find_questions(doubtful()):
        chances = [candidate.chance for candidate in question.candidates]
        assert chances == sorted(chances, reverse=True)
        assert 1 <= len(chances) <= 3


def test_an_answer_marks_its_own_body_and_span_and_the_later_one_holds() -> None:
    evidence = pd.DataFrame(
        {
            "at": pd.to_datetime(["2026-05-02 10:00", "2026-05-02 10:10", "2026-05-02 10:10"]),
            "body": ["one", "one", "two"],
        }
    )
    ten, eleven = dt.datetime(2026, 5, 2, 10), dt.datetime(2026, 5, 2, 11)
    told = add_answers(
        evidence,
        [Answer(ten, eleven, "one", "orla-50"), Answer(ten.replace(minute=5), eleven, "one", "hale-85", "m42-plain")],
    )
    assert told["confirmed_lens"].fillna("-").tolist() == ["orla-50", "hale-85", "-"]
    assert told["confirmed_adapter"].fillna("-").tolist() == ["", "m42-plain", "-"]


def _question(candidates: tuple[Candidate, ...], **more: object) -> Question:
    moment = dt.datetime(2026, 5, 2, 23, 50)
    usual = {
        "number": 1,
        "trip": "t",
        "body": "one",
        "first": moment,
        "last": moment,
        "frames": 1,
        "setting_mm": float("nan"),
    }
    return Question(**{**usual, "doubtful": 1.0, "paths": (), **more}, candidates=candidates)  # type: ignore[arg-type]


def test_a_question_in_words_for_one_frame_for_a_night_and_without_a_guess() -> None:
    one = Candidate("orla-50", "", 0.6)
    assert question_sentence(_question((one,)), {}) == "2026-05-02 23:50, 1 frame: was it orla-50, or another?"
    later = dt.datetime(2026, 5, 3, 0, 10)
    text = question_sentence(_question((), last=later, frames=3, setting_mm=35.5), {})
    assert text == "2026-05-02 23:50–2026-05-03 00:10, 3 frames, setting 35.5: which lens?"
