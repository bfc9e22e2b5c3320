"""
The error tree. The library raises these; the command line turns each into one message.

::

    SteadykeepError
    ├── InputError          the user's input is wrong: exit status 1
    │   ├── KitError        kit.toml
    │   ├── LogError        log.csv
    │   ├── AnswersError    answers.csv
    │   ├── SettingsError   settings.toml
    │   ├── WorkspaceError  a workspace or archive folder that is not what it should be
    │   └── MissingExtra    an optional library is not installed
    └── StoreError          the store cannot be read, written or locked
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable

__all__ = [
    "AnswersError",
    "InputError",
    "KitError",
    "LogError",
    "MissingExtra",
    "SettingsError",
    "SteadykeepError",
    "StoreError",
    "WorkspaceError",
    "nearest",
]


class SteadykeepError(Exception):
    """Anything the program itself refuses; its text is fit to be shown to the user."""


class InputError(SteadykeepError):
    """
    The user's input is wrong. Holds every problem at once.

    Parameters
    ----------
    headline : str
        What was wrong and what was not done, one line.
    problems : iterable of str
        Each with the place, the value and an example of what is right.
    """

    def __init__(self, headline: str, problems: Iterable[str] = ()) -> None:
        self.headline = headline
        self.problems = tuple(problems)
        super().__init__("\n".join([headline, *(f"  {problem}" for problem in self.problems)]))


class KitError(InputError):
    """kit.toml was refused; nothing is computed from it."""


class LogError(InputError):
    """log.csv cannot be read at all (a single bad row is reported, not raised)."""


class AnswersError(InputError):
    """answers.csv cannot be read at all, or an answer does not fit the kit or the frames."""


class SettingsError(InputError):
    """settings.toml was refused."""


class WorkspaceError(InputError):
    """A folder is not a workspace, or an archive is not where settings.toml says."""


class MissingExtra(InputError):
    """An optional library is needed and not installed."""


class StoreError(SteadykeepError):
    """The store cannot be read, written or locked."""


def nearest(word: str, known: Iterable[str]) -> str:
    """
    Return ``' (did you mean "…"?)'`` for the known name nearest to a word, or an empty string.

    Examples
    --------
    >>> nearest("m42-reducr", ["m42-reducer", "md-plain"])
    ' (did you mean "m42-reducer"?)'
    >>> nearest("zzz", ["m42-reducer"])
    ''
    """
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f' (did you mean "{close[0]}"?)' if close else ""
