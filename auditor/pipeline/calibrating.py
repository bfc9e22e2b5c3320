"""Fit the photographer's hand, and write what was found when told to."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from auditor.audit.calibration import hand_doubts, hand_prior, hand_trials, hand_words
from auditor.audit.calibration_budget import add_blur_budget
from auditor.audit.evidence import add_evidence
from auditor.audit.pairing import possible_pairings
from auditor.audit.right_setting import add_right_setting
from auditor.errors import InputError, SettingsError
from auditor.model.pairings import Pairing
from auditor.model.settings import parse_settings
from auditor.model.tables import KEY
from auditor.model.toml_edit import with_table_values
from auditor.model.workspace import SETTINGS_FILE, Workspace
from auditor.pipeline.auditing import joined_table, to_frame
from auditor.pipeline.kit_editing import write_kit_values
from auditor.pipeline.user_files import change_text
from auditor.shake.estimates import HandFit
from auditor.shake.fitting import fit_hand
from auditor.shake.trials import Trials
from auditor.storage.datasets import read_table
from auditor.wording import counted

__all__ = [
    "HandReport",
    "blur_budgets",
    "calibrate_hand",
    "told_by",
    "write_hand",
]


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
    doubts : tuple of str
        Of the words, what the frames cannot tell, and what would.
    trials : Trials, optional
        The frames that were used.
    """

    body: str
    fit: HandFit
    left_out: dict[str, int]
    words: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    trials: Trials | None = field(default=None, repr=False, compare=False)


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
        left = [f"left out: {counted(count, 'frame')}, {why}" for why, count in found.left_out.items()]
        raise InputError(f'body "{chosen}": {reason}; {found.trials.count} can be used', left) from None
    pairings = tuple(p for p in _pairings(workspace) if p.body.id == chosen and not p.contacts)
    words, doubts = hand_words(fit, body, pairings), hand_doubts(fit, pairings)
    return HandReport(chosen, fit, found.left_out, words, doubts, found.trials)


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


def told_by(report: HandReport) -> tuple[dict[str, float], dict[str, float]]:
    """Return what the frames could tell, rounded as it is written: values of [hand], and of the body in kit.toml."""
    fit, hand = report.fit, {}
    if fit.shake_mrad.told:
        # The shake at 1/60 s was fitted together with this H: one is not right without the other.
        hand = {"shake_mrad": round(fit.shake_mrad.value, 3), "exponent": round(fit.exponent.value, 2)}
    return hand, {"stabiliser_stops": round(fit.stops.value, 1)} if fit.stops.told else {}


def write_hand(workspace: Workspace, report: HandReport) -> tuple[Path, ...]:
    """
    Write what the frames could tell: [hand] in settings.toml and the body's stops in kit.toml.

    Returns
    -------
    tuple of Path
        Files that were changed; what the data cannot tell is not written.
    """
    (hand, stops), changed = told_by(report), []
    if hand:
        path = workspace.folder / SETTINGS_FILE
        change_text(path, lambda text: _sound_settings(with_table_values(text, "hand", hand)), SettingsError)
        changed.append(path)
    if stops:
        changed.append(write_kit_values(workspace, "bodies", report.body, stops))
    return tuple(changed)


def _sound_settings(text: str) -> str:
    parse_settings(text)
    return text


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
