"""The public surface: what a notebook sees."""

from __future__ import annotations

import doctest
import inspect
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

import auditor
from auditor.audit.ledger import keep_rates
from auditor.model.tables import AUDIT, FRAMES, MEASURES, OVERLAPS
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import joined_table


@pytest.fixture(scope="module")
def workspace(sample_workspace: Path) -> Workspace:
    return auditor.open_workspace(str(sample_workspace))


@pytest.mark.parametrize("name", auditor.__all__)
def test_every_public_name_is_there_and_says_what_it_is(name: str) -> None:
    thing = getattr(auditor, name)
    assert inspect.getdoc(thing)
    assert name in dir(auditor)
    if callable(thing) and thing.__module__.startswith(("auditor.optics", "auditor.shake", "auditor.stats")):
        assert doctest.DocTestParser().get_examples(inspect.getdoc(thing) or "")


def test_importing_is_quick_and_loads_nothing_heavy() -> None:
    heavy = "{'numpy', 'pandas', 'pyarrow', 'dash', 'pydantic'}"
    code = f"import auditor, sys; print(sorted({heavy} & set(sys.modules)))"
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "[]"


def test_physics_does_not_load_tables() -> None:
    code = (
        "import auditor, sys; auditor.right_setting_mm(50, 0.1); auditor.wilson(1, 2); print('pandas' in sys.modules)"
    )
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "False"


def test_a_name_that_is_not_public_is_not_there() -> None:
    with pytest.raises(AttributeError, match="right_seting_mm"):
        auditor.right_seting_mm  # noqa: B018
    with pytest.raises(ImportError):
        exec("from auditor import harmless")  # noqa: S102


def test_star_gives_exactly_the_public_names() -> None:
    room: dict[str, object] = {}
    exec("from auditor import *", room)  # noqa: S102
    assert set(room) - {"__builtins__"} == set(auditor.__all__)


def test_tables_are_those_of_the_store(workspace: Workspace) -> None:
    assert list(auditor.read_frames(workspace).columns) == FRAMES.names
    assert list(auditor.read_audit(workspace).columns) == AUDIT.names
    assert list(auditor.read_measures(workspace).columns) == MEASURES.names
    assert list(auditor.read_overlaps(workspace).columns) == OVERLAPS.names
    pd.testing.assert_frame_equal(auditor.read_joined(workspace), joined_table(workspace))


def test_the_ledger_is_the_ledger(workspace: Workspace) -> None:
    found = auditor.ledger(workspace, by="trip")
    expected = keep_rates(joined_table(workspace), "trip")
    assert found.equals(expected.rows)
    assert found.attrs == {"left_out": expected.left_out}
    with pytest.raises(ValueError, match="moon"):
        auditor.ledger(workspace, by="moon")


def test_a_workspace_is_indexed_and_audited_from_a_notebook(own_workspace: Path, sample_workspace: Path) -> None:
    opened = auditor.open_workspace(own_workspace)
    assert auditor.index_workspace(opened).new == 0
    assert auditor.audit_workspace(opened).frames == len(auditor.read_frames(opened))


def test_what_is_wrong_is_said_as_an_error_of_ours(tmp_path: Path) -> None:
    with pytest.raises(auditor.SteadykeepError, match="not a workspace"):
        auditor.open_workspace(tmp_path)


def test_home_is_understood(monkeypatch: pytest.MonkeyPatch, sample_workspace: Path) -> None:
    monkeypatch.setenv("HOME", str(sample_workspace.parent))
    monkeypatch.setenv("USERPROFILE", str(sample_workspace.parent))
    assert auditor.open_workspace(f"~/{sample_workspace.name}").folder == sample_workspace
