"""Add, change and remove entries of a workspace's kit.toml, knowing what else names them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from auditor.errors import InputError, KitError, StoreError
from auditor.model.documents import read_text
from auditor.model.kit_edit import entry_in, with_kit_entry, without_kit_entry
from auditor.model.workspace import KIT_FILE, Workspace
from auditor.pipeline.answering import load_answers
from auditor.pipeline.user_files import change_text
from auditor.storage.datasets import read_table

__all__ = ["KitUse", "remove_kit_entry", "save_kit_entry", "stamped_entry", "uses_of", "write_kit_values"]


@dataclass(frozen=True)
class KitUse:
    """
    What names an entry of the kit by its id.

    Attributes
    ----------
    log_rows : int
        Rows of log.csv; without the entry they can no longer be used.
    answers : int
        Of answers.csv.
    clocks : int
        Corrections of its clock in settings.toml; without the body the workspace would not open any more.
    frames : int
        That the last audit put down to it; without the entry the next one cannot.
    """

    log_rows: int = 0
    answers: int = 0
    clocks: int = 0
    frames: int = 0

    @property
    def is_named(self) -> bool:
        """Whether a file of the user's names it."""
        return bool(self.log_rows or self.answers or self.clocks)


def uses_of(workspace: Workspace, table: str, entry_id: str) -> KitUse:
    """Count what names an entry: its id as a body, a lens, or one of the joined adapters."""
    noun = {"bodies": "body", "lenses": "lens", "adapters": "adapter"}[table]
    try:
        answers = load_answers(workspace)[0]
    except InputError:
        answers = ()  # it cannot be read, so nothing is recorded by it

    def names(row: object) -> bool:
        return entry_id in str(getattr(row, noun) or "").split("+")

    clocks = sum(clock.body == entry_id for clock in workspace.settings.clocks) if noun == "body" else 0
    frames = _frames_of(workspace, noun, entry_id)
    return KitUse(sum(map(names, workspace.log.rows)), sum(map(names, answers)), clocks, frames)


def _frames_of(workspace: Workspace, noun: str, entry_id: str) -> int:
    try:
        counts = read_table(workspace.store, "audit", [noun])[noun].value_counts().to_pylist()
    except StoreError:
        return 0  # the store is to be built anew
    return sum(int(each["counts"]) for each in counts if entry_id in str(each["values"] or "").split("+"))


def stamped_entry(folder: Path, table: str, entry_id: str) -> tuple[dict[str, Any], str] | None:
    """
    Return an entry as it stands in a workspace's kit.toml, with a stamp that changes when it does.

    Raises
    ------
    KitError
        The file cannot be read.
    """
    found = entry_in(read_text(folder / KIT_FILE, KitError), table, entry_id)
    return None if found is None else (found, _stamp(found))


def _stamp(entry: Mapping[str, object]) -> str:
    told = json.dumps(entry, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _as_shown(text: str, table: str, entry_id: str, stamp: str) -> None:
    found = entry_in(text, table, entry_id)
    if found is None or _stamp(found) != stamp:
        what = "was taken out of" if found is None else "was changed in"
        raise KitError(
            f'"{entry_id}" {what} kit.toml by something else meanwhile, nothing was written',
            ["open the page again to see it as it is now"],
        )


def save_kit_entry(workspace: Workspace, table: str, entry_id: str, values: Mapping[str, object], stamp: str) -> None:
    """
    Change an entry, or add one where no id is given; other entries, comments and order stay.

    Parameters
    ----------
    workspace : Workspace
    table : str
        bodies, lenses or adapters.
    entry_id : str
        Of the entry to change; empty to add one.
    values : mapping
        Keys to set; None takes one out.
    stamp : str
        As the entry was shown, from ``stamped_entry``.

    Raises
    ------
    RefusedEntry
        With a sentence for each key that is wrong; nothing was written.
    KitError
        It was changed meanwhile, other things name its id, or the rest of the kit is wrong.
    """

    def changed(text: str) -> str:
        if entry_id:
            _as_shown(text, table, entry_id, stamp)
            if values.get("id", entry_id) != entry_id and uses_of(workspace, table, entry_id).is_named:
                raise KitError(
                    f'"{entry_id}" is named by its id elsewhere, so the id was not changed and nothing was written',
                    ["change it in kit.toml, log.csv, answers.csv and settings.toml together, in an editor"],
                )
        return with_kit_entry(text, table, entry_id, values)

    change_text(workspace.folder / KIT_FILE, changed, KitError)


def remove_kit_entry(workspace: Workspace, table: str, entry_id: str, stamp: str) -> None:
    """
    Take an entry out of the kit.

    Raises
    ------
    KitError
        It was changed meanwhile, or settings.toml corrects this body's clock; nothing was written.
    """
    if uses_of(workspace, table, entry_id).clocks:
        raise KitError(
            f'settings.toml corrects the clock of "{entry_id}", so it was not removed',
            ["take its [[clocks]] out of settings.toml first; the workspace would not open without the body"],
        )

    def changed(text: str) -> str:
        _as_shown(text, table, entry_id, stamp)
        return without_kit_entry(text, table, entry_id)

    change_text(workspace.folder / KIT_FILE, changed, KitError)


def write_kit_values(workspace: Workspace, table: str, entry_id: str, values: Mapping[str, object]) -> Path:
    """
    Set measured values of an entry, whatever else is being changed; return the file.

    Raises
    ------
    KitError
        The kit would be refused with them; nothing was written.
    """
    path = workspace.folder / KIT_FILE
    change_text(path, lambda text: with_kit_entry(text, table, entry_id, values), KitError)
    return path
