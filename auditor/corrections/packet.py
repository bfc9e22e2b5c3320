"""
Where the properties of an XMP packet stand, byte by byte, so that one can be changed and all else left as it is.

Read with expat's offsets. Refused: what is not well-formed XML in UTF-8, a document type (the door of every entity
attack), more than 8 MB, nesting deeper than 64, and packets that describe several resources.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from auditor.corrections.properties import RDF, Value

__all__ = ["MOST_BYTES", "Packet", "Place", "UnfitPacket", "read_packet"]

MOST_BYTES = 8 << 20
_DEEPEST = 64
_BREAK = "\n"  # cannot stand in a namespace name, so it parts one from the local name
_ATTRIBUTE = re.compile(rb"""([^\s=<>/"']+)\s*=\s*("[^"]*"|'[^']*')""")
_ABOUT = (RDF, "about")
_UNIQUE = frozenset({_ABOUT, (RDF, "ID"), (RDF, "nodeID")})
_XML = "http://www.w3.org/XML/1998/namespace"

Name = tuple[str, str]
Span = tuple[int, int]


class UnfitPacket(ValueError):
    """The packet is not changed; the text says why, in words for the user."""


@dataclass(frozen=True)
class Place:
    """
    One property in the bytes.

    Attributes
    ----------
    name : tuple of str
        Namespace and local name.
    whole : tuple of int
        First byte and one past the last of the attribute or element.
    inner : tuple of int or None
        Of the value between the quotes or tags; None for an element that closes itself.
    quote : bytes
        The quotation mark of an attribute; empty for an element.
    value : str, tuple of str or None
        A simple value, or the items of an ordered array; None for anything else, which is never touched.
    """

    name: Name
    whole: Span
    inner: Span | None
    quote: bytes
    value: Value | None


@dataclass
class Packet:
    """
    A packet's properties and where a new description can be put.

    Attributes
    ----------
    places : list of Place
        Every property of the resource, doubles too.
    end : tuple of int
        The bytes that a new description goes in place of: before the end tag of rdf:RDF, which is empty.
    is_closed : bool
        rdf:RDF closes itself.
    about : str
        What the descriptions are about; empty for the file itself.
    prefixes : dict
        A prefix that is in use, by namespace.
    """

    places: list[Place] = field(default_factory=list)
    end: Span = (0, 0)
    is_closed: bool = False
    about: str = ""
    prefixes: dict[str, str] = field(default_factory=dict)

    def find(self, name: Name) -> Place | None:
        """
        Return where a property stands, None when it does not.

        Raises
        ------
        UnfitPacket
            It stands there twice.
        """
        found = [place for place in self.places if place.name == name]
        if len(found) > 1:
            raise UnfitPacket(f"says {name[1]} {len(found)} times, so it cannot be told which one counts")
        return found[0] if found else None

    def value(self, name: Name) -> Value | None:
        """Return a property's value, None when it is absent or neither simple nor an ordered array."""
        place = self.find(name)
        return place.value if place else None


@dataclass
class _Element:
    name: Name
    start: int
    inner: int
    attributes: dict[Name, str]
    is_closed: bool
    text: list[str] = field(default_factory=list)
    children: list[_Element] = field(default_factory=list)


def _split(name: str) -> Name:
    namespace, parted, local = name.rpartition(_BREAK)
    return (namespace, local) if parted else ("", name)


def _tag_end(content: bytes, start: int) -> int:
    """Return one past the > that ends the tag; a > may stand inside quotes."""
    at, quote = start, 0
    while True:
        byte = content[at]
        if quote:
            quote = 0 if byte == quote else quote
        elif byte in b"\"'":
            quote = byte
        elif byte == ord(">"):
            return at + 1
        at += 1


class _Reading:
    """One run of the parser over a packet."""

    def __init__(self, content: bytes) -> None:
        self.content = content
        self.packet = Packet()
        self.open: list[_Element] = []
        self.scopes: list[dict[str, str]] = [{"xml": _XML}]
        self.declared: dict[str, str] = {}
        self.abouts: set[str] = set()
        self.roots = 0
        self.parser = expat.ParserCreate(namespace_separator=_BREAK)
        self.parser.buffer_text = True
        self.parser.StartNamespaceDeclHandler = self._declare
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._characters
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.parser.XmlDeclHandler = self._declaration

    def _doctype(self, *_: object) -> None:
        raise UnfitPacket("holds a document type or entities, which a sidecar has no use for")

    def _declaration(self, _version: str, encoding: str | None, _standalone: int) -> None:
        if encoding and encoding.casefold() not in ("utf-8", "us-ascii", "ascii"):
            raise UnfitPacket(f"is written in {encoding}, not in UTF-8")

    def _declare(self, prefix: str | None, uri: str | None) -> None:
        self.declared[prefix or ""] = uri or ""
        if prefix and uri:
            self.packet.prefixes.setdefault(uri, prefix)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if len(self.open) >= _DEEPEST:
            raise UnfitPacket(f"is nested deeper than {_DEEPEST} levels")
        self.scopes.append({**self.scopes[-1], **self.declared})
        self.declared = {}
        start = self.parser.CurrentByteIndex
        inner = _tag_end(self.content, start)
        named = {_split(key): value for key, value in attributes.items()}
        element = _Element(_split(name), start, inner, named, self.content[inner - 2 : inner] == b"/>")
        if self.open:
            self.open[-1].children.append(element)
        self.open.append(element)
        if len(self.open) > 1 and self.open[-2].name == (RDF, "RDF"):
            if element.name != (RDF, "Description"):
                raise UnfitPacket("uses a form of RDF that XMP does not allow")
            self.abouts.add(named.get(_ABOUT, named.get(("", "about"), "")))
            self.packet.places += self._attribute_places(element)

    def _attribute_places(self, element: _Element) -> Iterator[Place]:
        tag = self.content[element.start : element.inner]
        for found in _ATTRIBUTE.finditer(tag):
            prefix, parted, local = found[1].decode().partition(":")
            name = (self.scopes[-1].get(prefix, ""), local)
            if not parted or prefix == "xmlns" or name[0] == _XML or name in _UNIQUE:
                continue
            whole = (element.start + found.start(), element.start + found.end())
            inner = (element.start + found.start(2) + 1, whole[1] - 1)
            yield Place(name, whole, inner, found[2][:1], element.attributes[name])

    def _characters(self, text: str) -> None:
        if self.open:
            self.open[-1].text.append(text)

    def _end(self, _name: str) -> None:
        element = self.open.pop()
        self.scopes.pop()
        at = self.parser.CurrentByteIndex
        end = element.inner if element.is_closed else _tag_end(self.content, at)
        if element.name == (RDF, "RDF"):
            self.roots += 1
            self.packet.end = (element.inner - 2, element.inner) if element.is_closed else (at, at)
            self.packet.is_closed = element.is_closed
        elif self._is_property():
            inner = None if element.is_closed else (element.inner, at)
            place = Place(element.name, (element.start, end), inner, b"", self._value(element, inner))
            self.packet.places.append(place)

    def _is_property(self) -> bool:
        return [element.name for element in self.open[-2:]] == [(RDF, "RDF"), (RDF, "Description")]

    def _value(self, element: _Element, inner: Span | None) -> Value | None:
        if element.attributes:
            return None  # a qualifier, a resource or a structure
        if not element.children:
            held = self.content[slice(*inner)] if inner else b""
            return None if b"<" in held else "".join(element.text)  # a comment in it, or marked as literal
        kinds = [child.name for child in element.children]
        items = element.children[0].children
        plain = all(not item.children and not item.attributes for item in items)
        is_array = kinds == [(RDF, "Seq")] and plain and all(item.name == (RDF, "li") for item in items)
        return tuple("".join(item.text) for item in items) if is_array else None


def read_packet(content: bytes) -> Packet:
    """
    Find every property of an XMP packet in its bytes.

    Parameters
    ----------
    content : bytes
        A sidecar's content.

    Raises
    ------
    UnfitPacket
        It is not a packet that can be changed safely.

    Examples
    --------
    >>> packet = read_packet(b'''<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description
    ...   xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:FocalLength="50/1"/></rdf:RDF>''')
    >>> packet.value(("http://ns.adobe.com/exif/1.0/", "FocalLength"))
    '50/1'
    """
    if len(content) > MOST_BYTES:
        raise UnfitPacket(f"is larger than {MOST_BYTES >> 20} MB, too large for a sidecar")
    if not content.strip():
        raise UnfitPacket("is empty")
    try:
        content.decode("utf-8")
    except UnicodeDecodeError as reason:
        raise UnfitPacket(f"is not UTF-8 (byte {reason.start})") from None
    reading = _Reading(content)
    try:
        reading.parser.Parse(content, True)
    except expat.ExpatError as reason:
        raise UnfitPacket(f"is not XML (line {reason.lineno}: {expat.ErrorString(reason.code)})") from None
    if reading.roots != 1:
        raise UnfitPacket("holds no XMP" if not reading.roots else "holds more than one XMP packet")
    named = reading.abouts - {""}
    if len(named) > 1:
        raise UnfitPacket("describes more than one resource")
    reading.packet.about = next(iter(named), "")
    return reading.packet
