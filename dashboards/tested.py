"""A setting test: planned from the address, read from frames of the archive or from a filled-in table."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from auditor.audit.calibration_curves import SERIES_COLUMNS, series_curve, series_table
from auditor.audit.calibration_series import SettingPlan, SettingResult, result_words
from auditor.audit.pairing import possible_pairings
from auditor.errors import InputError, SteadykeepError
from auditor.model.pairings import pairing_of
from auditor.model.workspace import Workspace
from auditor.pipeline.setting_tests import (
    plan_setting,
    read_setting_between,
    read_setting_folder,
    read_setting_text,
)
from dashboards.desk import Desk
from dashboards.weighed import worked_out

__all__ = ["DEFAULTS", "Reading", "Source", "pairings_to_test", "plan_from", "read_test", "series_csv"]

DEFAULTS: Mapping[str, str] = {"distance": "3", "settings": "11", "frames": "6"}
"""What the form begins with: the target's distance [m], different settings, frames at each."""

MOST_TEXT = 200_000
"""Characters of a pasted table; a test has a few hundred rows. [characters]"""

_LIMITS = {"distance": (0.05, 10_000.0), "settings": (3, 25), "frames": (2, 20)}


def pairings_to_test(desk: Desk, workspace: Workspace) -> list[dict[str, str]]:
    """Return the pairings for which something is typed, as ``value`` and ``label`` by name."""
    found = [
        {
            "value": f"{pairing.body.id}/{pairing.lens.id}/{pairing.adapter_id}",
            "label": " ".join(
                part
                for part in (
                    pairing.lens.name,
                    f"+ {desk.name('adapter', pairing.adapter_id)}" if pairing.adapter_id else "",
                    f"on {pairing.body.name}",
                )
                if part
            ),
        }
        for pairing in possible_pairings(workspace.kit, workspace.log.rows)
        if not pairing.contacts and pairing.body.stabiliser_stops != 0
    ]
    return sorted(found, key=lambda choice: choice["label"])


def plan_from(workspace: Workspace, rest: Mapping[str, str]) -> SettingPlan:
    """
    Plan the test that an address names.

    Parameters
    ----------
    workspace : Workspace
    rest : mapping
        ``pairing`` as ``body/lens/adapter``, ``distance`` [m], ``settings``, ``frames``.

    Raises
    ------
    InputError
        Something of it is wrong, or there is nothing to test.
    """
    body, lens, adapter = [*rest.get("pairing", "").split("/"), "", ""][:3]
    pairing = pairing_of(workspace.kit, body, lens, adapter)
    numbers = {key: _number(key, rest.get(key) or DEFAULTS[key]) for key in DEFAULTS}
    wrong = [told for told in numbers.values() if isinstance(told, str)]
    if wrong:
        raise InputError("no test was planned", wrong)
    distance, settings, frames = (float(numbers[key]) for key in ("distance", "settings", "frames"))
    return plan_setting(workspace, pairing, distance, series=(int(settings), int(frames)))


def _number(key: str, text: str) -> float | str:
    low, high = _LIMITS[key]
    words = {"distance": "the distance", "settings": "the number of settings", "frames": "the frames at each"}[key]
    try:
        value = float(text.replace(",", ".", 1))
    except ValueError:
        return f'{words}: "{text[:40]}" is not a number'
    return value if low <= value <= high else f"{words} should be from {low:g} to {high:g}"


@dataclass(frozen=True)
class Source:
    """
    Where the frames of a test are; the first that is given counts.

    Parameters
    ----------
    text : str
        A filled-in table.
    folder : str
        Inside an archive.
    first, until : str
        Two times by the camera's clock.
    """

    text: str = ""
    folder: str = ""
    first: str = ""
    until: str = ""

    @property
    def extra(self) -> dict[str, str]:
        """What an address says of it, empty for a table. There ``until`` is a filter's word, so it is ``last``."""
        if self.text.strip():
            return {}
        named = {"folder": self.folder.strip(), "first": self.first.strip(), "last": self.until.strip()}
        return {key: value for key, value in named.items() if value}


@dataclass(frozen=True)
class Reading:
    """
    A test that was read.

    Parameters
    ----------
    result : SettingResult
    words : tuple of str
    table, curve : pandas.DataFrame
        Setting by setting (``SERIES_COLUMNS``), and the fitted curve between the settings tried.
    stamp : str
        Changes with the answer and with what stands in kit.toml.
    """

    result: SettingResult
    words: tuple[str, ...]
    table: pd.DataFrame
    curve: pd.DataFrame
    stamp: str


def read_test(desk: Desk, rest: Mapping[str, str], source: Source) -> Reading:
    """
    Read a test.

    Parameters
    ----------
    desk : Desk
    rest : mapping
        As in ``plan_from``.
    source : Source

    Raises
    ------
    SteadykeepError
        There is nothing to read, with the reason.
    """
    if len(source.text) > MOST_TEXT:
        raise InputError(f"the table is longer than {MOST_TEXT:,} characters; paste the test's rows alone")
    named = " ".join(f"{key}={rest.get(key, '')}" for key in ("pairing", *DEFAULTS))
    key = hashlib.sha256(f"{named} {source!r}".encode("utf-8", "replace")).hexdigest()
    return worked_out(desk, f"test {key}", lambda workspace: _read(workspace, rest, source), None)


def _read(workspace: Workspace, rest: Mapping[str, str], source: Source) -> Reading:
    plan = plan_from(workspace, rest)
    if source.text.strip():
        result = read_setting_text(workspace, plan, source.text)
    elif source.folder.strip():
        result = read_setting_folder(workspace, plan, source.folder.strip())
    elif source.first.strip() and source.until.strip():
        result = read_setting_between(workspace, plan, *_span(source))
    else:
        raise InputError("which frames? name a folder, or two times, or paste the filled-in table")
    tried = result.frames["setting_mm"]
    between = np.linspace(float(tried.min()), float(tried.max()), 121)
    curve = pd.DataFrame({"setting_mm": between, "fitted": series_curve(result, between)})
    return Reading(result, result_words(result), series_table(result), curve, _stamp(result))


def _span(source: Source) -> tuple[dt.datetime, dt.datetime]:
    try:
        first, last = (dt.datetime.fromisoformat(text.strip()) for text in (source.first, source.until))
    except ValueError:
        raise InputError("from and until should be dates with a time, such as 2026-05-02 14:20") from None
    if last.replace(tzinfo=None) < first.replace(tzinfo=None):
        raise InputError("until is before from")
    return first.replace(tzinfo=None), last.replace(tzinfo=None)


def _stamp(result: SettingResult) -> str:
    pairing, reading = result.plan.pairing, result.reading
    now = (pairing.lens.breathing, pairing.body.stabiliser_gain, result.plan.distance_m)
    found = (reading.best_mm, reading.low_mm, reading.high_mm, result.gain, result.lens_setting_mm)
    return hashlib.sha256(repr((now, found)).encode()).hexdigest()[:16]


def series_csv(desk: Desk, rest: Mapping[str, str]) -> pd.DataFrame:
    """Return a test's reading to take away; headings alone where it cannot be read."""
    source = Source(folder=rest.get("folder", ""), first=rest.get("first", ""), until=rest.get("last", ""))
    try:
        return read_test(desk, rest, source).table
    except SteadykeepError:
        return pd.DataFrame(columns=list(SERIES_COLUMNS))
