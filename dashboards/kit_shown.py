"""The kit as tables: what is in it, what fits what, and what is wrong with it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import pandas as pd

from auditor.audit.kit_check import check_kit
from auditor.model.kit import Adapter, Body, Lens
from auditor.model.workspace import Workspace
from auditor.pipeline.checking_kit import pairing_checks
from dashboards.desk import Desk, codes_of
from dashboards.kit_fields import NOUNS
from dashboards.words import DASH, millimetres

_MADE_WITH = ("body", "lens", "adapter")

__all__ = [
    "PAIRING_COLUMNS",
    "Finding",
    "adapters_of",
    "bodies_of",
    "findings_shown",
    "lenses_of",
    "pairings_csv",
    "pairings_of",
]

PAIRING_COLUMNS = ("body", "lens", "adapter", "focal", "infinity", "coverage", "frames")
"""Of ``pairings_of``; ``focal`` is the effective focal length at infinity."""


@dataclass(frozen=True)
class Finding:
    """Something worth a look, with the entry that it is about: table and id, both empty where it is about several."""

    sentence: str
    table: str = ""
    entry: str = ""


def findings_shown(desk: Desk, workspace: Workspace) -> list[Finding]:
    """Return what the kit's check finds, worst first."""
    kit = workspace.kit
    made_with = desk.frames[[*_MADE_WITH, "setting_mm"]]
    checked = check_kit(kit, workspace.log.rows, made_with if made_with["body"].notna().any() else None)
    found = [Finding(line.removeprefix("kit.toml: "), "bodies", _first_named(line)) for line in kit.gaps]
    for one in checked:
        about = (f'{table} "{one.entry}"' in one.sentence or f'{noun} "{one.entry}"' in one.sentence
                 for table, noun in NOUNS.items())  # fmt: skip
        table = next((table for table, is_about in zip(NOUNS, about, strict=True) if is_about), "")
        found.append(Finding(f"{one.sentence[0].upper()}{one.sentence[1:]}.", table, one.entry if table else ""))
    return found


def _first_named(sentence: str) -> str:
    """Return the first id that a sentence quotes; its form is where mending begins."""
    return [*sentence.split('"'), "", ""][1]


def bodies_of(desk: Desk, workspace: Workspace) -> pd.DataFrame:
    """Return one row a body, ``id`` first and then as a reader sees it."""
    counts = _frames(desk, "body")
    return pd.DataFrame([_body(counts, body) for body in workspace.kit.bodies])


def _body(counts: Counter[str], body: Body) -> dict[str, object]:
    stops = body.stabiliser_stops
    return {
        "id": body.id,
        "Name": body.name,
        "Mount": body.mount,
        "Sensor": f"{body.sensor_mm[0]:g} × {body.sensor_mm[1]:g} mm" if body.sensor_mm else DASH,
        "Stabiliser": DASH if stops is None else (f"{stops:g} stops" if stops else "none"),
        "Gain": f"{body.stabiliser_gain:g}",
        "Frames": counts[body.id],
    }


def lenses_of(desk: Desk, workspace: Workspace) -> pd.DataFrame:
    """Return one row a lens, ``id`` first and then as a reader sees it."""
    counts = _frames(desk, "lens")
    return pd.DataFrame([_lens(counts, lens) for lens in workspace.kit.lenses])


def _lens(counts: Counter[str], lens: Lens) -> dict[str, object]:
    measured = [millimetres(lens.measured_focal_mm)] if lens.measured_focal_mm else []
    measured += [f"at {len(lens.breathing)} distances"] if lens.breathing else []
    return {
        "id": lens.id,
        "Name": lens.name,
        "Focal length": _ends(lens.focal_mm),
        "Measured": ", ".join(measured) or DASH,
        "Widest": f"f/{lens.max_aperture:g}" if lens.max_aperture else DASH,
        "Mount": lens.mount,
        "Closest": f"{lens.close_focus_m:g} m" if lens.close_focus_m else DASH,
        "Contacts": "yes" if lens.contacts else "no",
        "Price": f"{lens.price:,.0f} {lens.currency or ''}".strip() if lens.price is not None else DASH,
        "Yours": _owned(lens),
        "Frames": counts[lens.id],
    }


def _ends(ends: tuple[float, float]) -> str:
    return millimetres(ends[0]) if ends[0] == ends[1] else f"{ends[0]:g}-{ends[1]:g} mm"


def _owned(lens: Lens) -> str:
    since = f"since {lens.acquired}" if lens.acquired else ""
    return " ".join(part for part in (since, f"sold {lens.sold}" if lens.sold else "") if part) or DASH


def adapters_of(desk: Desk, workspace: Workspace) -> pd.DataFrame:
    """Return one row an adapter, ``id`` first and then as a reader sees it."""
    counts = _frames(desk, "adapter")
    return pd.DataFrame([_adapter(counts, adapter) for adapter in workspace.kit.adapters])


def _adapter(counts: Counter[str], adapter: Adapter) -> dict[str, object]:
    short, long = adapter.extension_mm
    extension = f"{short:g}-{long:g} mm" if long > short else f"{short:g} mm"
    return {
        "id": adapter.id,
        "Name": adapter.name,
        "From": adapter.lens_mount,
        "To": adapter.body_mount,
        "Factor": f"{adapter.factor:g}",
        "Thickness": millimetres(adapter.thickness_mm),
        "Extension": extension if long > 0 else DASH,
        "Frames": sum(number for key, number in counts.items() if adapter.id in str(key).split("+")),
    }


def _frames(desk: Desk, column: str) -> Counter[str]:
    """Count the audited frames by what they were made with."""
    return Counter({str(key): int(number) for key, number in desk.frames[column].value_counts().items()})


def _frames_by_pairing(desk: Desk) -> Counter[tuple[str, ...]]:
    """Count the audited frames by body, lens and adapter; by their codes, as over a million frames words take long."""
    columns = [desk.frames[column] for column in _MADE_WITH]
    shape = tuple(len(column.cat.categories) + 1 for column in columns)  # and one for what is not known
    cells = np.ravel_multi_index(tuple(codes_of(column) for column in columns), shape)
    counts = np.bincount(cells, minlength=int(np.prod(shape))).reshape(shape)[:-1, :-1, :-1]
    keys = [column.cat.categories for column in columns]
    return Counter(
        {
            tuple(str(names[at]) for names, at in zip(keys, place, strict=True)): int(counts[place])
            for place in zip(*(axis.tolist() for axis in np.nonzero(counts)), strict=True)
        }
    )


def pairings_of(desk: Desk, workspace: Workspace) -> pd.DataFrame:
    """
    Return what fits what, columns ``PAIRING_COLUMNS``, with the ids of the kit.

    Parameters
    ----------
    desk : Desk
        For how many frames were made with each.
    workspace : Workspace
    """
    counts = _frames_by_pairing(desk)
    rows = []
    for check in pairing_checks(workspace):
        pairing = check.pairing
        key = (pairing.body.id, pairing.lens.id, pairing.adapter_id)
        focal = _ends(pairing.effective_focal_mm)
        rows.append((*key, focal, check.infinity, check.coverage, counts[key]))
    return pd.DataFrame(rows, columns=list(PAIRING_COLUMNS))


def pairings_csv(desk: Desk) -> pd.DataFrame:
    """Return ``pairings_of`` to take away; headings alone where there is no workspace."""
    if desk.workspace is None:
        return pd.DataFrame(columns=list(PAIRING_COLUMNS))
    return pairings_of(desk, desk.workspace)
