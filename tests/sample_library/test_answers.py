"""The expected answers: complete, of one piece with the kit, and honest about what cannot be known."""

from __future__ import annotations

import csv
import io
from collections import Counter
from itertools import pairwise

import pytest

from sample_library.answers import answers_text
from sample_library.cast import magnification
from sample_library.shots import Shot
from tests.sample_library.conftest import Scenario

CAUSES = {
    "carried-over",
    "adapter-factor-left-out",
    "equivalent-entered",
    "long-end-of-zoom",
    "digit-slip",
    "unexplained",
}
REASONS = {
    "contacts", "close-focus-logged", "close-focus-not-logged", "zoom-position-logged", "zoom-position-not-logged",
    "forgotten-setting", "same-setting-two-pairings", "only-pixels-can-tell", "stale-list-name", "change-not-logged",
    "log-time-off", "log-row-unreadable", "stabiliser-off", "tripod-stabiliser-on", "tripod-stabiliser-off",
    "clock-an-hour-fast", "doubled-hour", "month-zero", "no-date", "raw-and-jpeg", "raw-alone", "truncated-picture",
    "truncated-header", "zero-byte", "text-named-jpg", "sidecar-outranks-embedded", "name-begins-with-equals",
    "name-not-ascii",
}  # fmt: skip

Row = dict[str, str]


def _rows(scenario: Scenario) -> list[Row]:
    text = answers_text(scenario.shots, scenario.story, scenario.entries, scenario.cast)
    return list(csv.DictReader(io.StringIO(text)))


def test_the_library_is_as_large_as_told(scenario: Scenario) -> None:
    rows = _rows(scenario)

    assert 590 <= len(rows) <= 640
    assert len({row["path"] for row in rows}) == len(rows)
    assert len({row["trip"] for row in rows} - {""}) == 4
    assert len({row["body"] for row in rows} - {""}) == 2
    assert len({row["lens"] for row in rows} - {""}) == 6
    assert {row["adapter"] for row in rows} == {"", "m42-plain", "m42-reducer"}


def test_every_cause_and_every_special_case_occurs(scenario: Scenario) -> None:
    rows = _rows(scenario)

    assert {row["setting_cause"] for row in rows} - {""} == CAUSES
    assert {reason for row in rows for reason in row["why"].split("+")} - {""} == REASONS
    assert {row["needs"] for row in rows} - {""} == {"frame", "sequence", "pixels", "person"}
    assert {row["blur_kind"] for row in rows} - {""} == {"sharp", "shake", "missed-focus"}


def test_a_cause_is_named_exactly_where_the_setting_is_wrong(scenario: Scenario) -> None:
    for row in _rows(scenario):
        assert bool(row["setting_cause"]) == (row["setting_verdict"] in ("too-short", "too-long")), row["path"]


def test_verdicts_follow_from_the_two_settings(scenario: Scenario) -> None:
    judged = [row for row in _rows(scenario) if row["setting_verdict"] not in ("", "not-needed")]
    for row in judged:
        ratio = float(row["setting_mm"]) / float(row["right_setting_mm"])
        wanted = "too-short" if ratio < 0.9 else "too-long" if ratio > 1.1 else "right"
        assert row["setting_verdict"] == wanted, row["path"]
        # None is so near the tolerance that rounding the answer to 0.01 mm could turn it over.
        assert min(abs(ratio - 0.9), abs(ratio - 1.1)) > 0.004, row["path"]


def _typed_runs(scenario: Scenario) -> dict[str, tuple[Shot, Shot | None]]:
    """Return for each segment with a typed setting its first shot and the last one of the segment before it."""
    runs: dict[str, tuple[Shot, Shot | None]] = {}
    for body in scenario.cast.bodies:
        typed = [shot for shot in scenario.shots if shot.segment.body == body and shot.segment.typed is not None]
        runs[typed[0].segment.id] = (typed[0], None)
        for before, shot in pairwise(typed):
            if before.segment.id != shot.segment.id:
                runs[shot.segment.id] = (shot, before)
    return runs


def test_each_cause_is_what_its_name_says(first_scenario: Scenario) -> None:
    cast = first_scenario.cast
    for shot, before in _typed_runs(first_scenario).values():
        segment, lens = shot.segment, cast.lenses[shot.segment.lens]
        typed, factor = segment.typed or 0.0, cast.factors[shot.segment.adapter]
        if segment.cause == "carried-over":
            assert before is not None
            assert typed == before.segment.typed, segment.id
            assert typed == pytest.approx(before.right_mm, rel=0.10), segment.id
        elif segment.cause == "adapter-factor-left-out":
            assert factor != 1
            assert typed == lens.engraved_mm[0], segment.id
        elif segment.cause == "equivalent-entered":
            crop = 43.2666 / (17.4**2 + 13.0**2) ** 0.5
            assert typed == pytest.approx(crop * lens.engraved_mm[0] * factor, rel=0.02), segment.id
        elif segment.cause == "long-end-of-zoom":
            assert lens.engraved_mm[0] < lens.engraved_mm[1] == typed, segment.id
        elif segment.cause == "digit-slip":
            meant, slipped = f"{lens.engraved_mm[0]:g}", f"{typed:g}"
            assert sorted(slipped) == sorted(meant) or slipped == meant[:-1], segment.id


def _fair_verdict(shot: Shot, scenario: Scenario) -> str:
    """Judge as one can who knows the pairing and what the log says, and takes far away for what it does not."""
    segment = shot.segment
    lens, factor = scenario.cast.lenses[segment.lens], scenario.cast.factors[segment.adapter]
    if segment.typed is None or not segment.stabiliser:
        return "not-needed"
    is_open_zoom = lens.engraved_mm[0] < lens.engraved_mm[1] and not segment.zoom_noted
    if segment.distance_noted:
        right = shot.right_mm
    else:
        focal = segment.zoom_mm if segment.zoom_mm and not is_open_zoom else lens.focal_mm[0]
        right = factor * focal
    ratio = segment.typed / right
    if is_open_zoom and ratio < 0.9:
        return "right"
    return "right" if 0.9 <= ratio <= 1.1 else "too-long" if ratio > 1.1 else "too-short"


def test_what_is_called_knowable_can_be_known(scenario: Scenario) -> None:
    rows = {row["path"]: row for row in _rows(scenario)}
    for shot in scenario.shots:
        row = rows[shot.path]
        if row["knowable"] == "yes":
            assert row["setting_verdict"] == _fair_verdict(shot, scenario), shot.path
        elif row["doubt"] == "setting" and "zoom" not in row["why"]:
            assert row["setting_verdict"] != _fair_verdict(shot, scenario), shot.path


def test_most_frames_are_knowable_and_those_that_are_not_say_what_would_settle_them(scenario: Scenario) -> None:
    rows = [row for row in _rows(scenario) if row["body"]]

    assert Counter(row["knowable"] for row in rows)["yes"] > 0.85 * len(rows)
    for row in rows:
        assert (row["knowable"] == "yes") == (row["needs"] in ("frame", "sequence"))
        assert bool(row["doubt"]) or row["needs"] == "frame"


def test_trips_never_judged_have_no_keepers_and_one_was_judged_by_few(scenario: Scenario) -> None:
    kept: dict[str, Counter[str]] = {}
    for row in _rows(scenario):
        kept.setdefault(row["trip"], Counter())[row["kept"]] += 1

    assert set(kept["Vell hills"]) == {""}
    assert set(kept[""]) == {""}
    assert kept["Clocks back in Oskerry"]["yes"] == 4
    assert kept["Ice-out at Ellow"]["yes"] > kept["Ice-out at Ellow"]["no"]


def test_the_forgotten_setting_costs_sharp_frames_and_keepers(scenario: Scenario) -> None:
    """The same lanterns, light and times: only the number in the menu differs."""
    share: dict[str, tuple[float, float]] = {}
    for name in ("forgotten-setting", "lanterns-again"):
        shots = [shot for shot in scenario.shots if shot.segment.id == name]
        share[name] = (
            sum(shot.blur_kind == "sharp" for shot in shots) / len(shots),
            sum((shot.rating or 0) > 0 for shot in shots) / len(shots),
        )

    assert len([shot for shot in scenario.shots if shot.segment.id == "forgotten-setting"]) == 62
    assert share["forgotten-setting"][0] < 0.45 < 0.7 < share["lanterns-again"][0]
    assert share["forgotten-setting"][1] < 0.6 * share["lanterns-again"][1]


def test_close_focus_moves_the_right_setting_beyond_the_tolerance(first_scenario: Scenario) -> None:
    close = [s for s in first_scenario.shots if s.segment.why.startswith("close-focus")]
    for shot in close:
        lens = first_scenario.cast.lenses[shot.segment.lens]
        thin = lens.focal_mm[0] * (1 + magnification(lens.focal_mm[0], shot.segment.distance_m))
        assert shot.right_mm == pytest.approx(thin * first_scenario.cast.factors[shot.segment.adapter], rel=0.01)
        assert shot.segment.typed is not None
        assert abs(shot.segment.typed / shot.right_mm - 1) > 0.10
    assert {s.segment.distance_noted for s in close} == {True, False}
