"""Make the cards of a workspace."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Collection, Sequence
from pathlib import Path

from auditor.audit.card import card_name, make_card
from auditor.audit.pairing import possible_pairings
from auditor.corrections.card_sheet import Paper, card_sheet, card_table
from auditor.corrections.tables import write_table
from auditor.errors import InputError, nearest
from auditor.model.cards import Card
from auditor.model.pairings import Pairing
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import to_frame
from auditor.storage.atomic import write_bytes, write_text
from auditor.storage.datasets import read_table

__all__ = ["chosen_pairings", "make_cards", "picture_widths_px", "write_card_sheet", "write_card_table"]


def chosen_pairings(workspace: Workspace, names: Collection[str] = ()) -> tuple[Pairing, ...]:
    """
    Return the pairings of a kit, or those that names mean.

    Parameters
    ----------
    workspace : Workspace
    names : collection of str
        ``lens``, ``lens+adapter`` or ``lens+adapter@body``; a lens alone means all its pairings. None: all of the kit.

    Raises
    ------
    InputError
        The kit allows no pairing, or a name means none, with the nearest known.
    """
    pairings = possible_pairings(workspace.kit, workspace.log.rows)
    if not pairings:
        raise InputError(
            "kit.toml: no lens fits a body, by itself or through one adapter; there is nothing to make a card of",
            ["check the mounts with: steadykeep kit"],
        )
    if not names:
        return tuple(pairings)
    found: dict[str, Pairing] = {}
    unknown = []
    for name in names:
        meant = {card_name(pairing): pairing for pairing in pairings if _means(name, pairing)}
        found.update(meant)
        if not meant:
            unknown.append(f'"{name}" is no pairing of the kit{nearest(name, [card_name(p) for p in pairings])}')
    if unknown:
        raise InputError("no card was made", [*unknown, f'such as "{card_name(pairings[0])}"'])
    return tuple(found.values())


def _means(name: str, pairing: Pairing) -> bool:
    whole = card_name(pairing)
    return name in {whole, whole.split("@", maxsplit=1)[0], pairing.lens.id, f"{pairing.lens.id}@{pairing.body.id}"}


def picture_widths_px(workspace: Workspace) -> dict[str, int]:
    """Return the longest side of each body's pictures, as far as frames were indexed. [px]."""
    table = read_table(workspace.store, "frames", ["model", "image_width_px", "image_height_px"])
    if table.num_rows == 0:
        return {}
    frames = to_frame(table)
    longest = frames[["image_width_px", "image_height_px"]].max(axis=1)
    by_model = longest.groupby(frames["model"].str.casefold()).max().dropna()
    return {
        body.id: int(by_model[body.exif_model.casefold()])
        for body in workspace.kit.bodies
        if body.exif_model.casefold() in by_model.index
    }


def make_cards(workspace: Workspace, names: Collection[str] = ()) -> tuple[Card, ...]:
    """
    Make cards of a workspace's pairings.

    Raises
    ------
    InputError
        As in `chosen_pairings`.
    """
    widths = picture_widths_px(workspace)
    return tuple(
        make_card(pairing, workspace.settings, width_px=widths.get(pairing.body.id))
        for pairing in chosen_pairings(workspace, names)
    )


def write_card_sheet(cards: Sequence[Card], path: Path, *, paper: Paper = "a4", day: dt.date | None = None) -> None:
    """Write cards as an HTML document to print, whole or not at all."""
    write_text(path, card_sheet(cards, paper=paper, day=day or dt.datetime.now().astimezone().date()))


def write_card_table(cards: Sequence[Card], path: Path) -> None:
    """Write cards as CSV, whole or not at all."""
    stream = io.BytesIO()
    write_table(card_table(cards), "csv", stream)
    write_bytes(path, stream.getvalue())
