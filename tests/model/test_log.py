from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from auditor.errors import LogError
from auditor.model.log import LOG_COLUMNS, load_log, parse_log
from auditor.model.log_text import row_values, with_row
from tests.kits import small_kit

KIT = small_kit()


@pytest.mark.parametrize("written", ["∞", "inf", "Infinity"])
def test_infinity_is_a_focus_distance(written: str) -> None:
    log = parse_log(f"start,body,lens,focus_distance_m\n2026-05-02 14:20,one,orla-50,{written}\n", KIT)
    assert log.problems == ()
    assert log.rows[0].focus_distance_m == float("inf")
    assert row_values(log.rows[0])["focus_distance_m"] == "∞"


def test_columns_may_be_missing_and_in_any_order() -> None:
    log = parse_log("lens,start,body\norla-50,2026-05-02 14:20,one\n", KIT)
    (row,) = log.rows
    assert (row.lens, row.start, row.adapter, row.setting_mm) == (
        "orla-50",
        dt.datetime(2026, 5, 2, 14, 20),
        None,
        None,
    )
    assert log.problems == ()


def test_a_bad_row_is_left_out_with_its_line_and_the_others_are_used() -> None:
    log = parse_log(
        "start,body,lens,adapter,setting_mm,support,stabiliser,subject\n"
        "2026-05-02 14:20,one,orla-50,m42-plain,50,hand,on,still\n"
        "yesterday,one,orla-51,m42-plain,-5,tripd,yes,jumping\n"
        "2026-05-02 15:00:30,one,hale-85,m42-reducer,60.5,tripod,off,2.5\n",
        KIT,
    )
    assert [row.line for row in log.rows] == [2, 4]
    assert log.rows[1].stabiliser is False
    assert all(problem.startswith("log.csv line 3: ") for problem in log.problems)
    text = "\n".join(log.problems)
    for part in (
        'start = "yesterday" is not a date and time, such as 2026-05-02 14:20',
        'lens "orla-51" is not in the kit (did you mean "orla-50"?)',
        'setting_mm = "-5" should be greater than 0',
        'did you mean "tripod"?',
        'stabiliser = "yes" should be on or off',
        'subject = "jumping"',
    ):
        assert part in text


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("2026-05-02T14:20+02:00,,one,,", "has a time zone"),
        ("2026-05-02 14:20,2026-05-02 14:10,one,,", "is before start"),
        (",,one,orla-50,", "start is missing"),
        ("2026-05-02 14:20,,,orla-50,", "body is missing; it is one of one, two"),
        ("2026-05-02 14:20,,thre,orla-50,", 'body "thre" is not in the kit'),
        ("2026-05-02 14:20,,two,orla-50,m42-plain", "does not fit body"),
        ("2026-05-02 14:20,,one,,m42-plane", 'did you mean "m42-plain"'),
    ],
)
def test_what_cannot_be_is_said(row: str, says: str) -> None:
    log = parse_log("start,end,body,lens,adapter\n" + row + "\n", KIT)
    assert log.rows == ()
    assert any(says in problem for problem in log.problems)


def test_a_spreadsheet_of_another_country_is_read() -> None:
    log = parse_log("start;body;lens;aperture;setting_mm\r\n2026-05-02 14:20;one;orla-50;f/1,4;35,5\r\n", KIT)
    assert (log.rows[0].aperture, log.rows[0].setting_mm) == (1.4, 35.5)


def test_rows_come_in_order_of_time_and_blank_lines_are_nothing() -> None:
    log = parse_log("start,body\n2026-05-02 15:00,one\n\n,\n2026-05-02 14:00,one\n", KIT)
    assert [row.start.hour for row in log.rows] == [14, 15]
    assert log.problems == ()


def test_unknown_columns_are_kept_and_reported() -> None:
    log = parse_log("start,body,mood,suport\n2026-05-02 15:00,one,good,hand\n", KIT)
    assert log.unknown_columns == ("mood", "suport")
    assert any('"suport" is not known and is kept as it is (did you mean "support"?)' in p for p in log.problems)


def test_the_only_body_need_not_be_named() -> None:
    kit = KIT.model_copy(update={"bodies": KIT.bodies[:1]})
    assert parse_log("start\n2026-05-02 15:00\n", kit).rows[0].body == "one"


def test_an_empty_or_missing_log_is_no_log(tmp_path: Path) -> None:
    assert load_log(tmp_path / "log.csv", KIT).rows == ()
    assert parse_log("\n", KIT).rows == ()


def test_a_table_without_start_is_no_log() -> None:
    with pytest.raises(LogError, match='one of them must be "start"'):
        parse_log("when,lens\n2026,orla-50\n", KIT)


def test_a_row_is_added_and_the_rest_stays_as_it_was() -> None:
    before = "lens,start,body,mood\r\norla-50,2026-05-02 14:20,one,good"
    after, row = with_row(
        before, {"start": "2026-05-02 15:00", "body": "one", "support": "tripod", "note": 'a, "b"'}, KIT
    )
    assert after.startswith("lens,start,body,mood,support,note\r\norla-50,2026-05-02 14:20,one,good\r\n")
    assert (row.support, row.note) == ("tripod", 'a, "b"')
    again = parse_log(after, KIT)
    assert [r.support for r in again.rows] == [None, "tripod"]


def test_a_row_that_cannot_be_read_is_not_added() -> None:
    with pytest.raises(LogError, match="orla-5") as refused:
        with_row("", {"start": "2026-05-02 15:00", "body": "one", "lens": "orla-5", "setting_mm": "x"}, KIT)
    assert len(refused.value.problems) == 2


def test_a_new_log_begins_with_all_columns() -> None:
    text, _ = with_row("", {"start": "2026-05-02 15:00", "body": "one"}, KIT)
    assert text.splitlines()[0] == ",".join(LOG_COLUMNS)
