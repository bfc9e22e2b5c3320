"""Pairings: every way a lens of the kit can sit on a body of the kit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import reduce

from auditor.errors import KitError
from auditor.model.kit import Adapter, Body, Kit, Lens

__all__ = ["NO_ADAPTER", "Pairing", "chain_of", "kit_pairings", "pairing_of"]

NO_ADAPTER = ""
"""Id of the adapter where the lens sits on the body itself."""


@dataclass(frozen=True)
class Pairing:
    """
    A lens with what stands between it and a body.

    Attributes
    ----------
    body, lens : Body, Lens
    adapters : tuple of Adapter
        Lens side first; empty where the lens sits on the body itself.
    """

    body: Body
    lens: Lens
    adapters: tuple[Adapter, ...] = ()

    @property
    def adapter_id(self) -> str:
        """Ids of the adapters joined by ``+``, lens side first; empty for none."""
        return "+".join(adapter.id for adapter in self.adapters)

    @property
    def factor(self) -> float:
        """Product of the adapters' factors."""
        return reduce(lambda product, adapter: product * adapter.factor, self.adapters, 1.0)

    @property
    def extension_mm(self) -> tuple[float, float]:
        """Shortest and longest extension of all tubes and helicoids in it, in mm."""
        ends = [adapter.extension_mm for adapter in self.adapters]
        return (sum(low for low, _ in ends), sum(high for _, high in ends))

    @property
    def contacts(self) -> bool:
        """Whether the lens can tell the body about itself."""
        return self.lens.contacts and all(adapter.contacts for adapter in self.adapters)

    @property
    def effective_focal_mm(self) -> tuple[float, float]:
        """Focal length × factor at infinity, short and long end, in mm."""
        short, long = self.lens.true_focal_mm
        return (short * self.factor, long * self.factor)


def _fits(lens: Lens, adapters: Sequence[Adapter], body: Body) -> bool:
    mount = lens.mount
    for adapter in adapters:
        if adapter.lens_mount != mount:
            return False
        mount = adapter.body_mount
    return mount == body.mount


def chain_of(kit: Kit, adapter_id: str) -> tuple[Adapter, ...]:
    """
    Return the adapters named by an id such as ``"tube-10+m42-plain"``.

    Raises
    ------
    KitError
        One of them is not in the kit.
    """
    return tuple(kit.adapter(part.strip()) for part in adapter_id.split("+")) if adapter_id else ()


def pairing_of(kit: Kit, body_id: str, lens_id: str, adapter_id: str) -> Pairing:
    """
    Return the pairing that three ids name.

    Raises
    ------
    KitError
        An id is not in the kit, or the mounts do not meet.
    """
    body, lens, adapters = kit.body(body_id), kit.lens(lens_id), chain_of(kit, adapter_id)
    if not _fits(lens, adapters, body):
        through = " through " + " and ".join(f'"{a.id}"' for a in adapters) if adapters else " without an adapter"
        raise KitError(f'lens "{lens.id}" ({lens.mount}) does not fit body "{body.id}" ({body.mount}){through}')
    return Pairing(body, lens, adapters)


def kit_pairings(kit: Kit, *, stacks: Iterable[str] = ()) -> tuple[Pairing, ...]:
    """
    Return every pairing the kit allows: bare, through one adapter, and through the stacks named.

    Parameters
    ----------
    kit : Kit
    stacks : iterable of str
        Joined adapter ids that were noted in use, such as ``"tube-10+m42-plain"``; any other stack of two or
        more is left out, since a kit of ten adapters allows hundreds that nobody mounts.

    Examples
    --------
    >>> from auditor.model.kit import parse_kit
    >>> kit = parse_kit('''
    ... [[bodies]]
    ... id = "one"
    ... name = "Silver body"
    ... exif_model = "Silverline 2"
    ... sensor_mm = [17.4, 13.0]
    ... mount = "MFT"
    ... stabiliser_stops = 5.0
    ... [[lenses]]
    ... id = "orla-50"
    ... name = "Orla 50"
    ... focal_mm = 50
    ... mount = "M42"
    ... [[adapters]]
    ... id = "m42-reducer"
    ... name = "M42 reducer"
    ... lens_mount = "M42"
    ... body_mount = "MFT"
    ... factor = 0.71
    ... ''')
    >>> [(p.lens.id, p.adapter_id, p.effective_focal_mm[0]) for p in kit_pairings(kit)]
    [('orla-50', 'm42-reducer', 35.5)]
    """
    chains: list[tuple[Adapter, ...]] = [(), *((adapter,) for adapter in kit.adapters)]
    chains += [chain_of(kit, stack) for stack in sorted(set(stacks)) if "+" in stack]
    return tuple(
        Pairing(body, lens, chain)
        for body in kit.bodies
        for lens in kit.lenses
        for chain in chains
        if _fits(lens, chain, body)
    )
