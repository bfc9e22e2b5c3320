"""The log: readable but for one row, off by a minute at most except where the story says so."""

from __future__ import annotations

import csv
import datetime as dt
import io

from auditor.model.kit import load_kit
from auditor.model.log import LOG_COLUMNS, load_log
from auditor.model.settings import load_settings
from sample_library import SampleLibrary
from sample_library.logbook import log_text, row_in_force
from tests.sample_library.conftest import Scenario

BAD_LINE = 29
"""As the README says."""


def test_the_mangled_row_is_where_the_readme_says(scenario: Scenario) -> None:
    lines = log_text(scenario.entries, scenario.cast).splitlines()
    starts = [row["start"] for row in csv.DictReader(io.StringIO("\n".join(lines)))]

    assert [number for number, start in enumerate(starts, start=2) if not start.startswith("2026-")] == [BAD_LINE]
    days = float(starts[BAD_LINE - 2])
    assert abs(dt.datetime(1899, 12, 30) + dt.timedelta(days=days) - dt.datetime(2026, 7, 11, 9, 37)) < dt.timedelta(
        minutes=2
    )


def test_noted_times_are_a_minute_off_at_most_but_for_two(scenario: Scenario) -> None:
    for entry in scenario.entries:
        off = entry.start - (entry.segment.start.replace(second=0) - dt.timedelta(minutes=3))
        if entry.segment.shift_min is None:
            assert abs(off) <= dt.timedelta(minutes=1)
    assert sorted(e.segment.shift_min for e in scenario.entries if e.segment.shift_min is not None) == [-6, 11]


def test_every_day_of_a_body_is_closed(scenario: Scenario) -> None:
    last = {(entry.segment.body, entry.segment.start.date()): entry for entry in scenario.entries}
    for (body, day), entry in last.items():
        if entry.is_readable:
            assert entry.end is not None, (body, day)
    silent = [shot for shot in scenario.shots if row_in_force(shot, scenario.entries) is None]
    assert {shot.segment.id for shot in silent} == {"vell-thistle-list"}


def test_kit_log_and_settings_are_read_by_the_program_without_a_word_but_for_the_one_row(
    library: SampleLibrary,
) -> None:
    kit = load_kit(library.kit)
    log = load_log(library.log, kit)
    settings = load_settings(library.settings)

    assert (len(kit.bodies), len(kit.lenses), len(kit.adapters)) == (2, 6, 2)
    assert [lens.id for lens in kit.lenses if lens.contacts] == ["clear-25"]
    assert [lens.id for lens in kit.lenses if lens.is_zoom] == ["veery-70-150"]
    [problem] = log.problems
    assert f"line {BAD_LINE}" in problem
    assert tuple(library.log.read_text(encoding="utf-8").splitlines()[0].split(",")) == LOG_COLUMNS
    assert settings.archives == {"main": library.archive.as_posix()}
    assert [clock.add_minutes for clock in settings.clocks] == [-60]
