"""The command line: parse, call one function, print."""

from auditor.cli.app import main

__all__ = ["main"]
