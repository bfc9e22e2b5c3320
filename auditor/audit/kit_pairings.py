"""What can be told of each pairing before a frame is shot: where its focus ends, and whether it fills the sensor."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from auditor.audit.kit_check import LENGTH_SLACK_MM, adapter_room_mm
from auditor.model.pairings import Pairing
from auditor.optics.adapters import farthest_focus_m, through_factor
from auditor.optics.sensors import diagonal_mm

__all__ = ["PairingCheck", "check_pairings"]


@dataclass(frozen=True, slots=True)
class PairingCheck:
    """
    One pairing, as far as the kit tells.

    Attributes
    ----------
    pairing : Pairing
    infinity, coverage : str
        A few words each; what is not known says what would tell.
    is_doubtful : bool
        Something about it is wrong, not just unknown.
    """

    pairing: Pairing
    infinity: str
    coverage: str
    is_doubtful: bool


def check_pairings(pairings: Iterable[Pairing]) -> tuple[PairingCheck, ...]:
    """
    Check pairings one by one.

    Notes
    -----
    As `auditor.audit.kit_check.check_kit`, from whose registers and slack of 0.5 mm the answer comes.
    """
    checks = []
    for pairing in pairings:
        reaches, infinity = _infinity(pairing)
        covers, coverage = _coverage(pairing)
        checks.append(PairingCheck(pairing, infinity, coverage, reaches is False or covers is False))
    return tuple(checks)


def _infinity(pairing: Pairing) -> tuple[bool | None, str]:
    """Say whether it focuses to infinity; None where that is not known."""
    extension = pairing.extension_mm
    if extension[0] > 0:
        return None, f"no, as tubes do: {_reach(pairing, extension[0])}"
    if not pairing.adapters:
        return True, "yes, its own mount"
    room = adapter_room_mm(pairing.lens.mount, pairing.body)
    if room is None:
        return None, "not known: the register of a mount is not"
    if room[1] <= 0:
        return False, f"no: the body is {-room[1]:.1f} mm too deep for it"
    if any(adapter.factor != 1.0 for adapter in pairing.adapters):
        return None, "not judged: the adapter's glass moves the image"
    return _by_length(pairing, room)


def _by_length(pairing: Pairing, room: tuple[float, float]) -> tuple[bool | None, str]:
    """Hold the adapters' length against the room between the mounts."""
    lengths = [adapter.thickness_mm for adapter in pairing.adapters]
    known = [length for length in lengths if length is not None]
    if len(known) < len(lengths):
        return None, "not known: add the adapter's thickness_mm"
    over, under = sum(known) - room[1], room[0] - sum(known)
    if over > LENGTH_SLACK_MM:
        return False, f"no: {over:.1f} mm too long, {_reach(pairing, over)}"
    if under > LENGTH_SLACK_MM:
        return False, f"beyond it: {under:.1f} mm too short, the distance scale is wrong"
    return True, "yes"


def _reach(pairing: Pairing, excess_mm: float) -> str:
    return f"sharp to {float(farthest_focus_m(pairing.lens.true_focal_mm[0], excess_mm)):.2g} m at most"


def _coverage(pairing: Pairing) -> tuple[bool | None, str]:
    circle, sensor = pairing.lens.image_circle_mm, pairing.body.sensor_mm
    if circle is None or sensor is None:
        wanted = "image_circle_mm" if circle is None else "the body's sensor_mm"
        return None, f"not known: add {wanted}"
    covered, needed = float(through_factor(circle, pairing.factor)), float(diagonal_mm(*sensor))
    if math.isnan(covered) or covered < needed * 0.99:
        return False, f"dark corners: {covered:.1f} of {needed:.1f} mm"
    return True, f"yes: {covered:.1f} for {needed:.1f} mm"
