"""The photographer's hand, fitted once a desk in the background: figures, shares, and what would be written."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from auditor.audit.calibration_curves import SHARE_COLUMNS, keep_shares
from auditor.errors import SteadykeepError
from auditor.model.settings import Hand
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.calibrating import HandReport, calibrate_hand, told_by
from auditor.shake.estimates import Estimate
from dashboards.apart import apart
from dashboards.desk import Desk
from dashboards.weighed import worked_out

__all__ = [
    "FIGURE_COLUMNS",
    "FittedHand",
    "doubt_of_stops",
    "figures_csv",
    "fitted_hand",
    "hand_figures",
    "is_judgement",
    "shares_csv",
    "written_in_words",
]

FIGURE_COLUMNS = ("figure", "unit", "in_files", "fitted", "low", "high", "told")
"""Of ``hand_figures``: what the files say now, what was fitted, the ends of its 90 % interval, and whether the frames
told it or it is mainly what was believed before."""


@dataclass(frozen=True)
class FittedHand:
    """
    A fitted hand with what the page shows of it.

    Parameters
    ----------
    report : HandReport
    figures, shares : pandas.DataFrame
        Columns ``FIGURE_COLUMNS`` and ``SHARE_COLUMNS``.
    bursts : int
        Bursts among the frames used; a frame on its own is one.
    stamp : str
        Changes with what would be written and with what stands there now.
    """

    report: HandReport
    figures: pd.DataFrame
    shares: pd.DataFrame
    bursts: int
    stamp: str


def fitted_hand(desk: Desk, body: str = "", patience_s: float | None = None) -> FittedHand:
    """
    Fit the hand to the desk's frames.

    Parameters
    ----------
    desk : Desk
    body : str
        Kit id; empty for the body with most judged frames.
    patience_s : float, optional
        How long to wait; none for as long as it takes. [s]

    Raises
    ------
    Waiting
        It is not fitted yet; ask again.
    SteadykeepError
        It cannot be, with the reason.
    """

    def make(opened: Workspace) -> FittedHand:
        return apart(_fitted, opened.folder, body, frames=len(desk))

    return worked_out(desk, f"hand {body}", make, patience_s)


def _fitted(folder: Path, body: str) -> FittedHand:
    workspace = open_workspace(folder)
    report = calibrate_hand(workspace, body or None)
    trials = report.trials
    shares = keep_shares(trials, report.fit) if trials else pd.DataFrame(columns=list(SHARE_COLUMNS))
    bursts = len(set(trials.burst.tolist())) if trials else 0
    return FittedHand(report, hand_figures(workspace, report), shares, bursts, _stamp(workspace, report))


def _stamp(workspace: Workspace, report: HandReport) -> str:
    now = (workspace.settings.hand, workspace.kit.body(report.body).stabiliser_stops)
    return hashlib.sha256(repr((report.body, told_by(report), now)).encode()).hexdigest()[:16]


def hand_figures(workspace: Workspace, report: HandReport) -> pd.DataFrame:
    """Return the fitted figures beside those in settings.toml and kit.toml, columns ``FIGURE_COLUMNS``."""
    fit, hand = report.fit, workspace.settings.hand
    stops = workspace.kit.body(report.body).stabiliser_stops
    left = hand.shake_mrad * 2.0 ** (-hand.exponent * stops) if stops is not None else None
    rows: list[tuple[str, str, float | None, Estimate]] = [
        ("Shake at 1/60 s, per axis", "mrad", hand.shake_mrad, fit.shake_mrad),
        ("How it grows with time, H", "", hand.exponent, fit.exponent),
        ("Spread from frame to frame", "stops", hand.spread_stops, fit.spread_stops),
    ]
    if fit.stabilised:
        rows.append(("The stabiliser's stops, set right", "stops", stops, fit.stops))
        rows.append(("Shake left at 1/60 s with it on", "mrad", left, fit.stabilised_mrad))
    rows.append(("Sharp frames that are kept", "share", None, fit.other_keep))
    table = [
        (name, unit, float("nan") if now is None else now, one.value, one.low, one.high, one.told)
        for name, unit, now, one in rows
    ]
    return pd.DataFrame(table, columns=list(FIGURE_COLUMNS))


def is_judgement(hand: Hand) -> bool:
    """Whether [hand] still holds the figures that a new workspace begins with."""
    return hand == Hand()


def written_in_words(report: HandReport) -> str:
    """
    Say what a press would write, empty where the frames told nothing.

    Examples
    --------
    >>> from types import SimpleNamespace as Fit
    >>> from auditor.shake.estimates import Estimate
    >>> told, not_told = Estimate(0.2134, 0.2, 0.23, True), Estimate(4.2, 3.0, 6.0, False)
    >>> fit = Fit(shake_mrad=told, exponent=Estimate(0.777, 0.7, 0.8, True), stops=not_told)
    >>> written_in_words(HandReport("one", fit, {}, ()))
    'shake_mrad = 0.213 and exponent = 0.78 under [hand] in settings.toml'
    """
    hand, stops = told_by(report)
    parts = [" and ".join(f"{key} = {value:g}" for key, value in hand.items()) + " under [hand] in settings.toml"]
    parts = parts if hand else []
    parts += [f'stabiliser_stops = {value:g} of "{report.body}" in kit.toml' for value in stops.values()]
    return ", and ".join(parts)


def doubt_of_stops(workspace: Workspace, report: HandReport) -> str:
    """Say what writing one's own hand does where the stops were not told, empty where they were or are none."""
    hand, told = told_by(report)
    stops = workspace.kit.body(report.body).stabiliser_stops
    if told or not hand or not stops:
        return ""
    return (
        f"The stops were not told and stay at {stops:g}. A card made with your own hand takes them as they are: if "
        "that is the maker's figure, it will be hopeful by about a stop."
    )


def figures_csv(desk: Desk, rest: Mapping[str, str]) -> pd.DataFrame:
    """Return the figures of an address to take away; headings alone where there is no fit."""
    try:
        return fitted_hand(desk, rest.get("on", "")).figures
    except SteadykeepError:
        return pd.DataFrame(columns=list(FIGURE_COLUMNS))


def shares_csv(desk: Desk, rest: Mapping[str, str]) -> pd.DataFrame:
    """Return the kept shares of an address to take away; headings alone where there is no fit."""
    try:
        return fitted_hand(desk, rest.get("on", "")).shares
    except SteadykeepError:
        return pd.DataFrame(columns=list(SHARE_COLUMNS))
