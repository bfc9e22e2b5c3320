"""``kit``: what the kit holds and what is wrong with it."""

from __future__ import annotations

from pathlib import Path

import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.pairings import kit_pairings
from auditor.model.workspace import open_workspace
from auditor.pipeline.checking_kit import kit_findings

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep kit ~/steadykeep")
    def kit(workspace: Folder = Path(), as_json: AsJson = False, quiet: Quiet = False) -> None:
        """
        Check the kit, and list what fits what.

        Finds lenses that fit no body, adapters of the wrong length, dark corners, doubled names, pairings that nobody
        used, and the measurements that would matter most.
        """
        voice = Voice(as_json, quiet)
        opened = open_workspace(workspace)
        held, findings = opened.kit, kit_findings(opened)
        pairings = kit_pairings(held)
        voice.table(
            ["Body", "Lens", "Adapter", "Effective focal length"],
            [[p.body.id, p.lens.id, p.adapter_id or "none", _millimetres(p.effective_focal_mm)] for p in pairings],
            left=3,
        )
        for sentence in findings:
            voice.warn(sentence)
        voice.document(
            {
                "bodies": [body.id for body in held.bodies],
                "lenses": [lens.id for lens in held.lenses],
                "adapters": [adapter.id for adapter in held.adapters],
                "pairings": [
                    {"body": p.body.id, "lens": p.lens.id, "adapter": p.adapter_id, "focal_mm": p.effective_focal_mm}
                    for p in pairings
                ],
                "findings": findings,
            }
        )


def _millimetres(ends: tuple[float, float]) -> str:
    short, long = ends
    return f"{short:.4g} mm" if short == long else f"{short:.4g}-{long:.4g} mm"
