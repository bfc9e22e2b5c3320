"""``kit``: what the kit holds and what is wrong with it."""

from __future__ import annotations

from pathlib import Path

import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.kit import Lens
from auditor.model.pairings import kit_pairings
from auditor.model.workspace import open_workspace

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep kit ~/steadykeep")
    def kit(workspace: Folder = Path(), as_json: AsJson = False, quiet: Quiet = False) -> None:
        """Check the kit, and list what fits what."""
        voice = Voice(as_json, quiet)
        held = open_workspace(workspace).kit
        pairings = kit_pairings(held)
        voice.table(
            ["Body", "Lens", "Adapter", "Effective focal length"],
            [
                [
                    pairing.body.id,
                    pairing.lens.id,
                    pairing.adapter_id or "none",
                    _millimetres(pairing.effective_focal_mm),
                ]
                for pairing in pairings
            ],
            left=3,
        )
        unused = _unmounted(held.lenses, {pairing.lens.id for pairing in pairings})
        for sentence in (*held.gaps, *unused):
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
                "findings": [*held.gaps, *unused],
            }
        )


def _millimetres(ends: tuple[float, float]) -> str:
    short, long = ends
    return f"{short:.4g} mm" if short == long else f"{short:.4g}-{long:.4g} mm"


def _unmounted(lenses: tuple[Lens, ...], fitting: set[str]) -> list[str]:
    return [
        f'kit.toml: lens "{lens.id}" (mount {lens.mount}) fits no body, by itself or through one adapter'
        for lens in lenses
        if lens.id not in fitting
    ]
