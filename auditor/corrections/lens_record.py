"""What a frame's record should say of its lens, and how that is laid over what a sidecar already says."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

from auditor.corrections.packet import Packet, read_packet
from auditor.corrections.properties import (
    ADAPTER,
    APERTURE_VALUE,
    F_NUMBER,
    FOCAL_LENGTH,
    FOCAL_LENGTH_35MM,
    LENS,
    LENS_MODEL,
    LENS_SPECIFICATION,
    PROPERTIES,
    Property,
    Value,
    is_blank,
    mark_of,
    rational,
    same_value,
)
from auditor.corrections.splice import NEW_PACKET, with_properties
from auditor.model.pairings import Pairing
from auditor.optics.adapters import through_factor
from auditor.optics.sensors import crop_factor, equivalent_focal_mm

__all__ = ["NOTHING", "Laid", "Record", "Recorded", "lay_over", "record_of"]

Record: TypeAlias = Mapping[Property, Value]
"""What should stand in the sidecar."""

Recorded: TypeAlias = Mapping[Property, float | str]
"""What the camera wrote into the frame itself, as far as it wrote something."""

NOTHING: Record = MappingProxyType({})
"""The record of a frame whose lens is not known (any more): what we wrote before is taken back."""

# What belongs together is ours or another program's, never mixed.
_GROUPS = (
    (LENS_MODEL, LENS_SPECIFICATION, LENS),
    (FOCAL_LENGTH, FOCAL_LENGTH_35MM),
    (F_NUMBER, APERTURE_VALUE),
)
_COPY_WITHIN = 0.01


@dataclass(frozen=True)
class Laid:
    """
    A sidecar with the record laid over it.

    Attributes
    ----------
    content : bytes or None
        What it should hold; None where there is no file and nothing to say.
    left : tuple of str
        Properties that another program says otherwise, which are left to it.
    """

    content: bytes | None
    left: tuple[str, ...] = ()


def record_of(pairing: Pairing, focal_mm: float = math.nan, aperture: float = math.nan) -> Record:
    """
    Return what the record of a frame should say.

    Parameters
    ----------
    pairing : Pairing
        Lens, adapters and body.
    focal_mm : float
        Position of a zoom, without adapter, NaN where it was not noted. [mm]
    aperture : float
        f-number as set on the lens, NaN where it was not noted. [-]

    Returns
    -------
    mapping of Property to value
        Focal length and f-number are those of the picture, with the adapters' factor; the lens's name and
        specification are those of the lens alone. A zoom whose position was not noted has no focal length here.

    References
    ----------
    .. [1] CIPA DC-008, Exif: FocalLength is the actual focal length, not that on 35 mm film; FNumber; ApertureValue is
       the APEX value 2·log2(N); LensSpecification holds shortest and longest focal length and the smallest f-number at
       each, 0/0 where one is not known; FocalLengthIn35mmFilm is whole millimetres.

    Examples
    --------
    >>> from auditor.model.kit import Adapter, Body, Lens
    >>> body = Body(id="one", name="Silver body", exif_model="S", mount="MFT", sensor_mm=(17.4, 13.0))
    >>> lens = Lens(id="orla-50", name="Orla 50 mm f/1.4", focal_mm=50, max_aperture=1.4, mount="M42")
    >>> reducer = Adapter(id="r", name="Reducer 0.71x", lens_mount="M42", body_mount="MFT", factor=0.71)
    >>> for known, value in record_of(Pairing(body, lens, (reducer,)), aperture=2.8).items():
    ...     print(known, value)
    exifEX:LensModel Orla 50 mm f/1.4
    exifEX:LensSpecification ('50/1', '50/1', '7/5', '7/5')
    aux:Lens Orla 50 mm f/1.4
    exif:FocalLength 71/2
    exif:FocalLengthIn35mmFilm 71
    exif:FNumber 2/1
    exif:ApertureValue 99/50
    steadykeep:Adapter Reducer 0.71x
    """
    lens = pairing.lens
    record: dict[Property, Value] = {
        LENS_MODEL: lens.name,
        LENS_SPECIFICATION: _specification(lens.focal_mm, lens.max_aperture),
        LENS: lens.name,
    }
    short_mm, long_mm = lens.true_focal_mm
    at_mm = short_mm if short_mm == long_mm else focal_mm
    if math.isfinite(at_mm):
        effective_mm = float(through_factor(at_mm, pairing.factor))
        record[FOCAL_LENGTH] = rational(effective_mm)
        if pairing.body.sensor_mm is not None:
            crop = crop_factor(*pairing.body.sensor_mm)
            record[FOCAL_LENGTH_35MM] = str(round(float(equivalent_focal_mm(effective_mm, crop))))
    if math.isfinite(aperture):
        f_number = float(through_factor(aperture, pairing.factor))
        record[F_NUMBER] = rational(f_number)
        record[APERTURE_VALUE] = rational(2 * math.log2(f_number), 2)
    if pairing.adapters:
        record[ADAPTER] = " + ".join(adapter.name for adapter in pairing.adapters)
    return record


def _specification(focal_mm: tuple[float, float], max_aperture: float | None) -> Value:
    widest = "0/0" if max_aperture is None else rational(max_aperture, 2)
    at_long_end = widest if focal_mm[0] == focal_mm[1] else "0/0"  # the kit knows a zoom's largest aperture only once
    return (rational(focal_mm[0]), rational(focal_mm[1]), widest, at_long_end)


def lay_over(content: bytes | None, record: Record, recorded: Recorded) -> Laid:
    """
    Lay a record over what a sidecar says; another program's edits stay.

    Parameters
    ----------
    content : bytes or None
        The sidecar's content, None where there is none.
    record : mapping
        What should be said; what we said before and is not in it is taken back.
    recorded : mapping
        What the camera wrote: a sidecar that only copies it is corrected.

    Returns
    -------
    Laid

    Raises
    ------
    UnfitPacket
        The sidecar cannot be changed safely.

    Notes
    -----
    A property is replaced where it is absent, blank, a copy of what the camera wrote, or still what we wrote; our own
    namespace keeps what we wrote. Anything else is another program's edit, and its whole group (lens, focal length,
    aperture) is left to it.

    Examples
    --------
    >>> laid = lay_over(None, {LENS: "Orla 50"}, {})
    >>> lay_over(laid.content, {LENS: "Hale 85"}, {}).content == laid.content.replace(b"Orla 50", b"Hale 85")
    True
    >>> edited = laid.content.replace(b'aux:Lens="Orla 50"', b'aux:Lens="My old Orla"')
    >>> lay_over(edited, {LENS: "Hale 85"}, {}) == Laid(edited, ("aux:Lens",))
    True
    """
    if content is None and not record:
        return Laid(None)
    packet = read_packet(content if content is not None else NEW_PACKET)
    changes: dict[Property, Value | None] = {}
    left: list[str] = []
    for group in _GROUPS:
        others = [known for known in group if _is_anothers(packet, known, record.get(known), recorded)]
        if others:
            left += [str(known) for known in others if known in record]
        else:
            for known in group:
                changes |= _changes(packet, known, record.get(known))
    changes |= _adapter_change(packet, record, changes)
    if not changes:
        return Laid(content, tuple(left))
    return Laid(with_properties(content if content is not None else NEW_PACKET, changes), tuple(left))


def _is_anothers(packet: Packet, known: Property, wanted: Value | None, recorded: Recorded) -> bool:
    place, mark = packet.find(known.key), packet.value(mark_of(known).key)
    if place is None:
        return mark is not None and wanted is not None  # somebody took away what we wrote
    if place.value is None:
        return True
    if same_value(known, place.value, wanted) or same_value(known, place.value, mark):
        return False
    if wanted is None and mark is None:
        return False  # nothing of it is ours, and nothing is wanted
    return not (is_blank(place.value) or _is_copy(known, place.value, recorded))


def _changes(packet: Packet, known: Property, wanted: Value | None) -> dict[Property, Value | None]:
    """Return what has to change for a property that is nobody else's, with our mark of it."""
    value, mark = packet.value(known.key), packet.value(mark_of(known).key)
    if wanted is None:
        return {} if mark is None else {known: None, mark_of(known): None}
    if same_value(known, value, wanted):
        return {} if mark is None or same_value(known, mark, wanted) else {mark_of(known): None}
    return {known: wanted, mark_of(known): wanted}


def _adapter_change(
    packet: Packet, record: Record, changes: Mapping[Property, Value | None]
) -> dict[Property, Value | None]:
    """Keep the adapter's name where the packet will hold anything of ours, and only there."""
    marks = {mark_of(known): packet.value(mark_of(known).key) for known in PROPERTIES}
    has_ours = any(
        value is not None for value in {**marks, **{k: v for k, v in changes.items() if k in marks}}.values()
    )
    wanted = record.get(ADAPTER) if has_ours else None
    return {} if packet.value(ADAPTER.key) == wanted else {ADAPTER: wanted}


def _is_copy(known: Property, value: Value, recorded: Recorded) -> bool:
    wrote = recorded.get(known)
    if isinstance(wrote, str) or wrote is None:
        return wrote is not None and isinstance(value, str) and value.strip() == wrote
    return _nearly(value if isinstance(value, str) else value[0], wrote)


def _nearly(value: str, number: float) -> bool:
    """Compare with a tolerance: programs round what they copy."""
    top, _, bottom = value.partition("/")
    try:
        return math.isclose(float(top) / float(bottom or 1), number, rel_tol=_COPY_WITHIN)
    except (ValueError, ZeroDivisionError):
        return False
