"""The hand and the setting test on the pages: what they show, decline, write and take back."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import numpy as np
import pandas as pd
import pytest

from auditor.errors import InputError
from auditor.model.settings import Hand
from auditor.model.workspace import open_workspace
from auditor.pipeline.auditing import audit_workspace
from dashboards.app import create_app, turn_to
from dashboards.calibrated import fitted_hand, is_judgement, written_in_words
from dashboards.calibration_work import _hand_written, _planned, _shown, _source, _test_written
from dashboards.desk import Desk
from dashboards.tested import MOST_TEXT, Source, pairings_to_test, plan_from, read_test
from dashboards.undoing import Undoable, undoable
from dashboards.watched import workspace_desk
from tests.dashboards.desks import three_row_desk
from tests.dashboards.test_app import page, text_of

PLAN = {"pairing": "one/hale-85/m42-plain", "distance": "3"}
ADDRESS = "?pairing=one%2Fhale-85%2Fm42-plain&distance=3"


@pytest.fixture(scope="module")
def desk(sample_workspace: Path) -> Desk:
    laid = workspace_desk(sample_workspace)()
    fitted_hand(laid)
    return laid


@pytest.fixture
def files(own_workspace: Path) -> Undoable:
    return undoable([own_workspace / "kit.toml", own_workspace / "settings.toml"])


def filled(desk: Desk, best_mm: float = 91.0, column: str = "edge_width_px", separator: str = ",") -> str:
    assert desk.workspace is not None
    listed = plan_from(desk.workspace, PLAN)
    rng = np.random.default_rng(2)
    rows = pd.DataFrame([(f.order, f.setting_mm, f.exposure_time_s) for f in listed.frames],
                        columns=["order", "setting_mm", "exposure_time_s"])  # fmt: skip
    width = 50 * np.hypot(1 - rows["setting_mm"] / best_mm, 0.08) * np.exp(rng.normal(0, 0.05, len(rows)))
    scored = width if column == "edge_width_px" else np.clip(np.round(5 - width / 4), 0, 5)
    return rows.assign(**{column: scored}).to_csv(index=False, sep=separator, decimal="," if separator == ";" else ".")


def test_the_hand_stands_beside_what_the_files_say_with_what_it_rests_on(desk: Desk):
    told = page(desk, "/calibration")
    found = fitted_hand(desk)
    fit = found.report.fit
    for words in ("Shake 0.29 mrad per axis", "judgement, and not you", f"{fit.frames} judged frames of Silver body",
                  f"in {found.bursts} bursts", f"about {fit.effective_frames:.0f} single ones", "0.11 to 0.28 mrad",
                  "mainly what was believed before", "The frames cannot tell the stops", "Test it before a paid job",
                  "shake_mrad = 0.181 and exponent = 0.68 under [hand] in settings.toml",
                  "Stabiliser on, set wrong", "stay at 5", "hopeful by about a stop"):  # fmt: skip
        assert words in told
    assert "sharp frames that are kept: " not in told  # the figures stand in the table alone
    assert found.shares["frames"].sum() == fit.frames
    assert 1 < found.bursts < fit.frames


def test_everything_shown_can_be_taken(desk: Desk):
    laid = str(turn_to(desk, "/calibration", "")[0])
    assert "/table/hand.csv?on=one" in laid
    assert "/table/hand-shares.csv?on=one" in laid
    client = create_app(desk).server.test_client()
    shares = pd.read_csv(io.StringIO(client.get("/table/hand-shares.csv?on=one").text))
    assert shares["frames"].sum() == fitted_hand(desk).report.fit.frames
    assert len(pd.read_csv(io.StringIO(client.get("/table/hand.csv").text))) == len(fitted_hand(desk).figures)
    for name in ("hand", "hand-shares", "setting-test"):
        assert client.get(f"/table/{name}.csv?on=no-such").text.count("\n") == 1


def test_a_hand_that_cannot_be_fitted_says_why(desk: Desk, own_workspace: Path):
    with pytest.raises(InputError, match="no-such"):
        fitted_hand(desk, "no-such")
    assert "is not in the kit" in page(desk, "/calibration", "?on=no-such")
    settings = own_workspace / "settings.toml"
    text = settings.read_text(encoding="utf-8").replace('rule = "rating"', 'rule = "folder"')
    settings.write_text(text.replace('folder = "selected"', 'folder = "no-such-folder"'), encoding="utf-8")
    audit_workspace(open_workspace(own_workspace))
    bare = workspace_desk(own_workspace)()
    with pytest.raises(InputError):
        fitted_hand(bare)
    told = page(bare, "/calibration")
    assert "Nothing can be fitted: no frame was ever judged" in told
    assert "rate or choose frames" in told
    assert "without a workspace" in page(three_row_desk(), "/calibration")


def test_while_it_is_fitted_the_page_says_so(own_workspace: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("dashboards.pages.calibration.PATIENCE_S", 0.0)
    waiting = workspace_desk(own_workspace)()
    assert "This is being worked out" in page(waiting, "/calibration")
    fitted_hand(waiting)
    assert "What your frames say" in page(waiting, "/calibration")


def test_a_press_writes_what_was_told_with_comments_kept_and_is_taken_back(own_workspace: Path, files: Undoable):
    path = own_workspace / "settings.toml"
    before = path.read_text(encoding="utf-8").replace("exponent = 0.8", "exponent = 0.8  # why", 1)
    before = before.replace("shake_mrad = 0.29", "shake_mrad = 0.29  # mine", 1)
    assert "# mine" in before
    assert "# why" in before
    path.write_text(before, encoding="utf-8")
    now = workspace_desk(own_workspace)
    found = fitted_hand(now())
    pressed = {"kind": "hand-write", "body": "one", "stamp": fitted_hand(now(), "one").stamp}
    said = _hand_written(now(), own_workspace, files, pressed)
    assert said == f"Written: {written_in_words(found.report)}."
    changed = (own_workspace / "settings.toml").read_text(encoding="utf-8")
    differ = [(a, b) for a, b in zip(before.splitlines(), changed.splitlines(), strict=True) if a != b]
    assert [b.split("#")[0].strip() for _, b in differ] == ["shake_mrad = 0.181", "exponent = 0.68"]
    assert [a.split("#", 1)[1] for a, _ in differ] == [b.split("#", 1)[1] for _, b in differ]
    assert not is_judgement(open_workspace(own_workspace).settings.hand)
    assert is_judgement(Hand())
    # The other tab shows what was so before.
    assert "changed meanwhile, nothing was written" in _hand_written(now(), own_workspace, files, pressed)
    assert files.undo() == "Taken back: hand from one."
    assert (own_workspace / "settings.toml").read_text(encoding="utf-8") == before


@pytest.mark.parametrize("body", ["no-such", "", "../../etc/passwd"])
def test_a_press_for_another_body_writes_nothing(own_workspace: Path, files: Undoable, body: str):
    before = [(own_workspace / name).read_bytes() for name in ("kit.toml", "settings.toml")]
    _hand_written(workspace_desk(own_workspace)(), own_workspace, files, {"body": body, "stamp": "0" * 16})
    assert [(own_workspace / name).read_bytes() for name in ("kit.toml", "settings.toml")] == before


def test_what_can_be_tested(desk: Desk):
    assert desk.workspace is not None
    choices = {one["value"]: one["label"] for one in pairings_to_test(desk, desk.workspace)}
    assert choices["one/hale-85/m42-reducer"] == "Hale 85 mm f/2 + M42 reducer 0.71x on Silver body"
    assert not any("clear-25" in value for value in choices)  # its contacts tell the body


def test_a_test_is_planned_in_the_address(desk: Desk):
    assert _planned(("one/hale-85/m42-plain", "2,5", "7", ""), "?lens=orla-50&part=test") == (
        "?lens=orla-50&part=test&pairing=one%2Fhale-85%2Fm42-plain&distance=2%2C5&settings=7"
    )
    assert not isinstance(_planned((None, "3", "11", "6"), ""), str)
    told = page(desk, "/calibration", ADDRESS)
    for words in ("72 frames in random order", "The kit lets expect 87.6 mm", "then read them below",
                  "before a paid job, never on one"):  # fmt: skip
        assert words in told
    assert "Choose one" in str(turn_to(desk, "/calibration", "?part=test")[0])


@pytest.mark.parametrize(
    ("rest", "why"),
    [
        ({"pairing": "one/hale-58/"}, "is not in the kit"),
        ({"pairing": "one/hale-85/"}, "does not fit"),
        ({"pairing": ""}, "is not in the kit"),
        ({"pairing": "one/clear-25/"}, "nothing to type"),
        (PLAN | {"distance": "near"}, "is not a number"),
        (PLAN | {"distance": "nan", "frames": "1000"}, "should be from"),
        (PLAN | {"distance": "0.3"}, "nearer than the lens can focus"),
    ],
)
def test_a_plan_that_cannot_be_says_why(desk: Desk, rest: Mapping[str, str], why: str):
    assert desk.workspace is not None
    with pytest.raises(InputError) as refused:
        plan_from(desk.workspace, rest)
    assert why in str(refused.value)


def test_the_list_can_be_printed_and_filled_in(desk: Desk):
    client = create_app(desk).server.test_client()
    for paper in ("a4", "a5"):
        sheet = client.get(f"/paper/setting-test-{paper}.html{ADDRESS}").text
        assert sheet.count('class="blank"') == 144
        assert f"size: {paper.upper()}" in sheet
    listed = pd.read_csv(io.StringIO(client.get(f"/paper/setting-test.csv{ADDRESS}").text))
    assert len(listed) == 72
    assert listed["setting_mm"].isna().sum() == 6
    assert client.get("/paper/setting-test.csv?pairing=%3Cscript%3E").status_code == 404


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_filled_in_table_is_read(desk: Desk, separator: str):
    reading = read_test(desk, PLAN, Source(text=filled(desk, separator=separator)))
    assert reading.result.reading.told
    assert reading.result.reading.best_mm == pytest.approx(91.0, rel=0.02)
    laid = _shown(desk, Source(text=filled(desk, separator=separator)), PLAN)
    for words in ("The answer", "Best setting at 3 m", "Note it for one of the two", "mm at 3 m for the lens"):
        assert words in text_of(laid)
    assert "setting-test.csv" not in str(laid)  # what was pasted is in no address


def test_ratings_are_read_too(desk: Desk):
    told = text_of(_shown(desk, Source(text=filled(desk, column="rating")), PLAN))
    assert "Of ratings only the order is read" in told
    assert "Mean rating" in told


@pytest.mark.parametrize(
    ("source", "why"),
    [
        (Source(), "which frames?"),
        (Source(text="x"), "cannot be read"),
        (Source(text="<script>alert(1)</script>\n" * 20), "cannot be read"),
        (Source(text="setting_mm,rating\n50,5\n"), "nine frames or more"),
        (Source(text="setting_mm,rating\n" + "fifty,five\n" * 30), "nine frames or more"),
        (Source(text="setting_mm,edge_width_px\n" + "50,inf\n60,-1\n70,3\n" * 9), "three settings"),
        (Source(text="\x00" * 40), "cannot be read"),
        (Source(text="a" * (MOST_TEXT + 1)), "longer than"),
        (Source(folder="no/such"), "no indexed frame lies"),
        (Source(folder="../../etc"), "no indexed frame lies"),
        (Source(folder="/etc/passwd.csv"), "no indexed frame lies"),
        (Source(first="yesterday", until="2026-05-02 14:20"), "dates with a time"),
        (Source(first="2026-05-02 15:00", until="2026-05-02 14:20"), "before from"),
        (Source(first="1999-05-02 13:00", until="1999-05-02 14:20"), "was made from"),
    ],
)
def test_what_cannot_be_read_says_why(desk: Desk, source: Source, why: str):
    told = text_of(_shown(desk, source, PLAN))
    assert why in told[:1].lower() + told[1:] or why in told.lower()
    assert "It cannot be done" in told


def taken_at_the_test(desk: Desk) -> pd.DataFrame:
    """A test's frames as the store would have them, rated in the archive; and one of the other body amid them."""
    rows = pd.read_csv(io.StringIO(filled(desk, column="rating")))
    made = pd.Timestamp("2026-11-01 10:00") + pd.to_timedelta(rows["order"] * 10, unit="s")
    frames = pd.DataFrame(
        {
            "archive": "main", "path": [f"2026/test/{order}.jpg" for order in rows["order"]], "captured_at": made,
            "body": "one", "setting_mm": rows["setting_mm"].fillna(80.0), "exposure_time_s": rows["exposure_time_s"],
            "residual": np.where(rows["setting_mm"].isna(), 1.0, 0.1), "rating": rows["rating"],
        }
    )  # fmt: skip
    other = frames.head(1).assign(body="two", path="2026/other/1.jpg")
    return pd.concat([frames, other], ignore_index=True)


def test_frames_of_the_archive_are_read_by_folder_and_by_time(desk: Desk, monkeypatch: pytest.MonkeyPatch):
    frames = taken_at_the_test(desk)
    monkeypatch.setattr("auditor.pipeline.setting_tests.joined_table", lambda _workspace: frames)
    by_time = Source(first="2026-11-01 10:00", until="2026-11-01 11:00")
    by_folder = Source(folder="/2026/test/")
    for source in (by_time, by_folder):
        reading = read_test(desk, PLAN, source)
        assert (reading.result.reading.frames, reading.result.reading.settings) == (66, 11)
        assert reading.result.measured == "rating"
        assert "/table/setting-test.csv?" in str(_shown(desk, source, PLAN))
        extra = urlencode(source.extra)
        client = create_app(desk).server.test_client()
        taken = pd.read_csv(io.StringIO(client.get(f"/table/setting-test.csv{ADDRESS}&{extra}").text))
        assert taken["frames"].sum() == 66
    few = frames.assign(rating=float("nan"))
    monkeypatch.setattr("auditor.pipeline.setting_tests.joined_table", lambda _workspace: few)
    with pytest.raises(InputError, match="too few of these are rated"):
        read_test(desk, PLAN, Source(folder="2026/test"))


def test_the_answer_is_noted_for_lens_or_body_once(own_workspace: Path, files: Undoable):
    now = workspace_desk(own_workspace)
    before = (own_workspace / "kit.toml").read_bytes()
    given = (Source(text=filled(now())), PLAN)
    reading = read_test(now(), PLAN, given[0])
    press = {"kind": "test-write", "stamp": reading.stamp}
    said = _test_written(now(), files, press | {"what": "lens"}, given)
    assert f"{reading.result.lens_setting_mm:.1f} mm at 3 m under breathing" in said
    assert open_workspace(own_workspace).kit.lens("hale-85").breathing[0][0] == 3.0
    # By now the kit says what was measured: the same press is another answer.
    assert "changed meanwhile" in _test_written(now(), files, press | {"what": "body"}, given)
    assert files.undo().startswith("Taken back: setting test of hale-85+m42-plain@one")
    assert (own_workspace / "kit.toml").read_bytes() == before
    said = _test_written(now(), files, press | {"what": "body"}, given)
    assert f"stabiliser_gain = {reading.result.gain:.4f}" in said
    assert "It has no such" not in said
    assert "which frames" in _test_written(now(), files, press | {"what": "lens"}, (Source(), PLAN))


def test_an_answer_that_is_none_has_no_button_and_a_zoom_none_for_the_lens(desk: Desk):
    assert desk.workspace is not None
    rows = pd.read_csv(io.StringIO(filled(desk)))
    noise = rows.assign(edge_width_px=np.random.default_rng(1).rayleigh(9.0, len(rows))).to_csv(index=False)
    told = text_of(_shown(desk, Source(text=noise), PLAN))
    assert "No clear answer" in told
    assert "Note it for one" not in told
    zoom = {"pairing": "one/veery-70-150/m42-plain", "distance": "5"}
    tried = pd.DataFrame([(f.setting_mm, 10 * np.hypot(1 - f.setting_mm / 74, 0.08)) for f in
                          plan_from(desk.workspace, zoom).frames], columns=["setting_mm", "edge_width_px"])  # fmt: skip
    told = text_of(_shown(desk, Source(text=tried.to_csv(index=False)), zoom))
    assert "for the body" in told
    assert "for the lens" not in told


def test_only_what_a_form_of_ours_sends_becomes_a_source():
    ids: list[Any] = [{"kind": "test-source", "name": name} for name in ("text", "folder", "__class__", "first")]
    assert _source(["a", {"b": 1}, "c", None], ids) == Source(text="a")


def test_the_page_is_sent_as_json(desk: Desk):
    for search in ("", ADDRESS, "?part=test", "?pairing=%3Cscript%3E", "?on=%3Cscript%3E"):
        laid = turn_to(desk, "/calibration", search)[0]
        assert json.loads(json.dumps(laid.to_plotly_json(), default=lambda piece: piece.to_plotly_json()
                                     if hasattr(piece, "to_plotly_json") else str(piece)))  # fmt: skip
