"""The pages that do something: the index and the shoot log."""

from __future__ import annotations

from pathlib import Path

from dashboards.app import create_app, turn_to
from dashboards.jobs import Standing
from dashboards.pages.index import standing_shown
from dashboards.watched import workspace_desk
from tests.dashboards.desks import three_row_desk
from tests.dashboards.test_app import text_of


def test_the_index_names_archives_and_what_could_not_be_read(sample_workspace: Path) -> None:
    told = text_of(turn_to(workspace_desk(sample_workspace)(), "/index", "")[0])
    for words in ("main", "the file is empty", "Read new and changed frames", "Which files"):
        assert words in told


def test_the_log_shows_what_is_noted_and_what_of_it_is_wrong(sample_workspace: Path) -> None:
    told = text_of(turn_to(workspace_desk(sample_workspace)(), "/log", "")[0])
    for words in ("Add to the log", "Orla 50 mm f/1.4", "log.csv line", "is not a date and time"):
        assert words in told


def test_without_a_workspace_both_say_so() -> None:
    for path in ("/index", "/log"):
        assert "without a workspace" in text_of(turn_to(three_row_desk(), path, "")[0])
    assert not [key for key in create_app(three_row_desk()).callback_map if "job-standing" in key]


def test_a_running_job_is_watched_with_a_bar_and_a_finished_one_is_not() -> None:
    running, rest = standing_shown(Standing("reading", 5, 10))
    assert not rest
    assert "value=50.0" in str(running)
    done, rest = standing_shown(Standing("done", said="10 frames."))
    assert rest
    assert "10 frames. See what was shot" in text_of(done).replace("  ", " ")
