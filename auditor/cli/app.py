"""The command's root: registers each command and turns errors into one message and an exit status."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from auditor import __version__
from auditor.errors import SteadykeepError

__all__ = ["COMMANDS", "build_app", "main"]

COMMANDS = (
    "demo", "init", "index", "audit", "measure", "questions", "answer", "trips", "ledger", "plan", "calibrate", "card",
    "kit", "log", "sidecar", "export", "season", "dashboard",
)  # fmt: skip
"""Modules of this package, one a command, in the order that help shows them."""

_INTERRUPTED = 130


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"steadykeep {__version__}")
        raise typer.Exit


def build_app(commands: Sequence[str] = COMMANDS) -> typer.Typer:
    """Return the command with some of its sub-commands registered, or all."""
    app = typer.Typer(
        name="steadykeep",
        help="Which manual lens made each frame, whether the stabiliser was told its focal length, and what that cost.",
        epilog="Begin with: steadykeep demo",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
    )

    @app.callback()
    def root(
        version: Annotated[
            bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
        ] = False,
    ) -> None:
        """Which manual lens made each frame, and whether the stabiliser was told its focal length."""

    for name in commands:
        importlib.import_module(f"auditor.cli.{name}").register(app)
    return app


def _named(arguments: Sequence[str]) -> Sequence[str]:
    """Load only the command that is meant: the libraries of all of them together take seconds."""
    return [arguments[0]] if arguments and arguments[0] in COMMANDS else COMMANDS


def main(arguments: Sequence[str] | None = None) -> int:
    """
    Run one command.

    Returns
    -------
    int
        0 done, 1 the user's input is wrong, 2 usage, 130 interrupted.
    """
    status = 0
    given = list(sys.argv[1:] if arguments is None else arguments)
    try:
        build_app(_named(given))(args=given, prog_name="steadykeep")
    except SteadykeepError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    except KeyboardInterrupt:
        status = _INTERRUPTED
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else 0
    if status == _INTERRUPTED:
        sys.stderr.write("interrupted; what was finished is kept\n")
    return status
