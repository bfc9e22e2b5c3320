"""``kit``: what the kit holds and what is wrong with it."""

from __future__ import annotations

from pathlib import Path

import typer

from auditor.audit.kit_pairings import PairingCheck
from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.pairings import Pairing
from auditor.model.workspace import open_workspace
from auditor.pipeline.checking_kit import kit_findings, pairing_checks

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep kit ~/steadykeep")
    def kit(workspace: Folder = Path(), as_json: AsJson = False, quiet: Quiet = False) -> None:
        """
        Check the kit, and list what fits what.

        Says of each pairing whether it reaches infinity and fills the sensor, and finds lenses that fit no body,
        adapters of the wrong length, dark corners, doubled names, pairings that nobody used, and the measurements that
        would matter most.
        """
        voice = Voice(as_json, quiet)
        opened = open_workspace(workspace)
        held, findings = opened.kit, kit_findings(opened)
        checks = pairing_checks(opened)
        voice.table(
            ["Body", "Lens", "Adapter", "Focal length", "To infinity", "Fills the sensor"],
            [[*_named(check.pairing), check.infinity, check.coverage] for check in checks],
            left=6,
        )
        for sentence in findings:
            voice.warn(sentence)
        voice.document(
            {
                "bodies": [body.id for body in held.bodies],
                "lenses": [lens.id for lens in held.lenses],
                "adapters": [adapter.id for adapter in held.adapters],
                "pairings": [_values(check) for check in checks],
                "findings": findings,
            }
        )


def _named(pairing: Pairing) -> list[str]:
    adapter = pairing.adapter_id or "none"
    return [pairing.body.id, pairing.lens.id, adapter, _millimetres(pairing.effective_focal_mm)]


def _values(check: PairingCheck) -> dict[str, object]:
    pairing = check.pairing
    return {
        "body": pairing.body.id,
        "lens": pairing.lens.id,
        "adapter": pairing.adapter_id,
        "focal_mm": pairing.effective_focal_mm,
        "infinity": check.infinity,
        "coverage": check.coverage,
    }


def _millimetres(ends: tuple[float, float]) -> str:
    short, long = ends
    return f"{short:.4g} mm" if short == long else f"{short:.4g}-{long:.4g} mm"
