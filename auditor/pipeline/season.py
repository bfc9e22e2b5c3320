"""Count a year and write its report."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from auditor.audit.ledger import keep_rates
from auditor.audit.plan_words import CAUTION, reasons
from auditor.audit.sharp_frames import SHARP_COLUMNS
from auditor.corrections.pdf import print_to_pdf
from auditor.corrections.season_report import Season, season_html
from auditor.errors import InputError
from auditor.model.kit import Kit, Lens
from auditor.model.workspace import Workspace
from auditor.pipeline.exporting import frames_with_measures, writable_target
from auditor.pipeline.planning import plan_of
from auditor.storage.atomic import write_bytes

__all__ = ["season_of", "write_season"]

_WRONG = ("too-short", "too-long")
_YEAR_DAYS = 365.25


def season_of(frames: pd.DataFrame, kit: Kit, year: int | None = None) -> Season:
    """
    Count a year's frames.

    Parameters
    ----------
    frames : DataFrame
        The joined table, with the measures where there are any.
    kit : Kit
    year : int, optional
        By the camera's time; the latest with a frame where it is left out.

    Raises
    ------
    InputError
        No frame was taken in that year.
    """
    years = frames["captured_at"].dt.year
    known = sorted(int(value) for value in years.dropna().unique())
    wanted = year if year is not None else (known[-1] if known else 0)
    if wanted not in known:
        others = f"there are frames of {', '.join(map(str, known))}" if known else "no frame has a time"
        raise InputError(f"there is no frame of {wanted or 'any year'}; nothing was written", [others])
    mine = frames[years == wanted]
    is_wrong = mine["setting_verdict"].isin(_WRONG)
    ledger = keep_rates(mine, "lens")
    return Season(
        year=wanted,
        frames=len(mine),
        judged=int(mine["kept"].notna().sum()),
        kept=int(mine["kept"].fillna(False).sum()),
        wrong=int(is_wrong.sum()),
        blur_likely=int((mine["blur_verdict"] == "likely").sum()),
        stops_lost=float(mine.loc[is_wrong, "stops_lost"].median()),
        bodies=tuple(body.name for body in kit.bodies if (mine["body"] == body.id).any()),
        lenses=_lenses(mine, ledger.rows, kit, dt.date(wanted, 12, 31)),
        use=_use(mine, kit),
        verdicts=_verdicts(mine),
        causes=_causes(mine[is_wrong]),
        trips=_trips(mine),
        left_out=ledger.left_out,
    )


def _names(kit: Kit) -> dict[str, str]:
    return {lens.id: lens.name for lens in kit.lenses}


def _lenses(frames: pd.DataFrame, rates: pd.DataFrame, kit: Kit, until: dt.date) -> pd.DataFrame:
    wrong = frames["setting_verdict"].isin(_WRONG).groupby(frames["lens"]).sum()
    lenses = {lens.id: lens for lens in kit.lenses}
    rows = rates.assign(
        low=rates["burst_low"],
        high=rates["burst_high"],
        name=rates["id"].map(lambda key: lenses[key].name if key in lenses else key),
        wrong=rates["id"].map(wrong).fillna(0).astype(int),
        price=_of_lens(rates, lenses, "price").astype("float64"),
        currency=_of_lens(rates, lenses, "currency"),
        years=[_years(lenses.get(key), until) for key in rates["id"]],
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        a_year = rows["price"] / rows["years"]
        keeper_price = (a_year / rows["kept"]).where(rows["kept"] > 0)
    columns = ["name", "frames", "judged", "kept", "keep_rate", "low", "high", "wrong", "price", "currency", "years"]
    whole = rows[[*columns, *SHARP_COLUMNS]].assign(keeper_price=keeper_price)
    return whole.sort_values("frames", ascending=False, kind="stable").reset_index(drop=True)


def _of_lens(rates: pd.DataFrame, lenses: dict[str, Lens], field: str) -> pd.Series:
    return pd.Series([getattr(lenses.get(key), field, None) for key in rates["id"]], index=rates.index, dtype=object)


def _years(lens: Lens | None, until: dt.date) -> float:
    """Return the years that a lens was owned by the end of a season, at least one."""
    if lens is None or lens.acquired is None:
        return float("nan")
    end = min(until, lens.sold) if lens.sold else until
    return max(1.0, (end - lens.acquired).days / _YEAR_DAYS)


def _use(frames: pd.DataFrame, kit: Kit) -> dict[str, list[int]]:
    counts = pd.crosstab(frames["lens"], frames["captured_at"].dt.month).reindex(columns=range(1, 13), fill_value=0)
    counts = counts.loc[counts.sum(axis=1).sort_values(ascending=False, kind="stable").index]
    names = _names(kit)
    use = {names.get(str(key), str(key)): [int(count) for count in row] for key, row in counts.iterrows()}
    unknown = frames.loc[frames["lens"].isna(), "captured_at"].dt.month.value_counts()
    if len(unknown):
        use["Lens not known"] = [int(unknown.get(month, 0)) for month in range(1, 13)]
    return use


def _verdicts(frames: pd.DataFrame) -> list[dict[str, int]]:
    verdict = frames["setting_verdict"].fillna("unknown")
    counts = pd.crosstab(frames["captured_at"].dt.month, verdict).reindex(range(1, 13), fill_value=0)
    return [{str(name): int(count) for name, count in row.items()} for _, row in counts.iterrows()]


def _causes(wrong: pd.DataFrame) -> pd.DataFrame:
    grouped = wrong.groupby(wrong["setting_cause"].fillna("unexplained"))
    causes = grouped.agg(frames=("path", "size"), stops_lost=("stops_lost", "median")).reset_index()
    return causes.sort_values("frames", ascending=False, kind="stable").reset_index(drop=True)


def _trips(frames: pd.DataFrame) -> pd.DataFrame:
    told = frames.assign(wrong=frames["setting_verdict"].isin(_WRONG), judged=frames["kept"].notna())
    trips = told.assign(kept=told["kept"].fillna(False).astype(bool)).groupby("trip", sort=False)
    rows = trips.agg(
        first=("captured_at", "min"),
        last=("captured_at", "max"),
        frames=("path", "size"),
        wrong=("wrong", "sum"),
        judged=("judged", "sum"),
        kept=("kept", "sum"),
    )
    return rows.rename_axis("name").reset_index().sort_values("first").reset_index(drop=True)


def _plan(workspace: Workspace) -> tuple[tuple[str, str, tuple[str, ...]], ...]:
    names, weights = _names(workspace.kit), workspace.settings.plan
    return tuple((names[one.lens], one.verdict, tuple(reasons(one, weights))) for one in plan_of(workspace).lenses)


def write_season(workspace: Workspace, target: Path, year: int | None = None) -> Season:
    """
    Write the season report, whole or not at all.

    Parameters
    ----------
    workspace : Workspace
    target : Path
        Ends in .html or .pdf.
    year : int, optional
        The latest with a frame where it is left out.

    Raises
    ------
    InputError
        No frame of that year, another ending, a folder that does not exist or lies inside an archive.
    MissingExtra
        PDF was asked for and no browser was found to print with.
    """
    kind = writable_target(workspace, target, ("html", "pdf"))
    season = replace(
        season_of(frames_with_measures(workspace), workspace.kit, year), plan=_plan(workspace), plan_caution=CAUTION
    )
    page = season_html(season)
    write_bytes(target, print_to_pdf(page) if kind == "pdf" else page.encode())
    return season
