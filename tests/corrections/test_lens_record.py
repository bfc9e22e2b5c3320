from __future__ import annotations

import math
from typing import Any

import pytest

from auditor.corrections.lens_record import NOTHING, Laid, lay_over, record_of
from auditor.corrections.packet import read_packet
from auditor.corrections.properties import (
    ADAPTER,
    APERTURE_VALUE,
    AUX,
    EXIF,
    EXIF_EX,
    F_NUMBER,
    FOCAL_LENGTH,
    FOCAL_LENGTH_35MM,
    LENS,
    LENS_MODEL,
    LENS_SPECIFICATION,
    PROPERTIES,
    RDF,
    Value,
    mark_of,
)
from auditor.corrections.statements import statements
from auditor.model.pairings import pairing_of
from tests.kits import small_kit

KIT = small_kit()
ORLA = record_of(pairing_of(KIT, "one", "orla-50", "m42-plain"))
HALE = record_of(pairing_of(KIT, "one", "hale-85", "m42-plain"))
CAMERA_WROTE = {FOCAL_LENGTH: 85.0, LENS_MODEL: "OWN LENS 3", LENS: "OWN LENS 3"}


def sidecar(**said: str) -> bytes:
    spaces = f'xmlns:exif="{EXIF}" xmlns:exifEX="{EXIF_EX}" xmlns:aux="{AUX}" xmlns:dc="urn:other#"'
    values = " ".join(f'{name.replace("_", ":", 1)}="{value}"' for name, value in said.items())
    return f'<rdf:RDF xmlns:rdf="{RDF}"><rdf:Description {spaces} {values}/></rdf:RDF>'.encode()


def said(content: bytes | None) -> dict[str, Any]:
    assert content is not None
    packet = read_packet(content)
    return {str(known): packet.value(known.key) for known in (*PROPERTIES, ADAPTER)}


# Exif (CIPA DC-008), ApertureValue is in APEX: Av = 2 log2 N, so f/2 is 2 and f/4 is 4 (ANSI PH2.5-1960's table of
# aperture values; from memory).
@pytest.mark.published
@pytest.mark.parametrize(("f_number", "apex"), [(1.0, "0/1"), (2.0, "2/1"), (4.0, "4/1"), (8.0, "6/1")])
def test_the_aperture_value_is_apex(f_number: float, apex: str) -> None:
    record = record_of(pairing_of(KIT, "one", "orla-50", "m42-plain"), aperture=f_number)
    assert record[APERTURE_VALUE] == apex


def test_a_reducer_shortens_the_focal_length_and_widens_the_aperture_but_not_the_lens() -> None:
    record = record_of(pairing_of(KIT, "one", "orla-50", "m42-reducer"), aperture=2.8)
    assert record[FOCAL_LENGTH] == "71/2"  # 50 × 0.71 = 35.5
    assert record[F_NUMBER] == "2/1"  # 2.8 × 0.71 = 1.988
    # 17.4 × 13.0 mm has a diagonal of 21.72 mm, 43.27 / 21.72 = 1.992; 35.5 × 1.992 = 70.7
    assert record[FOCAL_LENGTH_35MM] == "71"
    assert record[LENS_SPECIFICATION] == ("50/1", "50/1", "7/5", "7/5")
    assert record[ADAPTER] == "M42 reducer 0.71x"


def test_a_zoom_has_a_focal_length_only_where_its_position_was_noted() -> None:
    pairing = pairing_of(KIT, "one", "pell-35-70", "m42-plain")
    assert FOCAL_LENGTH not in record_of(pairing)
    assert FOCAL_LENGTH_35MM not in record_of(pairing)
    assert record_of(pairing, focal_mm=50.0)[FOCAL_LENGTH] == "50/1"
    assert record_of(pairing)[LENS_SPECIFICATION] == ("35/1", "70/1", "0/0", "0/0")


def test_what_is_not_known_is_not_said() -> None:
    record = record_of(pairing_of(KIT, "one", "hale-85", "m42-plain"), aperture=math.nan)
    assert {F_NUMBER, APERTURE_VALUE}.isdisjoint(record)


@pytest.mark.parametrize(
    "there",
    [
        sidecar(),
        sidecar(exif_FocalLength="850/10", aux_Lens="OWN LENS 3", exifEX_LensModel="OWN LENS 3"),
        sidecar(exif_FocalLength="0/1", aux_Lens="----"),
    ],
    ids=["nothing", "a copy of what the camera wrote", "blanks"],
)
def test_the_record_is_put_right(there: bytes) -> None:
    laid = lay_over(there, ORLA, CAMERA_WROTE)
    assert laid.left == ()
    found = said(laid.content)
    assert found["aux:Lens"] == found["exifEX:LensModel"] == "Orla 50 mm f/1.4"
    assert found["exif:FocalLength"] == "50/1"
    assert lay_over(laid.content, ORLA, CAMERA_WROTE) == Laid(laid.content)


def test_another_programs_edit_stays_with_all_that_belongs_to_it() -> None:
    there = sidecar(aux_Lens="Grandfather's Orla", dc_note="keep")
    laid = lay_over(there, ORLA, CAMERA_WROTE)
    assert laid.left == ("aux:Lens",)
    found = said(laid.content)
    assert (found["aux:Lens"], found["exifEX:LensModel"], found["exifEX:LensSpecification"]) == (
        "Grandfather's Orla",
        None,
        None,
    )
    assert found["exif:FocalLength"] == "50/1"  # the focal length is another matter, and nobody's yet
    assert statements(laid.content or b"")[("urn:other#", "note")] == ["keep"]


def test_an_edit_of_what_we_wrote_is_found_and_left() -> None:
    ours = lay_over(None, ORLA, {}).content or b""
    edited = ours.replace(b'exif:FocalLength="50/1"', b'exif:FocalLength="52/1"', 1)
    assert lay_over(edited, HALE, {}).left == ("exif:FocalLength",)
    assert said(lay_over(edited, HALE, {}).content)["exif:FocalLength"] == "52/1"
    assert said(lay_over(edited, HALE, {}).content)["aux:Lens"] == "Hale 85 mm f/2"
    taken_away = edited.replace(b'aux:Lens="Orla 50 mm f/1.4"', b"", 1)
    assert set(lay_over(taken_away, HALE, {}).left) == {"aux:Lens", "exif:FocalLength"}


def test_what_we_wrote_follows_what_we_know_now() -> None:
    ours = lay_over(sidecar(dc_note="keep"), ORLA, {}).content
    assert said(lay_over(ours, HALE, {}).content)["exif:FocalLength"] == "85/1"
    back = lay_over(ours, NOTHING, {}).content or b""
    assert statements(back) == {("urn:other#", "note"): ["keep"]}
    assert lay_over(back, NOTHING, {}).content == back


def test_an_aperture_that_is_no_longer_noted_is_taken_back() -> None:
    noted = record_of(pairing_of(KIT, "one", "orla-50", "m42-plain"), aperture=4.0)
    assert said(lay_over(lay_over(None, noted, {}).content, ORLA, {}).content)["exif:FNumber"] is None


def test_who_says_the_same_already_keeps_the_word() -> None:
    there = sidecar(exif_FocalLength="500/10", exif_FocalLengthIn35mmFilm="100")
    record = {FOCAL_LENGTH: "50/1", FOCAL_LENGTH_35MM: "100"}
    assert lay_over(there, record, {}) == Laid(there)
    assert lay_over(there, NOTHING, {}) == Laid(there)  # not ours to take back


def test_our_mark_goes_where_another_program_came_to_say_the_same() -> None:
    ours = lay_over(None, {FOCAL_LENGTH: "50/1"}, {}).content or b""
    edited = ours.replace(b'exif:FocalLength="50/1"', b'exif:FocalLength="85/1"', 1)
    agreed = lay_over(edited, {FOCAL_LENGTH: "85/1"}, {}).content or b""
    assert statements(agreed) == {FOCAL_LENGTH.key: ["85/1"]}


def test_a_structure_in_the_place_of_a_value_is_left() -> None:
    there = sidecar().replace(b"/></rdf:RDF>", b'><aux:Lens xml:lang="is">Linsa</aux:Lens></rdf:Description></rdf:RDF>')
    assert lay_over(there, {LENS: "Orla"}, {}).left == ("aux:Lens",)


def test_nothing_to_say_makes_no_file() -> None:
    assert lay_over(None, NOTHING, {}) == Laid(None)


@pytest.mark.parametrize(
    ("value", "wrote", "is_replaced"),
    [("50.2", 50.0, True), ("52/1", 50.0, False), ("fifty", 50.0, False), ("50/0", 50.0, True), ("50/1", None, False)],
)
def test_a_copy_may_be_rounded(value: str, wrote: float | None, is_replaced: bool) -> None:
    wanted: dict[Any, Value] = {FOCAL_LENGTH: "71/2"}
    recorded = {} if wrote is None else {FOCAL_LENGTH: wrote}
    laid = lay_over(sidecar(exif_FocalLength=value), wanted, recorded)
    assert (said(laid.content)["exif:FocalLength"] == "71/2") is is_replaced
    assert mark_of(FOCAL_LENGTH) != FOCAL_LENGTH
