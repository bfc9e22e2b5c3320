"""How commands speak: results to standard output, everything else to standard error."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

__all__ = ["AsJson", "Folder", "Quiet", "Voice"]

Folder = Annotated[Path, typer.Argument(metavar="WORKSPACE", help="Your workspace folder.", show_default="this folder")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print only what is wrong.")]


@dataclass(frozen=True)
class Voice:
    """
    Prints for one run of a command.

    Parameters
    ----------
    as_json : bool
        One JSON document on standard output and nothing else there.
    quiet : bool
        Nothing but what is wrong.
    """

    as_json: bool = False
    quiet: bool = False

    @property
    def _out(self) -> Console:
        # A table that goes into a file or a pipe is as wide as it needs to be.
        width = None if sys.stdout.isatty() else 1000
        return Console(file=sys.stdout, width=width, highlight=False, emoji=False)

    def say(self, text: str = "") -> None:
        """Print a line for a person."""
        if not self.as_json and not self.quiet:
            self._out.print(text, markup=False, soft_wrap=True)

    def table(self, headings: Sequence[str], rows: Sequence[Sequence[str]], *, left: int = 1) -> None:
        """Print rows under headings; the first ``left`` columns are words, the others figures."""
        if self.as_json or self.quiet:
            return
        table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
        for number, heading in enumerate(headings):
            table.add_column(heading, justify="left" if number < left else "right", overflow="fold")
        for row in rows:
            table.add_row(*(_literal(cell) for cell in row))
        self._out.print(table)

    def document(self, values: Mapping[str, Any]) -> None:
        """Print the JSON document, where that was asked for."""
        if self.as_json:
            sys.stdout.write(json.dumps(_plain(values), ensure_ascii=False, indent=2, allow_nan=False) + "\n")

    def warn(self, text: str) -> None:
        """Print what is wrong but stops nothing, on standard error."""
        Console(file=sys.stderr, highlight=False, emoji=False).print(text, markup=False, soft_wrap=True)

    @contextmanager
    def progress(self, doing: str) -> Iterator[Callable[[int, int], None]]:
        """
        Yield a function that is told (done, of how many) and draws a bar with rate and time left.

        The bar goes to standard error and only to a terminal.
        """
        shown = sys.stderr.isatty() and not self.quiet
        columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
        rate = TextColumn("{task.fields[rate]}")
        with Progress(*columns, rate, TimeRemainingColumn(), console=Console(stderr=True), disable=not shown) as bar:
            task = bar.add_task(doing, total=None, rate="")

            def told(done: int, total: int) -> None:
                speed = bar.tasks[0].speed
                bar.update(task, completed=done, total=total, rate=f"{speed:,.0f}/s" if speed else "")

            yield told


def _literal(cell: str) -> str:
    """Keep square brackets in file names and ids from being read as markup."""
    return cell.replace("[", r"\[")


def _plain(value: object) -> object:
    """Return a value that JSON can hold; a number that is not known is null."""
    if isinstance(value, Mapping):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(inner) for inner in value]
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    return None if str(value) in {"NaT", "<NA>"} else str(value)
