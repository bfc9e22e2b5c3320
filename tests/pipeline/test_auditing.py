"""The whole audit on frames made by hand: what a photographer did, and what should be said of it."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pyarrow as pa
import pytest

from auditor.audit.causes import is_digit_slip
from auditor.audit.settings import nearest_on_menu
from auditor.errors import SettingsError, WorkspaceError
from auditor.model.flags import CAUSES, FLAGS, cause_sentence
from auditor.model.kit import Kit, parse_kit
from auditor.model.log import parse_log
from auditor.model.settings import Settings, parse_settings
from auditor.model.tables import AUDIT, FRAMES
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.auditing import audit_frames, audit_workspace, joined_table, read_frames
from auditor.pipeline.ledgers import ledger_of
from auditor.storage.datasets import read_table, replace_table
from tests.kits import KIT_TEXT, small_kit, some_frames

HEAD = "start,body,lens,adapter,support,stabiliser,focus_distance_m,focal_mm\n"


def audited(
    rows: list[dict[str, object]], log: str = "", *, kit: Kit | None = None, settings: str = "", **options: object
) -> pd.DataFrame:
    kit = kit or small_kit()
    found = audit_frames(some_frames(rows), kit, parse_log(HEAD + log, kit).rows, parse_settings(settings), **options)  # type: ignore[arg-type]
    return found.astype(object).where(found.notna() | found.map(lambda v: isinstance(v, list)), None)


def one(setting: float, log: str, **frame: object) -> pd.Series:
    row = {"captured_at": "2026-05-02 10:30", "focal_length_mm": setting, **frame}
    return audited([row], "2026-05-02 10:00,one," + log).iloc[0]


@pytest.mark.parametrize(
    ("setting", "verdict"),
    [(45.0, "right"), (44.9, "too-short"), (55.0, "right"), (56.0, "unknown"), (64.0, "too-long"), (0.0, "unknown")],
)
def test_a_verdict_at_an_unknown_distance_claims_only_what_holds_at_every_distance(
    setting: float, verdict: str
) -> None:
    # 10 % of 50 mm at infinity; at close focus (0.45 m) 57.29 mm would be right, and 63.0 mm within its 10 %.
    assert one(setting or None, "orla-50,m42-plain,,,,").setting_verdict == verdict  # type: ignore[arg-type]


@pytest.mark.parametrize(("setting", "verdict"), [(57.0, "right"), (51.0, "too-short"), (64.0, "too-long")])
def test_a_verdict_at_a_noted_distance(setting: float, verdict: str) -> None:
    assert one(setting, "orla-50,m42-plain,,,0.45,").setting_verdict == verdict


@pytest.mark.parametrize(
    ("setting", "position", "verdict"),
    [
        (35.0, "", "right"),
        (28.0, "", "right"),
        (17.0, "", "too-short"),
        (50.0, "", "too-long"),
        (70.0, "", "too-long"),
        (50.0, "50", "right"),
        (35.0, "50", "too-short"),
    ],
)
def test_a_zoom_wants_the_value_it_was_used_at_or_its_shortest(setting: float, position: str, verdict: str) -> None:
    assert one(setting, f"pell-35-70,m42-plain,,,,{position}").setting_verdict == verdict


def test_nothing_is_needed_where_nothing_is_stabilised() -> None:
    assert one(85.0, "orla-50,m42-plain,,off,,").setting_verdict == "not-needed"
    assert one(85.0, "orla-50,m42-plain,,on,,", stabiliser_mode="off").setting_verdict == "not-needed"
    plain = parse_kit(KIT_TEXT.replace("stabiliser_stops = 5.0", "stabiliser_stops = 0"))
    frame = {"captured_at": "2026-05-02 10:30", "focal_length_mm": 85.0}
    bare = audited([frame], "2026-05-02 10:00,one,orla-50,m42-plain,,,,", kit=plain).iloc[0]
    assert (bare.setting_verdict, bare.residual) == ("not-needed", 1.0)


def test_the_nearest_value_on_the_menu_is_right() -> None:
    kit = parse_kit(
        KIT_TEXT.replace("stabiliser_stops = 5.0", "stabiliser_stops = 5.0\nsetting_values_mm = [24, 75]", 1)
    )
    frame = {"captured_at": "2026-05-02 10:30", "focal_length_mm": 75.0}
    log = "2026-05-02 10:00,one,{},m42-plain,,,,"
    assert audited([frame], log.format("orla-50"), kit=kit).iloc[0].setting_verdict == "right"
    assert nearest_on_menu(pd.Series([50.0]).to_numpy(), (24, 75)).tolist() == [75.0]


@pytest.mark.parametrize(
    ("typed", "log", "cause"),
    [
        (50.0, "orla-50,m42-reducer,,,,", "adapter-factor-left-out"),
        (100.0, "orla-50,m42-plain,,,,", "equivalent-entered"),  # crop of 17.4 x 13.0 is 1.992
        (71.0, "orla-50,m42-reducer,,,,", "equivalent-entered"),
        (70.0, "pell-35-70,m42-plain,,,,", "long-end-of-zoom"),
        (500.0, "orla-50,m42-plain,,,,", "digit-slip"),
        (58.0, "hale-85,m42-plain,,,,", "digit-slip"),
        (30.0, "hale-85,m42-plain,,,,", "unexplained"),
    ],
)
def test_a_wrong_setting_has_its_cause(typed: float, log: str, cause: str) -> None:
    found = one(typed, log)
    assert (found.setting_cause, bool(cause_sentence(cause))) == (cause, True)


def test_a_setting_left_from_the_lens_before_is_carried_over() -> None:
    rows = [
        {"captured_at": "2026-05-02 10:10", "focal_length_mm": 85.0},
        {"captured_at": "2026-05-02 10:40", "focal_length_mm": 85.0},
        {"captured_at": "2026-05-02 10:50", "focal_length_mm": 50.0},
    ]
    log = "2026-05-02 10:00,one,hale-85,m42-plain,,,,\n2026-05-02 10:30,one,orla-50,m42-plain,,,,\n"
    found = audited(rows, log)
    assert found["setting_cause"].tolist() == [None, "carried-over", None]
    assert found["setting_verdict"].tolist() == ["right", "too-long", "right"]


def test_a_lens_with_contacts_between_does_not_change_what_the_body_remembers() -> None:
    rows = [
        {"captured_at": "2026-05-02 10:10", "focal_length_mm": 85.0},
        {"captured_at": "2026-05-02 10:20", "focal_length_mm": 25.0, "lens_model": "VESPER 25mm F1.8", "f_number": 2.0},
        {"captured_at": "2026-05-02 10:40", "focal_length_mm": 85.0},
    ]
    log = "2026-05-02 10:00,one,hale-85,m42-plain,,,,\n2026-05-02 10:30,one,orla-50,m42-plain,,,,\n"
    found = audited(rows, log)
    assert found["setting_cause"].tolist() == [None, None, "carried-over"]
    assert found.iloc[1].setting_verdict == "not-needed"
    assert found.iloc[1].stops_lost == 0.0


def test_slips_of_a_digit() -> None:
    assert is_digit_slip(5, 50)
    assert is_digit_slip(55, 50) is False  # a wrong digit in place of a right one could be anything
    assert not is_digit_slip(50, 50.4)
    assert not is_digit_slip(0, 5)


@pytest.mark.published
@pytest.mark.parametrize(
    ("setting", "residual", "keep"), [(85.0, 0.0312, 1.0), (50.0, 0.4129, 0.2207), (170.0, 1.0005, 0.0416)]
)
def test_the_whole_chain_from_setting_to_keeping(setting: float, residual: float, keep: float) -> None:
    # Worked example of the model (derived; computed by hand and by a second method): 85 mm at infinity, 1/15 s,
    # 5 stops, 1 degree a second per axis, H = 1, tolerance 28.84 um = diagonal of 24 x 36 / 1500, no spread.
    kit = parse_kit(KIT_TEXT.replace("sensor_mm = [17.4, 13.0]", "sensor_mm = [36, 24]"))
    hand = "[hand]\nshake_mrad = 0.2908882086657216\nexponent = 1.0\nspread_stops = 0"
    row = {"captured_at": "2026-05-02 10:30", "focal_length_mm": setting, "exposure_time_s": 1 / 15}
    log = "2026-05-02 10:00,one,hale-85,m42-plain,,,1e9,"
    found = audited([row], log, kit=kit, settings=hand).iloc[0]
    assert found.residual == pytest.approx(residual, abs=1e-4)
    assert 1 - found.blur_probability == pytest.approx(keep, abs=2e-3)


@pytest.mark.published
@pytest.mark.parametrize(("percent_off", "lost"), [(5, 0.916), (10, 1.745), (20, 2.695), (50, 4.003)])
def test_what_a_wrong_setting_costs_at_five_stops(percent_off: float, lost: float) -> None:
    # Derived from r2 = (1-g)2 + r02 with H = 1; the same for too short and too long.
    for sign in (1, -1):
        row = {"captured_at": "2026-05-02 10:30", "focal_length_mm": 85 * (1 + sign * percent_off / 100)}
        log = "2026-05-02 10:00,one,hale-85,m42-plain,,,1e9,"
        found = audited([row], log, settings="[hand]\nexponent = 1").iloc[0]
        assert found.stops_lost == pytest.approx(lost, abs=2e-3)


def test_shake_in_pixels_follows_from_pitch() -> None:
    found = one(50.0, "orla-50,m42-plain,,,,")
    assert found.shake_blur_um / found.shake_blur_px == pytest.approx(17.4e3 / 5184)
    upright = one(50.0, "orla-50,m42-plain,,,,", image_width_px=3888, image_height_px=5184)
    assert upright.shake_blur_px == pytest.approx(found.shake_blur_px)


def test_support_steadies_and_a_tripod_with_the_stabiliser_on_is_flagged() -> None:
    by = {s: one(50.0, f"orla-50,m42-plain,{s},on,,") for s in ("hand", "braced", "monopod", "tripod")}
    blur = [by[s].shake_blur_um for s in ("hand", "braced", "monopod", "tripod")]
    assert blur == sorted(blur, reverse=True)
    assert [s for s in by if "stabiliser-on-tripod" in by[s]["flags"]] == ["tripod"]
    assert "stabiliser-on-tripod" not in one(50.0, "orla-50,m42-plain,tripod,,,")["flags"]  # not known to be on
    assert "stabiliser-on-tripod" not in one(50.0, "orla-50,m42-plain,tripod,off,,")["flags"]


def test_tolerances_may_be_in_pixels_or_on_the_sensor() -> None:
    row = {"captured_at": "2026-05-02 10:30", "focal_length_mm": 50.0, "exposure_time_s": 0.5}
    log = "2026-05-02 10:00,one,orla-50,m42-plain,,,,"
    in_px = audited([row], log, settings="[tolerance]\nblur_px = 2").iloc[0].blur_probability
    in_um = audited([row], log, settings=f"[tolerance]\nblur_um = {2 * 17.4e3 / 5184}").iloc[0].blur_probability
    assert in_px == pytest.approx(in_um, abs=1e-9)
    strict = audited([row], log, settings="[tolerance]\nblur_px = 0.5").iloc[0].blur_probability
    assert strict > in_px


def test_what_the_kit_does_not_say_is_not_known() -> None:
    kit = parse_kit(KIT_TEXT.replace("sensor_mm = [17.4, 13.0]\n", "").replace("stabiliser_stops = 5.0\n", "", 1))
    row = {"captured_at": "2026-05-02 10:30", "focal_length_mm": 100.0}
    found = audited([row], "2026-05-02 10:00,one,orla-50,m42-plain,,,,", kit=kit).iloc[0]
    assert (found.setting_verdict, found.setting_cause) == ("too-long", "unexplained")
    assert (found.residual, found.stops_lost, found.blur_probability, found.blur_verdict) == (
        None,
        None,
        None,
        "unknown",
    )


def test_flags_come_worst_first_and_every_flag_can_occur() -> None:
    worst = one(200.0, "orla-50,m42-plain,,on,,", exposure_time_s=0.5)
    assert worst["flags"] == ["worse-than-off", "setting-too-long", "shake-likely"]
    other = audited(
        [
            {"format": None, "problem": "The file is empty.", "model": None},
            {"model": "Else"},
            {"captured_at": "2026-05-02 10:30", "lens_model": "HALE85", "focal_length_mm": 30.0},
            {"captured_at": "2026-05-02 11:30", "focal_length_mm": 35.5},
        ],
        "2026-05-02 10:00,one,orla-50,m42-plain,tripod,on,,\n2026-05-02 11:00,one,orla-50,m42-reducer,,,0.22,\n",
    )
    black = {"model": "Nightline 1", "make": "Nightline", "lens_model": "ORLA50"}
    silver = [{"captured_at": f"2026-05-02 10:{minute}", "focal_length_mm": 50.0} for minute in range(10, 50)]
    both = audited(
        [*silver, *({**black, "captured_at": f"2026-05-02 10:{minute}"} for minute in range(20, 30))],
        "2026-05-02 10:09,one,orla-50,m42-plain,,,,\n2026-05-02 10:19,two,orla-50,m42-nl,,,,\n",
    )
    seen = {flag for flags in [worst["flags"], *other["flags"], *both["flags"]] for flag in flags}
    assert seen == {flag.name for flag in FLAGS}
    assert other.iloc[0]["flags"] == ["unreadable"]
    assert set(CAUSES) == {
        "carried-over",
        "adapter-factor-left-out",
        "equivalent-entered",
        "long-end-of-zoom",
        "digit-slip",
        "unexplained",
    }


def trip_rows(*ratings: int | None, day: str = "2026-05-02") -> list[dict[str, object]]:
    return [{"captured_at": f"{day} 10:{n:02d}", "rating": rating} for n, rating in enumerate(ratings)]


def test_a_trip_without_a_rating_was_never_judged() -> None:
    rows = [*trip_rows(None, 0, None), *trip_rows(2, None, 0, -1, 5, day="2026-06-02")]
    assert audited(rows)["kept"].tolist() == [None, None, None, True, False, False, False, True]
    stricter = audited(rows, settings="[keep]\nrating_at_least = 5")["kept"].tolist()
    assert stricter[3:] == [False, False, False, False, True]


def test_keepers_by_list_and_by_folder() -> None:
    rows = [
        {"path": "a/1.jpg", "captured_at": "2026-05-02 10:00", "companion": "a/1.orf"},
        {"path": "a/selected/2.jpg", "captured_at": "2026-05-02 10:01"},
        {"path": "b/selected.jpg", "captured_at": "2026-06-02 10:01"},
    ]
    listed = audited(rows, settings='[keep]\nrule = "list"', listed=["a/1.orf", "main/b/selected.jpg", ""])
    assert listed["kept"].tolist() == [True, False, True]
    assert audited(rows, settings='[keep]\nrule = "folder"')["kept"].tolist() == [False, True, None]


def workspace_of(folder: Path, rows: list[dict[str, object]], log: str = "", settings: str = "") -> Workspace:
    (folder / "kit.toml").write_text(KIT_TEXT)
    (folder / "settings.toml").write_text(settings)
    (folder / "log.csv").write_text(HEAD + log)
    frames = some_frames(rows).assign(size=1, mtime_ns=1)
    replace_table(folder / "store", "frames", pa.Table.from_pandas(frames, schema=FRAMES, preserve_index=False))
    return open_workspace(folder)


def test_the_audit_is_kept_and_joined_row_for_row(tmp_path: Path) -> None:
    rows = [{"captured_at": "2026-05-02 10:30", "focal_length_mm": s, "rating": 1} for s in (85.0, 50.0, None)]
    opened = workspace_of(tmp_path, rows, "2026-05-02 10:00,one,orla-50,m42-plain,,,,\n")
    with pytest.raises(WorkspaceError, match="steadykeep audit"):
        joined_table(opened)
    summary = audit_workspace(opened)
    assert (summary.frames, summary.setting_wrong, summary.setting_unknown) == (3, 1, 1)
    assert summary.by_cause == {"unexplained": 1}
    assert summary.stops_lost_median > 1
    stored = read_table(tmp_path / "store", "audit")
    assert stored.schema.equals(AUDIT)
    joined = joined_table(opened)
    assert joined["path"].tolist() == read_frames(opened)["path"].tolist()
    ledger = ledger_of(opened, "lens")
    assert ledger.rows[["id", "judged", "kept"]].to_numpy().tolist() == [["orla-50", 3, 3]]


def test_an_empty_store_says_what_to_run(tmp_path: Path) -> None:
    (tmp_path / "kit.toml").write_text(KIT_TEXT)
    with pytest.raises(WorkspaceError, match="steadykeep index"):
        audit_workspace(open_workspace(tmp_path))


def test_a_list_of_keepers_that_is_not_there_is_told(tmp_path: Path) -> None:
    opened = workspace_of(tmp_path, [{}], settings='[keep]\nrule = "list"')
    with pytest.raises(SettingsError, match=r"keepers\.txt"):
        audit_workspace(opened)
    (tmp_path / "keepers.txt").write_text("00000.jpg\n")
    assert audit_workspace(opened).frames == 1


def test_no_step_loses_doubles_or_reorders_rows() -> None:
    rows = [{"captured_at": f"2026-05-{d:02d} 10:00", "focal_length_mm": 50.0 + d} for d in (9, 3, 7, 1)]
    found = audited([*rows, {}, {"model": None, "format": None}], "2026-05-03 09:00,one,orla-50,m42-plain,,,,\n")
    assert found["path"].tolist() == [f"{n:05d}.jpg" for n in range(6)]


def test_no_frames_are_no_error() -> None:
    assert len(audit_frames(some_frames([]), small_kit(), (), Settings())) == 0
