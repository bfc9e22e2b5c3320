"""The kit of a workspace, changed with an eye on what else names its entries and what changed meanwhile."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.errors import KitError
from auditor.model.kit_edit import RefusedEntry
from auditor.model.workspace import open_workspace
from auditor.pipeline.auditing import joined_table
from auditor.pipeline.kit_editing import KitUse, remove_kit_entry, save_kit_entry, stamped_entry, uses_of
from auditor.pipeline.user_files import change_text


def _stamp(folder: Path, table: str, entry: str) -> str:
    found = stamped_entry(folder, table, entry)
    assert found is not None
    return found[1]


def test_only_the_line_of_the_value_changes(own_workspace: Path):
    path = own_workspace / "kit.toml"
    before = path.read_text(encoding="utf-8")
    save_kit_entry(open_workspace(own_workspace), "lenses", "orla-50", {"measured_focal_mm": 51.2},
                   _stamp(own_workspace, "lenses", "orla-50"))  # fmt: skip
    after = path.read_text(encoding="utf-8")
    assert after == before.replace("measured_focal_mm = 51.6", "measured_focal_mm = 51.2")


def test_line_ends_and_mark_of_the_file_stay(own_workspace: Path):
    path = own_workspace / "kit.toml"
    before = b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n")
    path.write_bytes(before)
    save_kit_entry(open_workspace(own_workspace), "bodies", "one", {"stabiliser_stops": 4.5},
                   _stamp(own_workspace, "bodies", "one"))  # fmt: skip
    assert path.read_bytes() == before.replace(b"stabiliser_stops = 5.0", b"stabiliser_stops = 4.5", 1)


def test_what_changed_meanwhile_is_never_written_over(own_workspace: Path):
    workspace, stamp = open_workspace(own_workspace), _stamp(own_workspace, "lenses", "orla-50")
    save_kit_entry(workspace, "lenses", "hale-85", {"price": 250}, _stamp(own_workspace, "lenses", "hale-85"))
    save_kit_entry(workspace, "lenses", "orla-50", {"price": 150}, stamp)  # another entry's change is no matter
    for change in (
        lambda: save_kit_entry(workspace, "lenses", "orla-50", {"price": 160}, stamp),
        lambda: remove_kit_entry(workspace, "lenses", "orla-50", stamp),
    ):
        with pytest.raises(KitError, match=r"was changed in kit\.toml by something else"):
            change()
    assert open_workspace(own_workspace).kit.lens("orla-50").price == 150
    remove_kit_entry(workspace, "lenses", "orla-50", _stamp(own_workspace, "lenses", "orla-50"))
    with pytest.raises(KitError, match=r"was taken out of kit\.toml by something else"):
        save_kit_entry(workspace, "lenses", "orla-50", {"price": 160}, stamp)
    assert stamped_entry(own_workspace, "lenses", "orla-50") is None


def test_a_file_changed_while_it_is_worked_on(tmp_path: Path):
    path = tmp_path / "kit.toml"
    path.write_text("# mine\n")

    def edited_meanwhile(text: str) -> str:
        path.write_text("# an editor's\n")
        return text + "# ours\n"

    with pytest.raises(KitError, match="changed by something else just now"):
        change_text(path, edited_meanwhile, KitError)
    assert path.read_text() == "# an editor's\n"
    change_text(tmp_path / "new.toml", lambda text: text + "a = 1\n", KitError)
    assert (tmp_path / "new.toml").read_text() == "a = 1\n"


def test_what_names_an_entry_is_counted(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    lens = uses_of(workspace, "lenses", "orla-50")
    assert lens.log_rows == sum(row.lens == "orla-50" for row in workspace.log.rows) > 0
    assert lens.is_named
    audited = joined_table(workspace)
    assert lens.frames == (audited["lens"] == "orla-50").sum() > 0
    adapter = uses_of(workspace, "adapters", "m42-reducer")
    assert adapter.log_rows == sum("m42-reducer" in (row.adapter or "") for row in workspace.log.rows) > 0
    assert adapter.frames == (audited["adapter"] == "m42-reducer").sum() > 0
    assert uses_of(workspace, "bodies", "one").clocks == 1
    (own_workspace / "answers.csv").write_text("nonsense\n1\n", encoding="utf-8")
    assert uses_of(workspace, "lenses", "orla-50").answers == 0
    (own_workspace / "answers.csv").write_text(
        "first,last,body,lens,adapter,said_at\n2026-05-02 20:00,2026-05-02 21:00,one,orla-50,m42-plain,\n",
        encoding="utf-8",
    )
    assert uses_of(workspace, "lenses", "orla-50").answers == 1
    assert uses_of(workspace, "lenses", "no-such") == KitUse()
    (own_workspace / "store" / "audit" / "_manifest.json").write_text("{", encoding="utf-8")
    assert uses_of(workspace, "lenses", "orla-50").frames == 0


def test_the_id_of_a_named_entry_stays_and_a_body_with_a_corrected_clock_too(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    with pytest.raises(KitError, match="named by its id elsewhere"):
        save_kit_entry(workspace, "lenses", "orla-50", {"id": "orla"}, _stamp(own_workspace, "lenses", "orla-50"))
    with pytest.raises(KitError, match="corrects the clock"):
        remove_kit_entry(workspace, "bodies", "one", _stamp(own_workspace, "bodies", "one"))
    open_workspace(own_workspace)  # and so it still opens


def test_a_refused_entry_leaves_the_file(own_workspace: Path):
    before = (own_workspace / "kit.toml").read_bytes()
    with pytest.raises(RefusedEntry):
        save_kit_entry(open_workspace(own_workspace), "adapters", "", {"id": "x"}, "")
    assert (own_workspace / "kit.toml").read_bytes() == before
