"""A support noted for a run of frames: the log's rows say it afterwards, and nothing else is lost."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from auditor.audit.evidence import log_rows_in_force
from auditor.errors import LogError
from auditor.model.log import parse_log
from auditor.pipeline.supporting import Run, with_support
from tests.kits import small_kit

KIT = small_kit()
DAY = "2026-05-02 "
SHOT = [f"{DAY}{clock}" for clock in ("10:00:05", "10:10", "10:20", "10:30:30.5", "12:00", "12:10")]
AT = np.array(SHOT, dtype="datetime64[us]")


def run(first: int, last: int, body: str = "one") -> Run:
    return Run(body, *(dt.datetime.fromisoformat(SHOT[place]) for place in (first, last)), AT)


def told(text: str) -> list[tuple[float | None, str | None]]:
    """What the log says of each frame: aperture and support."""
    rows = parse_log(text, KIT).rows
    holds = log_rows_in_force(pd.DataFrame({"body": "one", "at": AT}), rows)
    return [(rows[place].aperture, rows[place].support) if place >= 0 else (None, None) for place in holds]


ONE_ROW = f"start,body,lens,adapter,aperture,support,weather\n{DAY}09:55,one,orla-50,m42-plain,2.8,hand,fog\n"


def test_a_row_that_holds_for_the_run_alone_is_mended() -> None:
    after, count = with_support(ONE_ROW, run(0, 5), "tripod", KIT)
    assert count == 6
    assert after == ONE_ROW.replace("hand", "tripod")


@pytest.mark.parametrize(("first", "last", "rows"), [(0, 2, 2), (1, 2, 3), (3, 5, 2)])
def test_a_row_that_holds_for_others_too_is_cut(first: int, last: int, rows: int) -> None:
    after, count = with_support(ONE_ROW, run(first, last), "tripod", KIT)
    assert count == last - first + 1
    assert told(after) == [(2.8, "tripod" if first <= place <= last else "hand") for place in range(6)]
    assert len(parse_log(after, KIT).rows) == rows
    assert after.splitlines()[1].endswith("fog")
    assert after.count("orla-50") == 1  # else the audit would see a change of lens there


def test_where_no_row_holds_one_is_added_that_says_nothing_else() -> None:
    text = f"start,end,body,lens,adapter,aperture\n{DAY}10:10,{DAY}10:15,one,orla-50,m42-plain,2.8\n"
    after, count = with_support(text, run(0, 3), "monopod", KIT)
    assert count == 4
    assert told(after) == [
        (None, "monopod"), (2.8, "monopod"), (None, "monopod"), (None, "monopod"), (None, None), (None, None),
    ]  # fmt: skip
    assert told(with_support("", run(4, 5), "braced", KIT)[0])[3:] == [(None, None), (None, "braced"), (None, "braced")]


def test_what_is_noted_already_changes_nothing() -> None:
    assert with_support(ONE_ROW, run(0, 3), "hand", KIT) == (ONE_ROW, 0)


def test_another_bodys_rows_are_left_alone() -> None:
    text = ONE_ROW + f"{DAY}09:58,two,,,,hand,\n"
    after, _ = with_support(text, run(0, 5), "tripod", KIT)
    assert after.splitlines()[2] == f"{DAY}09:58,two,,,,hand,"


def test_a_support_that_is_none_is_refused() -> None:
    with pytest.raises(LogError, match="knee"):
        with_support(ONE_ROW, run(0, 5), "knee", KIT)
