"""answers.csv: written so that it can be read, mended by hand, and refused with reasons."""

from __future__ import annotations

import datetime as dt

import pytest

from auditor.errors import AnswersError
from auditor.model.answers import Answer, answers_text, parse_answers

HEAD = "first,last,body,lens,adapter,said_at\n"


def test_what_is_written_is_read_back() -> None:
    moment = dt.datetime(2026, 5, 2, 14, 20, 0, 250000)
    answers = (
        Answer(moment, moment, "one", "orla-50", "tube+m42-plain", dt.datetime(2026, 5, 3, 9)),
        Answer(moment.replace(microsecond=0), moment, "two", "hale, the old one"),
    )
    assert parse_answers(answers_text(answers)) == (answers, ())


def test_rows_that_cannot_be_read_are_told_with_their_line_and_the_others_used() -> None:
    text = HEAD + (
        "yesterday,2026-05-02 15:00,one,orla-50,,\n"
        "2026-05-02 15:00,2026-05-02 14:00,one,orla-50,,\n"
        "2026-05-02 14:00,2026-05-02 15:00,,,,\n"
        "2026-05-02 14:00,2026-05-02 15:00,one,orla-50,,\n"
    )
    answers, problems = parse_answers(text)
    assert [answer.lens for answer in answers] == ["orla-50"]
    assert len(problems) == 3
    assert "line 2" in problems[0]
    assert "yesterday" in problems[0]
    assert "before first" in problems[1]
    assert "body and lens" in problems[2]


def test_a_file_without_its_columns_is_refused_and_an_empty_one_is_none() -> None:
    assert parse_answers("") == ((), ())
    with pytest.raises(AnswersError, match="lens is missing"):
        parse_answers("first,last,body\n")
