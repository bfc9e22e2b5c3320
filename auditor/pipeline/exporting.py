"""Write tables for other programs, each with a list of what its columns mean beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

import pandas as pd

from auditor.corrections.data_dictionary import data_dictionary
from auditor.corrections.tables import FORMATS, write_table
from auditor.errors import InputError
from auditor.model.tables import KEY
from auditor.model.whereabouts import PLACE_COLUMNS
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import joined_table, to_frame
from auditor.pipeline.calibrating import blur_budgets
from auditor.pipeline.ledgers import ledger_of
from auditor.storage.atomic import replacing
from auditor.storage.datasets import read_table

__all__ = [
    "DETAILED",
    "SUMMARIES",
    "dictionary_beside",
    "export_rows",
    "export_workspace",
    "frames_with_measures",
    "writable_target",
]


def frames_with_measures(workspace: Workspace) -> pd.DataFrame:
    """
    Return the joined table: frames, audit, and where frames were measured what the pixels say.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet.
    """
    rows = joined_table(workspace)
    measures = read_table(workspace.store, "measures")
    if not measures.num_rows:
        return rows
    measured = to_frame(measures).rename(columns={"problem": "measure_problem"})
    return rows.merge(measured, on=list(KEY), how="left", validate="one_to_one")


def _of_store(name: str) -> Callable[[Workspace], pd.DataFrame]:
    return lambda workspace: to_frame(read_table(workspace.store, name))


def _of_ledger(by: str) -> Callable[[Workspace], pd.DataFrame]:
    return lambda workspace: ledger_of(workspace, by).rows


DETAILED: Mapping[str, Callable[[Workspace], pd.DataFrame]] = MappingProxyType(
    {
        "frames": frames_with_measures,
        "limits": blur_budgets,
        "measures": _of_store("measures"),
        "overlaps": _of_store("overlaps"),
    }
)
"""Tables with one row a frame or pair of frames."""

SUMMARIES: Mapping[str, Callable[[Workspace], pd.DataFrame]] = MappingProxyType(
    {f"ledger-by-{by}": _of_ledger(by) for by in ("lens", "pairing", "body", "trip", "focal")}
)
"""Tables in which a row stands for several frames; the pages have more."""


def writable_target(workspace: Workspace, target: Path, endings: tuple[str, ...]) -> str:
    """
    Return the ending of a file that may be written.

    Raises
    ------
    InputError
        The ending is another, the folder does not exist, or it lies inside an archive.
    """
    kind = target.suffix.removeprefix(".").lower()
    problems = []
    if kind not in endings:
        problems.append(f'"{target.name}" should end in .{" or .".join(endings)}')
    whole = target.resolve()
    if not whole.parent.is_dir():
        problems.append(f"{whole.parent}: there is no such folder")
    problems += [
        f"{target} lies inside the archive {folder}, which is never written to"
        for folder in workspace.archives.values()
        if folder.resolve() in whole.parents
    ]
    if problems:
        raise InputError("nothing was exported", problems)
    return kind


def dictionary_beside(target: Path) -> Path:
    """
    Return the file that says what the columns of an export mean.

    Examples
    --------
    >>> dictionary_beside(Path("frames.xlsx")).name
    'frames-columns.csv'
    """
    return target.with_name(f"{target.stem}-columns.csv")


def export_rows(workspace: Workspace, rows: pd.DataFrame, target: Path, *, name: str, is_summary: bool) -> Path:
    """
    Write a table and its data dictionary, each whole or not at all.

    Parameters
    ----------
    workspace : Workspace
    rows : DataFrame
    target : Path
        Ends in .csv, .parquet or .xlsx.
    name : str
        Of the table.
    is_summary : bool
        Each row stands for several frames.

    Returns
    -------
    Path
        The data dictionary.

    Raises
    ------
    InputError
        As in ``writable_target``; also where the rows do not fit into the format.
    """
    kind = writable_target(workspace, target, tuple(FORMATS))
    with replacing(target) as out:
        write_table(rows, kind, out, name=name)
    beside = dictionary_beside(target)
    with replacing(beside) as out:
        write_table(data_dictionary(rows, is_summary=is_summary), "csv", out)
    return beside


def export_workspace(workspace: Workspace, target: Path, *, table: str = "frames", places: bool = False) -> int:
    """
    Write one of ``DETAILED`` or ``SUMMARIES``.

    Parameters
    ----------
    workspace : Workspace
    target : Path
        As in ``export_rows``.
    table : str
        Its name.
    places : bool
        Write where the frames were made, rounded as it is stored; only the table ``frames`` holds it. An export is
        for other people, so it is left out unless it was asked for.

    Returns
    -------
    int
        Rows written.

    Raises
    ------
    InputError
        As in ``export_rows``.
    """
    writable_target(workspace, target, tuple(FORMATS))  # before anything slow is done
    rows = {**DETAILED, **SUMMARIES}[table](workspace)
    if not places:
        rows = rows.drop(columns=list(PLACE_COLUMNS), errors="ignore")
    export_rows(workspace, rows, target, name=table, is_summary=table in SUMMARIES)
    return len(rows)
