"""Commands as a user meets them: what they print where, and how they end."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from auditor.cli.app import COMMANDS, main
from auditor.model.kit import load_kit
from auditor.model.log import LOG_COLUMNS
from auditor.model.settings import load_settings
from auditor.model.tables import AUDIT, FRAMES
from auditor.model.whereabouts import PLACE_COLUMNS
from auditor.model.workspace import open_workspace
from auditor.pipeline import indexing
from tests.kits import KIT_TEXT


def document(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, object]:
    assert main([*arguments, "--json"]) == 0
    out = capsys.readouterr().out
    loaded = json.loads(out)
    assert isinstance(loaded, dict)
    return loaded


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    capsys.readouterr()
    assert main(list(arguments)) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert "Traceback" not in said.err
    return said.err


def tree(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() + str(path.stat().st_mtime_ns)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_that_ends_with_an_example(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    words = [command, *{"log": ["add"], "calibrate": ["hand"]}.get(command, [])]
    assert main([*words, "--help"]) == 0
    assert "Example: steadykeep" in capsys.readouterr().out.replace("\n", " ")


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    out = capsys.readouterr().out
    assert [name for name in COMMANDS if f"\n  {name} " not in out] == []
    assert not any(line.endswith("...") for line in out.splitlines()[1:])  # no summary is cut


def test_a_wrong_option_is_usage(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ledger", "--by", "mood"]) == 2
    assert main(["nonsense"]) == 2
    assert "nonsense" in capsys.readouterr().err


def test_the_version_is_printed_and_needs_no_libraries(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("steadykeep ")


def test_python_m_auditor_is_the_same_command() -> None:
    run = subprocess.run(
        [sys.executable, "-m", "auditor", "kit", os.devnull], capture_output=True, text=True, check=False
    )
    assert run.returncode == 1
    assert "not a workspace" in run.stderr
    assert run.stdout == ""


def test_a_kit_command_loads_neither_pandas_nor_the_web_libraries(own_workspace: Path) -> None:
    code = (
        "import sys; from auditor.cli import main; main(['kit', sys.argv[1], '--quiet']);"
        "sys.exit(any(name in sys.modules for name in ('dash', 'plotly')))"
    )
    run = subprocess.run([sys.executable, "-c", code, own_workspace], capture_output=True, check=False)
    assert run.returncode == 0


def test_audit_prints_counts_for_people_and_programs(own_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "audit", str(own_workspace))
    assert found["frames"] == 623
    assert sum(found["by_cause"].values()) == found["setting_wrong"]  # type: ignore[attr-defined]
    assert main(["audit", str(own_workspace)]) == 0
    said = capsys.readouterr()
    assert f"Setting wrong on {found['setting_wrong']}" in said.out
    assert "log.csv line 29" in said.err  # a row that was left out is said, and stops nothing


def test_quiet_prints_nothing_but_what_is_wrong(own_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ledger", str(own_workspace), "--quiet"]) == 0
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize("by", ["lens", "pairing", "body", "trip", "focal"])
def test_ledger_counts_every_frame_once(by: str, sample_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "ledger", str(sample_workspace), "--by", by)
    rows, left_out = found["rows"], found["left_out"]
    assert sum(row["judged"] for row in rows) + sum(left_out.values()) == 623  # type: ignore[attr-defined]
    assert main(["ledger", str(sample_workspace), "--by", by]) == 0
    assert "95 % interval" in capsys.readouterr().out


def test_kit_lists_pairings_and_finds_what_fits_nowhere(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "kit.toml").write_text(
        KIT_TEXT + '[[lenses]]\nid = "odd-40"\nname = "Odd"\nfocal_mm = 40\nmount = "Odd"\n'
    )
    found = document(capsys, "kit", str(tmp_path))
    assert len(found["pairings"]) == 10  # type: ignore[arg-type]
    assert any("odd-40" in finding for finding in found["findings"])  # type: ignore[attr-defined]
    assert {"infinity", "coverage"} < set(found["pairings"][0])  # type: ignore[index]


def test_a_mistyped_id_in_the_log_names_the_nearest(own_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = (own_workspace / "log.csv").read_bytes()
    said = refused(capsys, "log", "add", str(own_workspace), "--body", "one", "--lens", "orla-5", "--setting-mm", "x")
    assert 'lens "orla-5" is not in the kit (did you mean "orla-50"?)' in said
    assert "setting_mm" in said
    assert (own_workspace / "log.csv").read_bytes() == before


def test_a_csv_is_shown_and_added_to_the_log_only_when_told_so(
    own_workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = (own_workspace / "log.csv").read_bytes()
    notes = tmp_path / "notes.csv"
    notes.write_text("start,body,support\n2026-11-02 10:00,one,tripod\nnoon,one,hand\n", encoding="utf-8")
    shown = document(capsys, "log", "import", str(notes), str(own_workspace))
    assert (len(shown["rows"]), shown["written"]) == (1, 0)  # type: ignore[arg-type]
    assert "noon" in str(shown["refused"])
    assert (own_workspace / "log.csv").read_bytes() == before
    assert document(capsys, "log", "import", str(notes), str(own_workspace), "--write")["written"] == 1
    assert document(capsys, "log", "import", str(notes), str(own_workspace), "--write")["doubles"] == 1
    assert (own_workspace / "log.csv").read_bytes().startswith(before)
    assert "no such file" in refused(capsys, "log", "import", str(tmp_path / "none.csv"), str(own_workspace))


def test_a_row_of_the_log_is_added_and_shown(own_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = (own_workspace / "log.csv").read_text(encoding="utf-8")
    added = document(
        capsys, "log", "add", str(own_workspace), "--body", "one", "--lens", "orla-50", "--start", "2026-11-02 10:00"
    )
    assert added["lens"] == "orla-50"
    assert (own_workspace / "log.csv").read_text(encoding="utf-8").startswith(before)
    shown = document(capsys, "log", "show", str(own_workspace))
    assert shown["rows"][-1]["start"] == "2026-11-02 10:00:00"  # type: ignore[index]
    assert len(shown["problems"]) == 1  # type: ignore[arg-type]
    assert main(["log", "show", str(own_workspace)]) == 0
    assert "2026-11-02 10:00" in capsys.readouterr().out


@pytest.mark.parametrize("ending", ["csv", "parquet", "xlsx"])
def test_export_writes_one_row_a_frame(
    ending: str, own_workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / f"frames.{ending}"
    assert document(capsys, "export", str(target), str(own_workspace))["frames"] == 623
    assert target.stat().st_size > 10_000
    if ending == "csv":
        with target.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
        assert len(rows) == 623
        assert set(rows[0]) == {*FRAMES.names, *AUDIT.names} - set(PLACE_COLUMNS)


def test_export_refuses_what_it_cannot_write_and_never_the_archive(
    sample_workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    workspace = str(sample_workspace)
    assert ".ods" in refused(capsys, "export", str(tmp_path / "x.ods"), workspace)
    assert "no such folder" in refused(capsys, "export", str(tmp_path / "no" / "x.csv"), workspace)
    inside = sample_workspace / "archive" / "x.csv"
    assert "never written to" in refused(capsys, "export", str(inside), workspace)
    assert not inside.exists()


def test_a_folder_that_is_no_workspace_is_told_what_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for command in ("index", "audit", "ledger", "kit", "dashboard"):
        assert "steadykeep init" in refused(capsys, command, str(tmp_path))


def test_an_empty_folder_is_said_in_one_message(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "empty").mkdir()
    assert main(["init", str(tmp_path / "ws"), "--archive", str(tmp_path / "empty")]) == 0
    assert "is it the right folder?" in capsys.readouterr().err
    assert "steadykeep index" in refused(capsys, "audit", str(tmp_path / "ws"))


def test_init_refuses_folders_that_will_not_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photos = tmp_path / "photos"
    (photos / "inner").mkdir(parents=True)
    workspace = str(tmp_path / "ws")
    assert "there is no such folder" in refused(capsys, "init", workspace, "--archive", str(tmp_path / "nope"))
    both = ["--archive", str(photos), "--archive", str(photos / "inner")]
    assert "lies inside" in refused(capsys, "init", workspace, *both)
    assert "never written to" in refused(capsys, "init", str(photos / "ws"), "--archive", str(photos))
    (tmp_path / "ws").mkdir()
    (tmp_path / "ws" / "kit.toml").write_text("")
    assert "is a workspace already" in refused(capsys, "init", workspace, "--archive", str(photos))


def test_several_archives_have_names_of_their_own(tmp_path: Path) -> None:
    for name in ("a/2026", "b/2026", "c d"):
        (tmp_path / name).mkdir(parents=True)
    folders = [word for name in ("a/2026", "b/2026", "c d") for word in ("--archive", str(tmp_path / name))]
    assert main(["init", str(tmp_path / "ws"), *folders, "--quiet"]) == 0
    assert list(load_settings(tmp_path / "ws" / "settings.toml").archives) == ["2026", "2026-2", "c d"]
    at_once = [str(tmp_path / name) for name in ("a/2026", "b/2026", "c d")]
    assert main(["init", str(tmp_path / "other"), "--archive", *at_once, "--quiet"]) == 0
    assert list(load_settings(tmp_path / "other" / "settings.toml").archives) == ["2026", "2026-2", "c d"]


def test_init_starts_a_kit_that_loads_and_leaves_the_user_s_part_to_the_user(
    sample_workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = tree(sample_workspace / "archive")
    started = document(capsys, "init", str(tmp_path / "ws"), "--archive", str(sample_workspace / "archive"))
    assert started["frames"] == 623
    kit = load_kit(tmp_path / "ws" / "kit.toml")
    assert len(kit.bodies) == started["bodies"] == 2
    assert all(body.sensor_mm is None for body in kit.bodies)
    assert any(lens.contacts for lens in kit.lenses)
    assert (tmp_path / "ws" / "log.csv").read_text(encoding="utf-8").strip() == ",".join(LOG_COLUMNS)
    # A second reading of an unchanged archive opens no picture.
    again = document(capsys, "index", str(tmp_path / "ws"))
    assert (again["new"], again["changed"], again["unchanged"]) == (0, 0, 623)
    assert "50 mm on 198 frames, 85 mm on 64 frames" in (tmp_path / "ws" / "kit.toml").read_text(encoding="utf-8")
    assert main(["audit", str(tmp_path / "ws")]) == 0
    said = capsys.readouterr()
    assert "sensor_mm is missing for" in said.err
    assert 'No lens of the kit fits "silverline-2" (483 frames)' in said.out
    # What names itself is known at once, whatever else is still missing.
    assert "Lens and adapter known for 138" in said.out
    assert tree(sample_workspace / "archive") == before


def test_ctrl_c_while_a_workspace_is_begun_leaves_a_kit_of_what_was_read(
    sample_workspace: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    real, calls = indexing.read_task, []

    def interrupted(task: object) -> object:
        calls.append(task)
        if len(calls) > 1:
            raise KeyboardInterrupt
        return real(task)  # type: ignore[arg-type]

    monkeypatch.setattr(indexing, "read_task", interrupted)
    monkeypatch.setattr(indexing, "_FEW_FRAMES", 10_000)
    assert main(["init", str(tmp_path / "ws"), "--archive", str(sample_workspace / "archive")]) == 130
    assert "what was finished is kept" in capsys.readouterr().err
    assert len(open_workspace(tmp_path / "ws").kit.bodies) >= 1


@pytest.mark.real_frames
def test_real_camera_files_run_through_and_stay_as_they_were(
    real_frames: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = tree(real_frames)
    workspace = str(tmp_path / "ws")
    started = document(capsys, "init", workspace, "--archive", str(real_frames))
    assert document(capsys, "index", workspace)["unchanged"] == started["frames"]
    assert document(capsys, "audit", workspace)["frames"] == started["frames"]
    assert document(capsys, "ledger", workspace)["left_out"]
    assert tree(real_frames) == before
    pictures = {"jpg", "jpeg", "hif", "heif", "heic", "jxl", "arw", "cr2", "cr3", "nef", "raf", "dng"}
    names = [path for path in real_frames.rglob("*") if path.suffix.lower().removeprefix(".") in pictures]
    assert started["frames"] == len(names)


def test_demo_goes_from_nothing_to_a_summary_and_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = str(tmp_path / "demo")
    first = document(capsys, "demo", folder, "--no-serve")
    assert first["frames"] == 623
    assert document(capsys, "demo", folder, "--no-serve")["setting_wrong"] == first["setting_wrong"]
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("mine")
    assert "holds something else" in refused(capsys, "demo", str(tmp_path / "full"), "--no-serve")


def test_a_taken_port_is_told(own_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        assert f"port {port} is taken" in refused(capsys, "dashboard", str(own_workspace), "--port", port)


def test_serving_others_makes_a_key_and_says_what_is_open(
    own_workspace: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    served: list[tuple[str, int, str | None]] = []
    monkeypatch.setattr("dashboards.serve.serve", lambda _app, host, port, key: served.append((host, port, key)))
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    assert main(["dashboard", str(own_workspace), "--port", str(port), "--host", "0.0.0.0", "--quiet"]) == 0  # noqa: S104
    assert main(["dashboard", str(own_workspace), "--port", str(port)]) == 0
    (host, _, key), alone = served
    assert host == "0.0.0.0"  # noqa: S104
    assert key
    assert alone == ("127.0.0.1", port, None)
    told = capsys.readouterr().err
    for words in (f"/?key={key}", "every picture", "Nothing is encrypted", "shoot log"):
        assert words in told
    assert "no address" in refused(capsys, "dashboard", str(own_workspace), "--port", str(port), "--host", "192.0.2.9")
