"""What is wrong with a kit: lenses that fit nothing, adapters of the wrong length, corners that stay dark, gaps."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import pandas as pd

from auditor.audit.lensless import lensless_bodies, lensless_sentence
from auditor.audit.pairing import possible_pairings
from auditor.model.kit import Adapter, Body, Kit, Lens
from auditor.model.log import LogRow
from auditor.model.pairings import Pairing
from auditor.optics.adapters import adapter_length_mm, farthest_focus_m, through_factor
from auditor.optics.mounts import ambiguous_mounts, register
from auditor.optics.sensors import diagonal_mm
from auditor.wording import counted

__all__ = ["LENGTH_SLACK_MM", "KitFinding", "adapter_room_mm", "check_kit"]

LENGTH_SLACK_MM = 0.5
"""Published registers agree to about this: a smaller difference is not called a fault. [mm]"""

CLOSEST_MATTERS_FRAMES = 50
"""A lens used this often deserves its measurements."""

_SHOWN = 6


@dataclass(frozen=True, slots=True)
class KitFinding:
    """
    One thing worth a look.

    Attributes
    ----------
    kind : str
        fits-nothing, no-lens, no-room, adapter-length, dark-corners, doubled-name, never-used, missing.
    entry : str
        Id of the entry in kit.toml, or of the pairing.
    sentence : str
        What, why it matters, how to go on.
    """

    kind: str
    entry: str
    sentence: str

    def __str__(self) -> str:
        """Return the sentence, with the file before it."""
        return f"kit.toml: {self.sentence}"


def check_kit(kit: Kit, log: Sequence[LogRow] = (), frames: pd.DataFrame | None = None) -> tuple[KitFinding, ...]:
    """
    Check a kit against itself, the registers of mounts, the log and the audited frames.

    Parameters
    ----------
    kit : Kit
    log : sequence of LogRow
    frames : DataFrame, optional
        With ``body``, ``lens``, ``adapter`` of audited frames; None where nothing was audited yet.

    Returns
    -------
    tuple of KitFinding
        Worst first: what cannot work, what loses something, what is missing.

    Notes
    -----
    Registers come from `auditor.optics.mounts`; where sources disagree the whole range is allowed, and only a
    difference beyond 0.5 mm of it is a finding. A mount that the table does not know is not judged.
    """
    pairings = possible_pairings(kit, log)
    used = _used(log, frames)
    return (
        *_fitting_nothing(kit, pairings),
        *_lensless(kit, pairings, frames),
        *_without_room(kit),
        *_adapter_lengths(kit),
        *_dark_corners(pairings),
        *_doubled_names(kit),
        *_missing(kit, pairings, frames),
        *_never_used(pairings, used),
    )


def _fitting_nothing(kit: Kit, pairings: Iterable[Pairing]) -> Iterator[KitFinding]:
    fitting = {pairing.lens.id for pairing in pairings}
    through = {adapter.id for pairing in pairings for adapter in pairing.adapters}
    for lens in kit.lenses:
        if lens.id not in fitting:
            yield KitFinding(
                "fits-nothing", lens.id,
                f'lens "{lens.id}" (mount {lens.mount}) fits no body, by itself or through one adapter; add its '
                "adapter, or name a stack of two in the log",
            )  # fmt: skip
    for adapter in kit.adapters:
        if adapter.id not in through and _ends_on_a_body(adapter, kit):
            yield KitFinding(
                "fits-nothing", adapter.id,
                f'adapter "{adapter.id}" takes {adapter.lens_mount} lenses and the kit has none: a mistyped mount?',
            )  # fmt: skip


def _lensless(kit: Kit, pairings: Iterable[Pairing], frames: pd.DataFrame | None) -> Iterator[KitFinding]:
    counts = lensless_bodies(kit, pairings, frames)
    if counts:
        yield KitFinding("no-lens", next(iter(counts)), lensless_sentence(counts))


def _ends_on_a_body(adapter: Adapter, kit: Kit) -> bool:
    return any(body.mount == adapter.body_mount for body in kit.bodies)


def _registers(body: Body) -> tuple[float, float] | None:
    if body.flange_mm is not None:
        return (body.flange_mm, body.flange_mm)
    known = register(body.mount)
    return (known.low_mm, known.high_mm) if known else None


def adapter_room_mm(lens_mount: str, body: Body) -> tuple[float, float] | None:
    """Return the shortest and longest length that an adapter between them should have, None if not known. [mm]."""
    lens, camera = register(lens_mount), _registers(body)
    if lens is None or camera is None:
        return None
    return lens.low_mm - camera[1], float(adapter_length_mm(lens.high_mm, camera[0]))


def _without_room(kit: Kit) -> Iterator[KitFinding]:
    """Lenses whose register is shorter than the body's: no plain adapter reaches infinity."""
    for lens in kit.lenses:
        if ambiguous_mounts(lens.mount):
            choices = " or ".join(f'"{name}"' for name in ambiguous_mounts(lens.mount))
            yield KitFinding(
                "missing", lens.id, f'lens "{lens.id}": mount "{lens.mount}" is two different mounts; write {choices}'
            )
        for body in kit.bodies:
            room = adapter_room_mm(lens.mount, body)
            if lens.mount != body.mount and room is not None and room[1] <= 0:
                yield KitFinding(
                    "no-room", lens.id,
                    f'lens "{lens.id}" ({lens.mount}) cannot focus to infinity on body "{body.id}" ({body.mount}): its '
                    f"flange should sit {-room[1]:.1f} mm nearer than the body's own",
                )  # fmt: skip


def _adapter_lengths(kit: Kit) -> Iterator[KitFinding]:
    for adapter in kit.adapters:
        if adapter.thickness_mm is None or adapter.factor != 1.0:
            continue  # glass moves the image: the plain difference of registers does not hold
        for body in kit.bodies:
            room = adapter_room_mm(adapter.lens_mount, body)
            if body.mount != adapter.body_mount or room is None:
                continue
            over = adapter.thickness_mm - adapter.extension_mm[0] - room[1]
            under = room[0] - adapter.thickness_mm
            if over > LENGTH_SLACK_MM:
                yield _too_long(adapter, body, over, [x for x in kit.lenses if x.mount == adapter.lens_mount])
            elif under > LENGTH_SLACK_MM:
                yield KitFinding(
                    "adapter-length", adapter.id,
                    f'adapter "{adapter.id}" is {under:.1f} mm shorter than {adapter.lens_mount} on "{body.id}" needs: '
                    "it focuses past infinity, and the distance scale is wrong",
                )  # fmt: skip


def _too_long(adapter: Adapter, body: Body, excess_mm: float, lenses: Sequence[Lens]) -> KitFinding:
    reach = ", ".join(
        f"{float(farthest_focus_m(lens.true_focal_mm[0], excess_mm)):.2g} m with {lens.id}" for lens in lenses[:3]
    )
    return KitFinding(
        "adapter-length",
        adapter.id,
        f'adapter "{adapter.id}" is {excess_mm:.1f} mm longer than {adapter.lens_mount} on "{body.id}" needs: the '
        f"farthest sharp distance is f²/δ{', ' + reach if reach else ''}; measure it, or note it as extension_mm",
    )


def _dark_corners(pairings: Iterable[Pairing]) -> Iterator[KitFinding]:
    for pairing in pairings:
        circle, sensor = pairing.lens.image_circle_mm, pairing.body.sensor_mm
        if circle is None or sensor is None:
            continue
        covered, needed = float(through_factor(circle, pairing.factor)), float(diagonal_mm(*sensor))
        if covered < needed * 0.99:
            through = f" through {pairing.adapter_id}" if pairing.adapter_id else ""
            yield KitFinding(
                "dark-corners", pairing.lens.id,
                f'lens "{pairing.lens.id}"{through} covers {covered:.1f} mm of the {needed:.1f} mm diagonal of '
                f'"{pairing.body.id}": dark corners',
            )  # fmt: skip


def _doubled_names(kit: Kit) -> Iterator[KitFinding]:
    for noun, entries in (("bodies", kit.bodies), ("lenses", kit.lenses), ("adapters", kit.adapters)):
        for _, ids in _shared((" ".join(entry.name.casefold().split()), entry.id) for entry in entries):
            yield KitFinding("doubled-name", ids[0], f"{noun} {_quoted(ids)} have one name: give each its own")
    in_exif = ((name, lens.id) for lens in kit.lenses for name in {n.strip().casefold() for n in lens.exif_names})
    for name, ids in _shared(in_exif):
        sentence = f'lenses {_quoted(ids)} share the Exif name "{name}": it names neither of them'
        yield KitFinding("doubled-name", ids[0], sentence)


def _shared(named: Iterable[tuple[str, str]]) -> Iterator[tuple[str, list[str]]]:
    owners: dict[str, list[str]] = {}
    for name, owner in named:
        owners.setdefault(name, []).append(owner)
    yield from ((name, ids) for name, ids in owners.items() if len(ids) > 1)


def _quoted(ids: Iterable[str]) -> str:
    return " and ".join(f'"{each}"' for each in ids)


def _used(log: Sequence[LogRow], frames: pd.DataFrame | None) -> set[tuple[str, str, str]]:
    used = {(row.body, row.lens, row.adapter or "") for row in log if row.lens}
    if frames is not None:
        known = frames[["body", "lens", "adapter"]].dropna()
        used |= {(str(b), str(lens), str(a)) for b, lens, a in known.drop_duplicates().itertuples(index=False)}
    return used


def _never_used(pairings: Sequence[Pairing], used: set[tuple[str, str, str]]) -> Iterator[KitFinding]:
    """Lenses, then pairings, that no log row or frame ever had; nothing where nothing was noted or audited."""
    if not used:
        return
    lenses = {lens for _, lens, _ in used}
    for lens in sorted({pairing.lens.id for pairing in pairings} - lenses):
        yield KitFinding("never-used", lens, f'lens "{lens}": no log row and no frame has it')
    rest = [
        pairing
        for pairing in pairings
        if pairing.lens.id in lenses and (pairing.body.id, pairing.lens.id, pairing.adapter_id) not in used
    ]
    if rest:
        names = ["+".join(filter(None, (p.lens.id, p.adapter_id))) + f"@{p.body.id}" for p in rest]
        shown = ", ".join(names[:_SHOWN]) + (f" and {len(names) - _SHOWN} more" if len(names) > _SHOWN else "")
        yield KitFinding("never-used", names[0], f"pairings that no log row and no frame has: {shown}")


def _missing(kit: Kit, pairings: Iterable[Pairing], frames: pd.DataFrame | None) -> Iterator[KitFinding]:
    """Measurements that would matter most: by what they move, and by how often the lens is used."""
    counts = frames["lens"].value_counts().to_dict() if frames is not None else {}
    typed = {pairing.lens.id for pairing in pairings if not pairing.contacts}
    adapted = {pairing.body.id for pairing in pairings if pairing.adapter_id}  # only there it decides over infinity
    for body in kit.bodies:
        if body.id in adapted and body.flange_mm is None and register(body.mount) is None:
            yield KitFinding(
                "missing", body.id, f'body "{body.id}": the register of mount {body.mount} is not known; add flange_mm'
            )
    for lens in sorted(kit.lenses, key=lambda lens: -int(counts.get(lens.id, 0))):
        often = int(counts.get(lens.id, 0)) if counts else CLOSEST_MATTERS_FRAMES
        if lens.id in typed and often >= CLOSEST_MATTERS_FRAMES:
            wanted = list(_unmeasured(lens))
            if wanted:
                seen = f", {counted(often, 'frame')}" if counts else ""
                yield KitFinding("missing", lens.id, f'lens "{lens.id}"{seen}: {"; ".join(wanted)}')


def _unmeasured(lens: Lens) -> Iterator[str]:
    if lens.close_focus_m is None:
        yield "add close_focus_m, or the range of its right setting stays wide"
    if lens.focusing == "internal" and not lens.breathing:
        yield "it focuses inside and was not measured: close up its right setting may lie either way (breathing)"
    elif lens.measured_focal_mm is None and not lens.is_zoom and not lens.breathing:
        yield "its focal length is as engraved, 5 % either way is common: measure it with calibrate setting"
