"""What the kit's page writes: an entry added, changed or removed in kit.toml, and taken back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from auditor.errors import SteadykeepError
from auditor.model.kit_edit import RefusedEntry
from auditor.model.workspace import open_workspace
from auditor.pipeline.kit_editing import KitUse, remove_kit_entry, save_kit_entry, stamped_entry, uses_of
from dashboards.kit_fields import FIELDS, NOUNS
from dashboards.kit_form import texts_of, too_long, values_of
from dashboards.undoing import Undoable
from dashboards.words import count_of

__all__ = ["Kits", "Outcome", "use_in_words", "workspace_kits"]


@dataclass(frozen=True)
class Outcome:
    """
    What came of a press.

    Parameters
    ----------
    said : str
    done : bool
        Whether the file was changed.
    entry : str
        Id of the entry after it; empty where it is gone.
    by_key : mapping of str to str
        What is wrong with each field.
    asks : bool
        Nothing was done, since it should be said twice.
    """

    said: str
    done: bool = False
    entry: str = ""
    by_key: Mapping[str, str] = field(default_factory=dict)
    asks: bool = False


@dataclass(frozen=True)
class Kits:
    """
    The kit of a workspace.

    Parameters
    ----------
    save : callable
        Given table, id (empty to add), the stamp of the entry as shown, and what is typed.
    remove : callable
        Given table, id, stamp, and whether it is sure although something names the entry.
    undo : callable
        Takes the last change back.
    """

    save: Callable[[str, str, str, Mapping[str, str]], Outcome]
    remove: Callable[[str, str, str, bool], Outcome]
    undo: Callable[[], str]


def workspace_kits(folder: Path, files: Undoable) -> Kits:
    """
    Return what changes a workspace's kit.toml.

    Parameters
    ----------
    folder : Path
        The workspace.
    files : Undoable
        Over its kit.toml.
    """

    def save(table: str, entry: str, stamp: str, texts: Mapping[str, str]) -> Outcome:
        return _outcome(table, lambda: _saved(folder, files, (table, entry, stamp), texts))

    def remove(table: str, entry: str, stamp: str, is_sure: bool) -> Outcome:
        return _outcome(table, lambda: _removed(folder, files, (table, entry, stamp), is_sure=is_sure))

    return Kits(save=save, remove=remove, undo=files.undo)


def _outcome(table: str, change: Callable[[], Outcome]) -> Outcome:
    """Run a change; whatever refuses it becomes what is said."""
    if table not in FIELDS:
        return Outcome("There is no such part of a kit.")
    try:
        return change()
    except RefusedEntry as error:
        return Outcome(_count_in_words(error.by_key), by_key=error.by_key)
    except SteadykeepError as error:
        return Outcome(str(error))


def _removed(folder: Path, files: Undoable, target: tuple[str, str, str], *, is_sure: bool) -> Outcome:
    table, entry, stamp = target
    workspace = open_workspace(folder)
    use = uses_of(workspace, table, entry)
    if (use.is_named or use.frames) and not is_sure:
        return Outcome(use_in_words(table, use), asks=True)
    files.do(f"{NOUNS[table]} {entry} removed", lambda: remove_kit_entry(workspace, table, entry, stamp))
    return Outcome(f"Removed from kit.toml: {entry}.", done=True)


def _saved(folder: Path, files: Undoable, target: tuple[str, str, str], texts: Mapping[str, str]) -> Outcome:
    table, entry, stamp = target
    wrong = too_long(texts)
    if wrong:
        raise RefusedEntry(wrong)
    workspace = open_workspace(folder)
    shown = stamped_entry(folder, table, entry) if entry else None
    values = values_of(table, texts, texts_of(table, shown[0] if shown else {}))
    if entry and not values:
        return Outcome("Nothing is typed otherwise than it stands in kit.toml.", entry=entry)
    name = f"{NOUNS[table]} {entry} changed" if entry else f"{NOUNS[table]} {values.get('id', '')} added"
    files.do(name, lambda: save_kit_entry(workspace, table, entry, values, stamp))
    now = str(values.get("id", entry))
    verb = "Added to" if not entry else "Changed in"
    return Outcome(f"{verb} kit.toml: {now} ({', '.join(values)}).", done=True, entry=now)


def _count_in_words(by_key: Mapping[str, str]) -> str:
    number = len(by_key)
    where = "the field says what" if number == 1 else "each field says what"
    return f"{number} {'thing is' if number == 1 else 'things are'} wrong, nothing was written; {where}."


def use_in_words(table: str, use: KitUse) -> str:
    """
    Say what names an entry and what becomes of it without.

    Examples
    --------
    >>> print(use_in_words("lenses", KitUse(log_rows=12, answers=1, frames=166)))
    12 rows of the log and 1 answer name this lens, and 166 frames were made with it; without it what names it no longer
    counts and the frames lose their lens at the next audit. A lens that you no longer own keeps its history with a day
    under "Sold on".
    """
    parts = [
        count_of(number, noun, nouns)
        for number, noun, nouns in (
            (use.log_rows, "row of the log", "rows of the log"),
            (use.answers, "answer", "answers"),
            (use.clocks, "clock correction", "clock corrections"),
        )
        if number
    ]
    one = NOUNS[table]
    made = f"{count_of(use.frames, 'frame')} {'was' if use.frames == 1 else 'were'} made with it" if use.frames else ""
    verb = "names" if use.log_rows + use.answers + use.clocks == 1 else "name"
    if use.clocks:
        return f"{_and(parts)} {verb} this {one}; the clock correction in settings.toml has to go before it can."
    if not parts and not made:
        return f"No row of the log, no answer and no frame names this {one}."
    named = f"{_and(parts)} {verb} this {one}" if parts else ""
    lost = ["what names it no longer counts"] if parts else []
    lost += [f"the frames lose their {one} at the next audit"] if made else []
    told = f"{', and '.join(part for part in (named, made) if part)}; without it {' and '.join(lost)}."
    sold = ' A lens that you no longer own keeps its history with a day under "Sold on".' if table == "lenses" else ""
    return f"{told[0].upper()}{told[1:]}{sold}"


def _and(parts: Sequence[str]) -> str:
    return " and ".join(parts)
