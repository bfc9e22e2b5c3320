"""What is known of each frame before any pairing is inferred: body, names, log row, recorded setting."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.times import corrected_times, steady_times, trusted_offsets
from auditor.model.kit import Body, Kit, Lens
from auditor.model.log import LogRow
from auditor.model.settings import Settings

__all__ = ["DAY_BEGINS_HOUR", "NO_ROW", "add_evidence", "add_log_notes", "log_rows_in_force"]

DAY_BEGINS_HOUR = 4
"""A shooting day lasts until this hour of the next morning; common practice for night work."""

NO_ROW = -1


def add_evidence(frames: pd.DataFrame, kit: Kit, log: Sequence[LogRow], settings: Settings) -> pd.DataFrame:
    """
    Add what the sources say of each frame, each source by itself.

    Parameters
    ----------
    frames : DataFrame
        Columns of ``store/frames``.
    kit, log, settings
        The photographer's files.

    Returns
    -------
    DataFrame
        Same rows, same order, with: ``body`` (kit id), ``at`` (corrected local time), ``steady_at`` (the same, in
        the order of shooting where local time went back), ``contact_lens`` (a lens
        with contacts that names itself), ``listed_lens`` (a lens named in the body's own list), ``has_contacts``
        (a lens that tells the body its aperture was on), ``recorded_setting_mm`` (the typed value where Exif keeps
        it), ``log_row`` (place in ``log``, -1 for none), and from that row ``support``, ``stabiliser_on``,
        ``logged_setting_mm``, ``logged_focal_mm``, ``focus_distance_m``, ``logged_aperture``, ``subject``.
    """
    known = frames.assign(body=_bodies(frames, kit.bodies))
    known["at"] = corrected_times(known, settings.clocks)
    known["steady_at"] = _steady(known)
    known["contact_lens"] = _lens_named(known["lens_model"], [lens for lens in kit.lenses if lens.contacts])
    known["listed_lens"] = _lens_named(known["lens_model"], [lens for lens in kit.lenses if not lens.contacts])
    known["has_contacts"] = known["contact_lens"].notna() | (known["f_number"].notna() & known["listed_lens"].isna())
    known["recorded_setting_mm"] = _recorded_setting(known, kit.bodies).mask(known["has_contacts"])
    known["log_row"] = log_rows_in_force(known, log)
    return add_log_notes(known, log)


def _steady(known: pd.DataFrame) -> pd.Series:
    body = pd.factorize(known["body"])[0]
    moments = steady_times(known["at"].to_numpy("datetime64[us]"), trusted_offsets(known), body)
    return pd.Series(moments, index=known.index)


def _bodies(frames: pd.DataFrame, bodies: Sequence[Body]) -> pd.Series:
    """Match Exif Model exactly but for case; make and serial number narrow it; the first body that fits wins."""
    found = pd.Series(pd.NA, index=frames.index, dtype="str")
    model, make = frames["model"].str.casefold(), frames["make"].str.casefold()
    for body in bodies:
        fits = model == body.exif_model.casefold()
        if body.exif_make is not None:
            fits &= make == body.exif_make.casefold()
        if body.serial is not None:
            fits &= frames["body_serial_number"] == body.serial
        found = found.mask(fits.fillna(False) & found.isna(), body.id)
    return found


def _lens_named(lens_model: pd.Series, lenses: Sequence[Lens]) -> pd.Series:
    """Map a name in Exif to the one lens that goes by it; a name that two lenses share names neither."""
    owners: dict[str, set[str]] = {}
    for lens in lenses:
        for name in lens.exif_names:
            owners.setdefault(name.strip().casefold(), set()).add(lens.id)
    names = {name: next(iter(ids)) for name, ids in owners.items() if len(ids) == 1}
    return lens_model.str.strip().str.casefold().map(names).astype("str")


def _recorded_setting(frames: pd.DataFrame, bodies: Sequence[Body]) -> pd.Series:
    """Take the typed value from where each body keeps it. [mm]."""
    setting = pd.Series(np.nan, index=frames.index, dtype="float64")
    for body in bodies:
        mine = (frames["body"] == body.id).fillna(False)
        if body.setting_recorded_in == "focal-length":
            setting = setting.mask(mine, frames["focal_length_mm"])
        elif body.setting_recorded_in == "lens-name":
            names = frames.loc[mine, "lens_model"]
            values = {name: _number_in_name(name) for name in names.dropna().unique()}
            setting.loc[names.index] = names.map(values).astype("float64")
    return setting


def _number_in_name(name: str) -> float:
    """
    Return the focal length that a name in the body's list holds: before ``mm``, else its only number. [mm].

    Examples
    --------
    >>> _number_in_name("Orla 50mm F1.4"), _number_in_name("HALE85"), _number_in_name("35-70")
    (50.0, 85.0, nan)
    """
    before_mm = re.findall(r"(\d+(?:\.\d+)?)\s*mm", name, flags=re.IGNORECASE)
    numbers = before_mm or re.findall(r"\d+(?:\.\d+)?", name)
    return float(numbers[0]) if len(numbers) == 1 and float(numbers[0]) > 0 else float("nan")


def log_rows_in_force(frames: pd.DataFrame, log: Sequence[LogRow]) -> npt.NDArray[np.int64]:
    """
    Return for each frame the place in the log of the row that holds for it.

    A row holds from its start until its end, else until the body's next row, else until the end of the shooting
    day (4 in the morning).

    Parameters
    ----------
    frames : DataFrame
        With ``body`` and ``at``.
    log : sequence of LogRow
        In order of start.

    Returns
    -------
    ndarray of int64, shape (frames,)
        ``NO_ROW`` where none holds.
    """
    places = np.full(len(frames), NO_ROW, dtype=np.int64)
    at = frames["at"].to_numpy("datetime64[us]")
    bodies = frames["body"].to_numpy(object)
    for body in {row.body for row in log}:
        rows = [(number, row) for number, row in enumerate(log) if row.body == body]
        starts = np.array([row.start for _, row in rows], dtype="datetime64[us]")
        ends = np.array([_last_moment(row) for _, row in rows], dtype="datetime64[us]")
        mine = np.flatnonzero((bodies == body) & ~np.isnat(at))
        latest = np.searchsorted(starts, at[mine], side="right") - 1
        holds = (latest >= 0) & (at[mine] <= ends[np.maximum(latest, 0)])
        numbers = np.array([number for number, _ in rows])
        places[mine[holds]] = numbers[latest[holds]]
    return places


def _last_moment(row: LogRow) -> np.datetime64:
    if row.end is not None:
        # A time noted to the minute means the whole minute.
        return np.datetime64(row.end, "us") + np.timedelta64(59 if row.end.second == 0 else 0, "s")
    morning = row.start.replace(hour=DAY_BEGINS_HOUR, minute=0, second=0, microsecond=0)
    day_later = np.timedelta64(0 if row.start < morning else 1, "D")
    return np.datetime64(morning, "us") + day_later


_FROM_LOG = {
    "support": ("support", "str"),
    "stabiliser_on": ("stabiliser", "boolean"),
    "logged_setting_mm": ("setting_mm", "float64"),
    "logged_focal_mm": ("focal_mm", "float64"),
    "focus_distance_m": ("focus_distance_m", "float64"),
    "logged_aperture": ("aperture", "float64"),
    "subject": ("subject", "str"),
}


def add_log_notes(frames: pd.DataFrame, log: Sequence[LogRow]) -> pd.DataFrame:
    """
    Add what the log's row in force says; its distance outranks Exif's, which few manual lenses fill.

    Parameters
    ----------
    frames : DataFrame
        With ``log_row`` and ``subject_distance_m``.
    log : sequence of LogRow
        In order of start.

    Returns
    -------
    DataFrame
        Same rows, same order, with the columns from ``support`` on that ``add_evidence`` lists.
    """
    place = frames["log_row"].to_numpy()
    columns: dict[str, pd.Series] = {}
    for column, (attribute, kind) in _FROM_LOG.items():
        # One extra entry at the end stands for "no row": index -1 finds it.
        noted = pd.Series([*(getattr(row, attribute) for row in log), None], dtype=kind).array
        columns[column] = pd.Series(noted.take(place), index=frames.index)
    columns["focus_distance_m"] = columns["focus_distance_m"].fillna(frames["subject_distance_m"])
    return frames.assign(**columns)
