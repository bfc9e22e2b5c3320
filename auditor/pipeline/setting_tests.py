"""Plan a setting test, read its frames, and write its answer when told to."""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
from html import escape
from pathlib import Path
from typing import Literal

import pandas as pd

from auditor.audit.calibration_series import SettingPlan, SettingResult, plan_series, plan_table, read_series
from auditor.corrections.card_sheet import sheet
from auditor.corrections.tables import write_table
from auditor.errors import InputError, KitError
from auditor.model.cards import shutter_words
from auditor.model.pairings import Pairing, pairing_of
from auditor.model.tables import KEY
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import joined_table, to_frame
from auditor.pipeline.kit_editing import write_kit_values
from auditor.shake.setting_test import PlannedFrame
from auditor.storage.atomic import write_bytes, write_text
from auditor.storage.datasets import read_table

__all__ = [
    "TEST_CAUTION",
    "pairing_to_test",
    "plan_csv",
    "plan_setting",
    "plan_sheet",
    "plan_steps",
    "read_setting",
    "read_setting_between",
    "read_setting_folder",
    "read_setting_text",
    "write_plan",
    "write_setting",
]

TEST_CAUTION = "Judge near the centre only. Brace nothing, breathe as on a job; focus once and leave it."

_LEAST_RATED = 9
_BLANK = '<span class="blank"></span>'


def pairing_to_test(workspace: Workspace, lens: str, adapter: str = "", body: str = "") -> Pairing:
    """
    Return the pairing that a test is of; the only body that it fits need not be named.

    Raises
    ------
    KitError
        An id is not in the kit, or the mounts do not meet.
    InputError
        It fits several bodies and none was named.
    """
    if body:
        return pairing_of(workspace.kit, body, lens, adapter)
    workspace.kit.lens(lens)
    fitting, refused = [], None
    for each in workspace.kit.bodies:
        try:
            fitting.append(pairing_of(workspace.kit, each.id, lens, adapter))
        except KitError as reason:
            refused = reason
    if len(fitting) == 1:
        return fitting[0]
    if not fitting:
        raise refused or KitError("the kit has no body")
    raise InputError(
        f'"{lens}" fits several bodies', [f"name one: --body {' or --body '.join(p.body.id for p in fitting)}"]
    )


def plan_setting(
    workspace: Workspace, pairing: Pairing, distance_m: float, *, series: tuple[int, int] = (11, 6), seed: int = 1
) -> SettingPlan:
    """
    Plan a setting test.

    Raises
    ------
    InputError
        There is nothing to test, or the kit does not say enough.
    """
    return plan_series(pairing, distance_m, workspace.settings, series=series, seed=seed)


def plan_steps(plan: SettingPlan) -> tuple[str, ...]:
    """Return what to do, a sentence a step, as it stands on the printed sheet."""
    off = next(frame for frame in plan.frames if math.isnan(frame.setting_mm))
    series, short = shutter_words(plan.exposure_time_s), shutter_words(off.exposure_time_s)
    return (
        f"Target with fine detail, such as a page of print, in the centre, {plan.distance_m:g} m from the sensor.",
        f"Shutter {series}, {short} where it says off; aperture one to two stops down; ISO as the light asks.",
        "Stand, hold it in the hand, focus once. Go down the list: type, take one frame, tick. Pause between rounds.",
        "Rate the frames 0-5 at 100 % without looking at the settings, or measure them; then read them (--read).",
        f"The kit lets expect {plan.predicted_mm:.1f} mm.",
    )


def plan_sheet(plan: SettingPlan, *, paper: Literal["a4", "a5"] = "a4") -> str:
    """Return the plan as an HTML document to print and to fill in."""
    day = dt.datetime.now().astimezone().date()
    return sheet(f"Setting test: {plan.name}", _plan_page(plan), paper=paper, caution=TEST_CAUTION, day=day)


def plan_csv(plan: SettingPlan) -> bytes:
    """Return the plan as a CSV to fill in."""
    stream = io.BytesIO()
    write_table(plan_table(plan), "csv", stream)
    return stream.getvalue()


def write_plan(plan: SettingPlan, folder: Path, *, paper: Literal["a4", "a5"] = "a4") -> tuple[Path, Path]:
    """Write the plan as a sheet to print and as a table to fill in; return both places."""
    name = plan.name.replace("+", "-").replace("@", "-on-")
    page, table = folder / f"setting-test-{name}.html", folder / f"setting-test-{name}.csv"
    write_text(page, plan_sheet(plan, paper=paper))
    write_bytes(table, plan_csv(plan))
    return page, table


def _plan_row(frame: PlannedFrame) -> str:
    typed = "off" if math.isnan(frame.setting_mm) else f"{frame.setting_mm:g}"
    cells = [str(frame.order), typed, shutter_words(frame.exposure_time_s), _BLANK, _BLANK]
    return "<tr>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>"


def _plan_page(plan: SettingPlan) -> str:
    rows = "".join(_plan_row(frame) for frame in plan.frames)
    how = "".join(f"<li>{escape(step)}</li>" for step in plan_steps(plan))
    head = "<tr><th>frame</th><th>type, mm</th><th>shutter</th><th>taken</th><th>rating</th></tr>"
    return (
        f'<ol class="how">{how}</ol>\n<div class="plan"><table><thead>{head}</thead><tbody>{rows}</tbody></table></div>'
    )


def read_setting(workspace: Workspace, plan: SettingPlan, source: str) -> SettingResult:
    """
    Read a test from a filled-in table, or from measured frames of the archive.

    Parameters
    ----------
    workspace : Workspace
    plan : SettingPlan
    source : str
        A CSV file; or the folder inside an archive that holds the frames, which were indexed, audited and measured.

    Raises
    ------
    InputError
        There is nothing to read.
    """
    path = Path(source)
    if path.suffix.lower() != ".csv":
        return read_setting_folder(workspace, plan, source)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as reason:
        raise InputError(f"{source}: cannot be read as a table", [str(reason)]) from None
    return read_setting_text(workspace, plan, text, source)


def read_setting_text(
    workspace: Workspace, plan: SettingPlan, text: str, source: str = "the filled-in table"
) -> SettingResult:
    """
    Read a test from the text of a filled-in table; commas, semicolons or tabs may part its columns.

    Raises
    ------
    InputError
        It is no table, or does not hold enough.
    """
    try:
        frames = pd.read_csv(io.StringIO(text), sep=None, engine="python", dtype="str")
    except (ValueError, csv.Error) as reason:
        raise InputError(f"{source}: cannot be read as a table", [str(reason)]) from None
    frames.columns = frames.columns.map(lambda name: str(name).strip())
    return read_series(plan, frames.apply(_numbers), workspace.settings)


def _numbers(column: pd.Series[str]) -> pd.Series[float]:
    """Return a column as numbers, with a decimal comma too; what is none, such as "off", is empty."""
    return pd.to_numeric(column.str.strip().str.replace(",", ".", regex=False), errors="coerce")


def read_setting_folder(workspace: Workspace, plan: SettingPlan, folder: str) -> SettingResult:
    """
    Read a test from the frames in a folder of an archive, as measured, else as rated.

    Raises
    ------
    InputError
        No indexed frame lies there, or they do not tell enough.
    """
    known = joined_table(workspace)
    taken = known[known["path"].str.startswith(folder.strip("/") + "/")]
    if taken.empty:
        raise InputError(f'no indexed frame lies in the folder "{folder}" of an archive', ["such as 2026/setting-test"])
    return _read_frames(workspace, plan, taken)


def read_setting_between(
    workspace: Workspace, plan: SettingPlan, first: dt.datetime, last: dt.datetime
) -> SettingResult:
    """
    Read a test from one body's frames between two times by its clock, both included, as measured, else as rated.

    Raises
    ------
    InputError
        No indexed frame was made then, or they do not tell enough.
    """
    known = joined_table(workspace)
    taken = known[known["captured_at"].between(first, last) & (known["body"] == plan.pairing.body.id).fillna(False)]
    if taken.empty:
        raise InputError(f'no frame of "{plan.pairing.body.id}" was made from {first} to {last}')
    return _read_frames(workspace, plan, taken)


def _read_frames(workspace: Workspace, plan: SettingPlan, taken: pd.DataFrame) -> SettingResult:
    measures = to_frame(read_table(workspace.store, "measures", [*KEY, "edge_width_px"]))
    if not measures.empty:
        taken = taken.merge(measures, on=list(KEY), how="left", validate="one_to_one")
    elif taken["rating"].notna().sum() < _LEAST_RATED:
        raise InputError(
            "no frame was measured yet, and too few of these are rated", [f"run: steadykeep measure {workspace.folder}"]
        )
    off = (taken["residual"] == 1.0).fillna(False)
    return read_series(plan, taken.assign(setting_mm=taken["setting_mm"].mask(off)), workspace.settings)


def write_setting(workspace: Workspace, result: SettingResult, what: Literal["lens", "body"]) -> Path:
    """
    Write a test's answer into kit.toml: a row of the lens's measured table, or the body's gain.

    Raises
    ------
    InputError
        The test did not tell, or a zoom was tested.
    """
    pairing, reading = result.plan.pairing, result.reading
    if not reading.told:
        raise InputError("nothing was written: the test does not tell", [reading.reason])
    if what == "body":
        return write_kit_values(workspace, "bodies", pairing.body.id, {"stabiliser_gain": round(result.gain, 4)})
    if pairing.lens.is_zoom or pairing.extension_mm[1] > 0:
        raise InputError("nothing was written: a measured table belongs to a lens of one focal length without tubes")
    rows = {float(d): float(v) for d, v in pairing.lens.breathing}
    rows[result.plan.distance_m] = round(result.lens_setting_mm, 1)
    return write_kit_values(workspace, "lenses", pairing.lens.id, {"breathing": [[d, rows[d]] for d in sorted(rows)]})
