"""The editor of XMP packets, held to exiv2's XMP toolkit property by property."""

from __future__ import annotations

import random
from typing import Any

import pytest

from auditor.corrections import splice
from auditor.corrections.packet import MOST_BYTES, UnfitPacket, read_packet
from auditor.corrections.properties import (
    ADAPTER,
    AUX,
    EXIF,
    EXIF_EX,
    F_NUMBER,
    FOCAL_LENGTH,
    FOCAL_LENGTH_35MM,
    LENS,
    LENS_MODEL,
    LENS_SPECIFICATION,
    Property,
    Value,
    mark_of,
)
from auditor.corrections.splice import NEW_PACKET, with_properties
from auditor.corrections.statements import statements
from tests.corrections.toolkit import Toolkit

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
WANTED: dict[Property, Value] = {
    LENS_MODEL: 'Brúna 135 mm "f/3.5" <&>',
    LENS_SPECIFICATION: ("135/1", "135/1", "7/2", "7/2"),
    LENS: "Brúna 135 mm",
    FOCAL_LENGTH: "1917/20",
    FOCAL_LENGTH_35MM: "191",
    F_NUMBER: "5/2",
    mark_of(LENS): "Brúna 135 mm",
    ADAPTER: "M42 reducer 0.71x",
}
TOOLKIT_KEYS = {known: f"Xmp.{str(known).replace(':', '.')}" for known in WANTED}


def packet(description: str, *, about: str = "", more: str = "") -> bytes:
    return (
        f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="{RDF}">'
        f'<rdf:Description rdf:about="{about}" xmlns:exif="{EXIF}" xmlns:exifEX="{EXIF_EX}" xmlns:aux="{AUX}" '
        f"{description}</rdf:Description>{more}</rdf:RDF></x:xmpmeta>"
    ).encode()


def as_the_toolkit_says(value: Value) -> str:
    return value if isinstance(value, str) else ", ".join(value)


# Names and types of the properties: CIPA DC-X010-2017, chapters 7 and 8; the toolkit knows them by the same.
@pytest.mark.published
def test_the_toolkit_reads_what_was_written_under_the_standards_names(exiv2_toolkit: Toolkit) -> None:
    said = {key: (kind, value) for key, kind, value in exiv2_toolkit.read(with_properties(NEW_PACKET, WANTED))}
    assert said == {
        TOOLKIT_KEYS[known]: ("XmpText" if isinstance(value, str) else "XmpSeq", as_the_toolkit_says(value))
        for known, value in WANTED.items()
    }


NAMES = ["note", "Weather", "place_of_it", "x1", "Lens"]
WORDS = ["evening", "Zürich", "“quoted”", "a < b & c", "  spaced  ", "1/60", "日暮れ", "it's", "=1+1", "two\nlines"]


def a_value(chance: random.Random) -> tuple[str, Any]:
    kind = chance.choice(["text", "text", "bag", "seq", "languages"])
    words = chance.sample(WORDS, 3)
    if kind == "text":
        return kind, words[0]
    if kind == "languages":
        return kind, {"x-default": "Evening", "de-DE": "Abend", "is-IS": chance.choice(["Kvöld", "Nótt"])}
    return kind, [word.strip() for word in words]


def some_properties(chance: random.Random) -> list[tuple[str, str, Any]]:
    keys = {f"Xmp.{chance.choice(['lantern', 'harbour'])}.{name}" for name in chance.choices(NAMES, k=4)}
    made = [(key, *a_value(chance)) for key in sorted(keys)]
    if chance.random() < 0.5:
        made += [("Xmp.dc.title", "languages", {"x-default": "Pier", "de-DE": "Steg"})]
    if chance.random() < 0.5:
        made += [
            ("Xmp.xmpMM.DerivedFrom", "struct", ""),
            ("Xmp.xmpMM.DerivedFrom/stRef:documentID", "text", "urn:uuid:1"),
            ("Xmp.xmpMM.DerivedFrom/stRef:instanceID", "text", "two"),
        ]
    if chance.random() < 0.5:
        made += [("Xmp.xmp.Rating", "text", "4"), ("Xmp.exif.FocalLength", "text", "50/1")]
    if chance.random() < 0.3:
        made += [("Xmp.exifEX.LensSpecification", "seq", ["35/1", "70/1", "0/0", "0/0"])]
    return made


@pytest.mark.parametrize("seed", range(60))
def test_everything_that_the_toolkit_put_in_is_kept(seed: int, exiv2_toolkit: Toolkit) -> None:
    chance = random.Random(seed)  # noqa: S311
    made = exiv2_toolkit.make(some_properties(chance), compact=chance.random() < 0.5)
    before = exiv2_toolkit.read(made)
    changes = {known: WANTED[known] for known in chance.sample(list(WANTED), chance.randint(1, len(WANTED)))}
    once = with_properties(made, changes)
    ours = {TOOLKIT_KEYS[known] for known in changes}
    after = exiv2_toolkit.read(once)
    assert [row for row in after if row[0] not in ours] == [row for row in before if row[0] not in ours]
    assert {key: value for key, _, value in after if key in ours} == {
        TOOLKIT_KEYS[known]: as_the_toolkit_says(value) for known, value in changes.items()
    }
    assert with_properties(once, changes) == once  # nothing to change: not a byte changes
    taken = with_properties(once, dict.fromkeys(changes))
    assert exiv2_toolkit.read(taken) == [row for row in before if row[0] not in ours]


@pytest.mark.parametrize("seed", range(10))
def test_a_packet_rewritten_by_the_toolkit_is_still_updated(seed: int, exiv2_toolkit: Toolkit) -> None:
    """The toolkit lays everything out anew, our properties as elements among its own."""
    ours = [(TOOLKIT_KEYS[known], "text" if isinstance(value, str) else "seq",
             value if isinstance(value, str) else list(value)) for known, value in WANTED.items()]  # fmt: skip
    chance = random.Random(seed)  # noqa: S311
    theirs = [row for row in some_properties(chance) if row[0] not in TOOLKIT_KEYS.values()]
    rewritten = exiv2_toolkit.make([*theirs, *ours], compact=bool(seed % 2))
    updated = with_properties(rewritten, {FOCAL_LENGTH: "50/1", LENS_SPECIFICATION: ("50/1", "50/1", "7/5", "7/5")})
    said = {key: value for key, _, value in exiv2_toolkit.read(updated)}
    assert said.pop("Xmp.exif.FocalLength") == "50/1"
    assert said.pop("Xmp.exifEX.LensSpecification") == "50/1, 50/1, 7/5, 7/5"
    was = {key: value for key, _, value in exiv2_toolkit.read(rewritten)}
    assert said == {key: value for key, value in was.items() if key in said}
    assert len(was) == len(said) + 2


FORMS = {
    "attribute": ('exif:FocalLength="50/1">', 'exif:FocalLength="71/2">'),
    "single quotes": ("exif:FocalLength = '50/1'>", "exif:FocalLength = '71/2'>"),
    "element": ("><exif:FocalLength>50/1</exif:FocalLength>", "><exif:FocalLength>71/2</exif:FocalLength>"),
    "element that closes itself": ("><exif:FocalLength />", "><exif:FocalLength>71/2</exif:FocalLength>"),
    "other prefix": (
        f'><e:FocalLength xmlns:e="{EXIF}">50/1</e:FocalLength>',
        f'><e:FocalLength xmlns:e="{EXIF}">71/2</e:FocalLength>',
    ),
    "a > in a value before it": (
        'aux:Firmware="1 > 2" exif:FocalLength="50/1">',
        'aux:Firmware="1 > 2" exif:FocalLength="71/2">',
    ),
    "comment beside it": (
        "><!-- 50/1 --><exif:FocalLength>50/1</exif:FocalLength><?keep me?>",
        "><!-- 50/1 --><exif:FocalLength>71/2</exif:FocalLength><?keep me?>",
    ),
}  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
def test_only_the_bytes_of_the_value_change(form: str) -> None:
    before, after = (packet(text) for text in FORMS[form])
    assert with_properties(before, {FOCAL_LENGTH: "71/2"}) == after


def test_what_is_new_goes_into_one_place_and_all_other_bytes_stay() -> None:
    wrapped = (
        b'\xef\xbb\xbf<?xpacket begin="\xef\xbb\xbf"?>\r\n'
        + packet('aux:Firmware="9">')
        + b"\r\n  \r\n<?xpacket end='w'?>"
    )
    changed = with_properties(wrapped, {LENS: "Orla 50"})
    at = wrapped.index(b"</rdf:RDF>")
    assert changed.startswith(wrapped[:at])
    assert changed.endswith(wrapped[at:])
    assert b"\n" not in changed.replace(b"\r\n", b"")


def test_a_prefix_that_means_something_else_is_not_taken(exiv2_toolkit: Toolkit) -> None:
    odd = packet('xmlns:steadykeep="urn:example:lantern#" steadykeep:note="theirs">', about="urn:uuid:7")
    changed = with_properties(odd, {mark_of(LENS): "Orla 50"})
    assert [(key, value) for key, _, value in exiv2_toolkit.read(changed)] == [
        ("Xmp.lantern.note", "theirs"),
        ("Xmp.steadykeep.Lens", "Orla 50"),
    ]
    assert changed.count(b'rdf:about="urn:uuid:7"') == 2


SPECIFICATION = ("50/1", "50/1", "0/0", "0/0")


def test_a_packet_that_says_nothing_yet(exiv2_toolkit: Toolkit) -> None:
    wrapped = f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="{RDF}"/></x:xmpmeta>'.encode()
    changed = with_properties(wrapped, {LENS: "Orla 50", LENS_SPECIFICATION: SPECIFICATION})
    assert {row[0] for row in exiv2_toolkit.read(changed)} == {"Xmp.aux.Lens", "Xmp.exifEX.LensSpecification"}


def test_rdf_may_go_by_another_prefix() -> None:
    # Read by our own second reader: exiv2 finds nothing at all in such a packet, before and after.
    wrapped = f'<r:RDF xmlns:r="{RDF}" ></r:RDF>'.encode()
    changed = with_properties(wrapped, {LENS: "Orla 50", LENS_SPECIFICATION: SPECIFICATION})
    assert statements(changed) == {LENS.key: ["Orla 50"], LENS_SPECIFICATION.key: [SPECIFICATION]}
    assert b"rdf:" not in changed


BOMB = b"""<?xml version="1.0"?><!DOCTYPE bomb [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>""" + packet('aux:Firmware="x">&c;')
UNFIT = {
    "is empty": b" \n",
    "is not XML": b"JFIF, or so",
    "is not UTF-8": packet('aux:Firmware="caf\xe9">').decode().encode("latin-1"),
    "is not UTF-8 (byte 0)": packet(">").decode().encode("utf-16"),
    "is written in ISO-8859-1": b'<?xml version="1.0" encoding="ISO-8859-1"?>' + packet(">"),
    "document type": BOMB,
    "nested deeper": packet(">" + "<aux:a>" * 70 + "</aux:a>" * 70),
    "no XMP": b"<gpx><trk/></gpx>",
    "more than one XMP": b"<all>" + packet(">") + packet(">") + b"</all>",
    "more than one resource": packet(">", about="urn:a", more='<rdf:Description rdf:about="urn:b"/>'),
    "form of RDF": packet(">", more='<x:Photo rdf:about=""/>'),
    "FocalLength 2 times": packet('exif:FocalLength="1/1"><exif:FocalLength>2/1</exif:FocalLength>'),
    "form of its own": packet('><exif:FocalLength xml:lang="en">50/1</exif:FocalLength>'),
    "is larger than 8 MB": packet(">" + " " * MOST_BYTES),
    "a list belongs": packet('exifEX:LensSpecification="35 70">'),
}


@pytest.mark.parametrize("why", UNFIT)
def test_what_cannot_be_changed_safely_is_refused_and_says_why(why: str) -> None:
    with pytest.raises(UnfitPacket, match=why.replace("(", r"\(").replace(")", r"\)")):
        with_properties(UNFIT[why], {FOCAL_LENGTH: "50/1", LENS_SPECIFICATION: ("50/1", "50/1", "0/0", "0/0")})


def test_a_marked_section_and_a_comment_in_a_value_are_left_to_their_writer() -> None:
    for inner in ("<![CDATA[50/1]]>", "50/1<!-- mine -->"):
        assert read_packet(packet(f"><exif:FocalLength>{inner}</exif:FocalLength>")).value(FOCAL_LENGTH.key) is None


def test_a_slip_of_the_editor_is_caught_by_the_second_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(splice, "_applied", lambda content, _edits: content.replace(b"9", b"8"))
    with pytest.raises(UnfitPacket, match="without changing something else"):
        with_properties(packet('aux:Firmware="9">'), {FOCAL_LENGTH: "50/1"})


def test_signs_that_xml_cannot_hold_are_dropped_from_a_name() -> None:
    assert read_packet(with_properties(NEW_PACKET, {LENS: "Or\x00la\x07 50"})).value(LENS.key) == "Orla 50"
