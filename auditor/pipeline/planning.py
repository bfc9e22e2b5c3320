"""The plan of a workspace: verdicts on its lenses, and what would be out of reach without some of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditor.audit.pairing import possible_pairings
from auditor.audit.planning import LensPlan, plan_lenses
from auditor.audit.reach import WhatIf, what_if
from auditor.model.workspace import Workspace
from auditor.pipeline.ledgers import condensed_of

__all__ = ["Planned", "plan_of"]


@dataclass(frozen=True)
class Planned:
    """
    The plan of a workspace.

    Attributes
    ----------
    lenses : list of LensPlan
        Of the lenses still owned.
    sold : list of str
        Lenses sold already.
    unknown : int
        Frames whose lens is not known, and so in no figure.
    what_if : WhatIf or None
        Where some lenses were named.
    """

    lenses: list[LensPlan]
    sold: list[str]
    unknown: int
    what_if: WhatIf | None


def plan_of(workspace: Workspace, sold_in_thought: Sequence[str] = ()) -> Planned:
    """
    Weigh every lens of a workspace.

    Parameters
    ----------
    workspace : Workspace
    sold_in_thought : sequence of str
        Lenses to do without.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet.
    KitError
        A lens to do without is not in the kit.
    """
    kit, settings = workspace.kit, workspace.settings
    without = [kit.lens(name).id for name in sold_in_thought]
    condensed = condensed_of(workspace)
    pairings = possible_pairings(kit, workspace.log.rows)
    plans, sold = plan_lenses(condensed, kit, pairings, settings)
    owned = [lens for lens in kit.lenses if lens.sold is None]
    thought = what_if(condensed, without, owned, pairings, settings.plan) if without else None
    return Planned(plans, sold, int(condensed["lens"].isna().sum()), thought)
