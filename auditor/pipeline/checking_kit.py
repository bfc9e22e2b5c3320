"""Check the kit against itself, the log and what was audited."""

from __future__ import annotations

from auditor.audit.kit_check import check_kit
from auditor.audit.kit_pairings import PairingCheck, check_pairings
from auditor.audit.pairing import possible_pairings
from auditor.model.tables import AUDIT
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import to_frame
from auditor.storage.datasets import read_table

__all__ = ["kit_findings", "pairing_checks"]


def kit_findings(workspace: Workspace) -> tuple[str, ...]:
    """
    Return a sentence for each thing in the kit that is missing, impossible or doubtful.

    Frames count where there was an audit already; without one, what was never used is told from the log alone.
    """
    audit = to_frame(read_table(workspace.store, "audit", [name for name in AUDIT.names if name in _USED]))
    frames = None if audit.empty else audit
    return (*workspace.kit.gaps, *(str(finding) for finding in check_kit(workspace.kit, workspace.log.rows, frames)))


def pairing_checks(workspace: Workspace) -> tuple[PairingCheck, ...]:
    """Return for each pairing of the kit and the log where its focus ends and whether it fills the sensor."""
    return check_pairings(possible_pairings(workspace.kit, workspace.log.rows))


_USED = ("body", "lens", "adapter", "setting_mm")
