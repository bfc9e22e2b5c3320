"""Fit the photographer's hand, plan and read setting tests, and write what was found when told to."""

from __future__ import annotations

import datetime as dt
import io
import math
from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Literal

import pandas as pd

from auditor.audit.calibration import hand_prior, hand_trials, hand_words
from auditor.audit.calibration_budget import add_blur_budget
from auditor.audit.calibration_series import (
    SettingPlan,
    SettingResult,
    plan_series,
    plan_table,
    read_series,
)
from auditor.audit.evidence import add_evidence
from auditor.audit.pairing import possible_pairings
from auditor.audit.right_setting import add_right_setting
from auditor.corrections.card_sheet import sheet
from auditor.corrections.tables import write_table
from auditor.errors import InputError, KitError, SettingsError
from auditor.model.cards import shutter_words
from auditor.model.kit_edit import with_kit_entry
from auditor.model.pairings import Pairing, pairing_of
from auditor.model.settings import parse_settings
from auditor.model.tables import KEY
from auditor.model.toml_edit import Value, with_table_values
from auditor.model.workspace import KIT_FILE, SETTINGS_FILE, Workspace
from auditor.pipeline.auditing import joined_table, to_frame
from auditor.pipeline.user_files import change_text
from auditor.shake.estimates import HandFit
from auditor.shake.fitting import fit_hand
from auditor.shake.setting_test import PlannedFrame
from auditor.storage.atomic import write_bytes, write_text
from auditor.storage.datasets import read_table

__all__ = [
    "HandReport",
    "blur_budgets",
    "calibrate_hand",
    "pairing_to_test",
    "plan_setting",
    "read_setting",
    "write_hand",
    "write_plan",
    "write_setting",
]

TEST_CAUTION = "Judge near the centre only. Brace nothing, breathe as on a job; focus once and leave it."

_BLANK = '<span class="blank"></span>'


@dataclass(frozen=True)
class HandReport:
    """
    A fitted hand with what was used, what was left out, and what it says in words.

    Attributes
    ----------
    body : str
        Body, id in the kit.
    fit : HandFit
    left_out : dict
        Reason → frames.
    words : tuple of str
    """

    body: str
    fit: HandFit
    left_out: dict[str, int]
    words: tuple[str, ...]


def calibrate_hand(workspace: Workspace, body_id: str | None = None) -> HandReport:
    """
    Fit the photographer's hand from the audited, judged frames of one body.

    Parameters
    ----------
    workspace : Workspace
    body_id : str, optional
        The body with the most judged frames where none is named.

    Raises
    ------
    InputError
        Nothing was audited, or the frames that can be used are too few, with what was left out and why.
    """
    frames = _frames(workspace)
    judged = frames.loc[frames["kept"].notna(), "body"].value_counts()
    chosen = workspace.kit.body(body_id).id if body_id else (str(judged.index[0]) if len(judged) else None)
    if chosen is None:
        raise InputError(
            "no frame was ever judged, so there is nothing to fit a hand to",
            ["rate or choose frames as [keep] in settings.toml says, then run: steadykeep index and audit"],
        )
    body = workspace.kit.body(chosen)
    found = hand_trials(frames, workspace.kit, workspace.settings.tolerance, chosen)
    try:
        fit = fit_hand(found.trials, hand_prior(body))
    except ValueError as reason:
        left = [f"left out: {count} frames, {why}" for why, count in found.left_out.items()]
        raise InputError(f'body "{chosen}": {reason}; {found.trials.count} can be used', left) from None
    pairings = tuple(p for p in _pairings(workspace) if p.body.id == chosen and not p.contacts)
    return HandReport(chosen, fit, found.left_out, hand_words(fit, body, pairings))


def _pairings(workspace: Workspace) -> tuple[Pairing, ...]:
    return tuple(possible_pairings(workspace.kit, workspace.log.rows))


def _frames(workspace: Workspace) -> pd.DataFrame:
    """Frames with audit, log and, where it was measured, the kind of blur."""
    known = joined_table(workspace)
    audited = known[["body", "lens", "adapter"]]
    frames = add_evidence(known, workspace.kit, workspace.log.rows, workspace.settings).assign(
        body=audited["body"], lens=audited["lens"], adapter=audited["adapter"]
    )
    frames = add_right_setting(frames, _pairings(workspace))
    measures = to_frame(read_table(workspace.store, "measures", [*KEY, "blur_kind"]))
    if measures.empty:
        return frames
    return frames.merge(measures, on=list(KEY), how="left", validate="one_to_one")


def write_hand(workspace: Workspace, report: HandReport) -> tuple[Path, ...]:
    """
    Write what the frames could tell: [hand] in settings.toml and the body's stops in kit.toml.

    Returns
    -------
    tuple of Path
        Files that were changed; what the data cannot tell is not written.
    """
    fit, changed = report.fit, []
    values: dict[str, Value] = {}
    if fit.shake_mrad.told:
        # The shake at 1/60 s was fitted together with this H: one is not right without the other.
        values = {"shake_mrad": round(fit.shake_mrad.value, 3), "exponent": round(fit.exponent.value, 2)}
    if values:
        path = workspace.folder / SETTINGS_FILE
        change_text(path, lambda text: _sound_settings(with_table_values(text, "hand", values)), SettingsError)
        changed.append(path)
    if fit.stops.told:
        changed.append(_write_entry(workspace, "bodies", report.body, {"stabiliser_stops": round(fit.stops.value, 1)}))
    return tuple(changed)


def _write_entry(workspace: Workspace, table: str, entry: str, values: Mapping[str, Value]) -> Path:
    path = workspace.folder / KIT_FILE
    change_text(path, lambda text: with_kit_entry(text, table, entry, values), KitError)
    return path


def _sound_settings(text: str) -> str:
    parse_settings(text)
    return text


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


def write_plan(plan: SettingPlan, folder: Path, *, paper: Literal["a4", "a5"] = "a4") -> tuple[Path, Path]:
    """Write the plan as a sheet to print and as a table to fill in; return both places."""
    name = plan.name.replace("+", "-").replace("@", "-on-")
    page, table = folder / f"setting-test-{name}.html", folder / f"setting-test-{name}.csv"
    day = dt.datetime.now().astimezone().date()
    write_text(page, sheet(f"Setting test: {plan.name}", _plan_page(plan), paper=paper, caution=TEST_CAUTION, day=day))
    stream = io.BytesIO()
    write_table(plan_table(plan), "csv", stream)
    write_bytes(table, stream.getvalue())
    return page, table


def _plan_row(frame: PlannedFrame) -> str:
    typed = "off" if math.isnan(frame.setting_mm) else f"{frame.setting_mm:g}"
    cells = [str(frame.order), typed, shutter_words(frame.exposure_time_s), _BLANK, _BLANK]
    return "<tr>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>"


def _plan_page(plan: SettingPlan) -> str:
    off = next(frame for frame in plan.frames if math.isnan(frame.setting_mm))
    series, short = shutter_words(plan.exposure_time_s), shutter_words(off.exposure_time_s)
    steps = [
        f"Target with fine detail, such as a page of print, in the centre, {plan.distance_m:g} m from the sensor.",
        f"Shutter {series}, {short} where it says off; aperture one to two stops down; ISO as the light asks.",
        "Stand, hold it in the hand, focus once. Go down the list: type, take one frame, tick. Pause between rounds.",
        "Then rate the frames 0-5 at 100 % without looking at the settings, or measure them, and read them: --read.",
        f"The kit lets expect {plan.predicted_mm:.1f} mm.",
    ]
    rows = "".join(_plan_row(frame) for frame in plan.frames)
    how = "".join(f"<li>{escape(step)}</li>" for step in steps)
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
    if path.suffix.lower() == ".csv":
        try:
            frames = pd.read_csv(path, sep=None, engine="python", encoding="utf-8-sig")
        except (OSError, ValueError) as reason:
            raise InputError(f"{source}: cannot be read as a table", [str(reason)]) from None
        return read_series(plan, frames, workspace.settings)
    return read_series(plan, _measured_frames(workspace, source), workspace.settings)


def _measured_frames(workspace: Workspace, folder: str) -> pd.DataFrame:
    known = joined_table(workspace)
    prefix = folder.strip("/") + "/"
    taken = known[known["path"].str.startswith(prefix)]
    if taken.empty:
        raise InputError(f'no indexed frame lies in the folder "{folder}" of an archive', ["such as 2026/setting-test"])
    measures = to_frame(read_table(workspace.store, "measures", [*KEY, "edge_width_px"]))
    if measures.empty:
        raise InputError("no frame was measured yet", [f"run: steadykeep measure {workspace.folder}"])
    merged = taken.merge(measures, on=list(KEY), how="left", validate="one_to_one")
    off = merged["residual"] == 1.0
    return merged.assign(setting_mm=merged["setting_mm"].mask(off))


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
        return _write_entry(workspace, "bodies", pairing.body.id, {"stabiliser_gain": round(result.gain, 4)})
    if pairing.lens.is_zoom or pairing.extension_mm[1] > 0:
        raise InputError("nothing was written: a measured table belongs to a lens of one focal length without tubes")
    rows = {float(d): float(v) for d, v in pairing.lens.breathing}
    rows[result.plan.distance_m] = round(result.lens_setting_mm, 1)
    return _write_entry(workspace, "lenses", pairing.lens.id, {"breathing": [[d, rows[d]] for d in sorted(rows)]})


def blur_budgets(workspace: Workspace) -> pd.DataFrame:
    """
    Return what limited each audited frame.

    Returns
    -------
    DataFrame
        ``archive``, ``path``, ``limiting_cause`` and the ends of MTF50, as in
        `auditor.audit.calibration_budget.add_blur_budget`.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet.
    """
    found = add_blur_budget(_frames(workspace), workspace.kit)
    ends = [name for name in found if str(name).startswith("mtf50_")]
    return found[[*KEY, "limiting_cause", *ends]]
