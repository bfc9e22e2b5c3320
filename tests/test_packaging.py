"""What is built and installed is whole, and what is imported is declared."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from tests.conftest import PROJECT

PACKAGES = ("auditor", "dashboards", "sample_library")
PYPROJECT = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))
MODULE_OF = {"pillow": "PIL", "dash-ag-grid": "dash_ag_grid", "dash-mantine-components": "dash_mantine_components"}
MODULE_OF |= {"opencv-python-headless": "cv2", "pillow-heif": "pillow_heif", "xlsxwriter": "xlsxwriter"}
BROUGHT_ALONG = {"flask": "dash", "werkzeug": "dash", "pydantic_core": "pydantic", "dask": "distributed"}


def names(requirements: list[str]) -> set[str]:
    distributions = {re.split(r"[<>=!\[; ]", line)[0].lower() for line in requirements}
    return {MODULE_OF.get(name, name.replace("-", "_")) for name in distributions}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(PROJECT)]
    subprocess.run(command, check=True, capture_output=True)
    (built,) = out.glob("*.whl")
    return built


def test_the_wheel_holds_every_file_of_the_packages(wheel: Path) -> None:
    held = set(zipfile.ZipFile(wheel).namelist())
    tracked = subprocess.run(["git", "ls-files", *PACKAGES], cwd=PROJECT, check=True, capture_output=True, text=True)
    files = {line for line in tracked.stdout.splitlines() if (PROJECT / line).exists()}
    assert files
    assert sorted(files - held) == []
    assert [name for name in held if name.split("/")[0] not in {*PACKAGES, "steadykeep-0.1.0.dist-info"}] == []


def test_the_installed_program_works_away_from_the_checkout(wheel: Path, tmp_path: Path) -> None:
    place = tmp_path / "site"
    install = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index", "--target", str(place)]
    subprocess.run([*install, str(wheel)], check=True)
    (script,) = (place / "bin").glob("steadykeep*") if os.name != "nt" else (place / "bin").glob("steadykeep.exe")
    environment = {**os.environ, "PYTHONPATH": str(place)}
    run = [sys.executable, str(script)] if os.name != "nt" else [str(script)]
    done = subprocess.run(
        [*run, "demo", "demo", "--no-serve"], cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "frames audited" in done.stdout
    where = subprocess.run(
        [sys.executable, "-c", "import auditor; print(auditor.__file__)"],
        cwd=tmp_path, env=environment, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert str(place) in where.stdout


def test_everything_imported_is_declared() -> None:
    declared = names(PYPROJECT["project"]["dependencies"])
    for extra in PYPROJECT["project"]["optional-dependencies"].values():
        declared |= names(extra)
    imported: set[str] = set()
    for package in PACKAGES:
        for path in (PROJECT / package).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Import):
                    imported |= {alias.name.split(".")[0] for alias in node.names}
                elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                    imported.add(node.module.split(".")[0])
    foreign = imported - set(sys.stdlib_module_names) - set(PACKAGES) - {"__future__", "_typeshed"}
    missing = {name for name in foreign - declared if BROUGHT_ALONG.get(name) not in declared}
    assert missing == set()


def test_locks_pin_every_dependency_with_hashes() -> None:
    for lock in (PROJECT / "requirements.lock", PROJECT / "tests" / "requirements.lock"):
        text = lock.read_text(encoding="utf-8")
        entries = re.findall(
            r"^([a-z0-9][a-z0-9._-]*)==\S+ .*\\\n(?:    --hash=sha256:[0-9a-f]{64}.*\n)+", text, re.MULTILINE
        )
        pinned = re.findall(r"^[a-z0-9][a-z0-9._-]*==", text, re.MULTILINE)
        assert len(entries) == len(pinned) > 20
        assert "http" not in text
        for requirement in PYPROJECT["project"]["dependencies"]:
            assert re.split(r"[<>=!\[; ]", requirement)[0].lower() in entries, requirement


def test_both_locks_agree() -> None:
    def pins(path: Path) -> dict[str, set[str]]:
        found: dict[str, set[str]] = {}
        for name, version in re.findall(r"^([a-z0-9._-]+)==(\S+)", path.read_text(encoding="utf-8"), re.MULTILINE):
            found.setdefault(name, set()).add(version)
        return found

    program, tests = pins(PROJECT / "requirements.lock"), pins(PROJECT / "tests" / "requirements.lock")
    assert {name: tests.get(name) for name in program} == program


def test_the_top_level_holds_what_it_should_and_nothing_else() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml", "requirements.lock", "run.py"}
    tracked = subprocess.run(["git", "ls-files"], cwd=PROJECT, check=True, capture_output=True, text=True)
    tops = {line.split("/")[0] for line in tracked.stdout.splitlines()}
    assert {top for top in tops if not top.startswith(".")} <= allowed | {*PACKAGES, "tests"}
