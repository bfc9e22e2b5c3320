"""What an XMP packet says, property by property, read by another parser than the one that changes it."""

from __future__ import annotations

from typing import TypeAlias
from xml.etree.ElementTree import Element, ParseError

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import fromstring

from auditor.corrections.packet import UnfitPacket
from auditor.corrections.properties import RDF

__all__ = ["Statements", "statements"]

Statements: TypeAlias = dict[tuple[str, str], list[object]]
"""The values of each property, by namespace and name; a simple value as text, an ordered array of them as tuple."""

_NOT_PROPERTIES = {f"{{{RDF}}}{name}" for name in ("about", "ID", "nodeID")} | {"about"}


def statements(content: bytes) -> Statements:
    """
    Read what a packet says.

    Parameters
    ----------
    content : bytes
        In UTF-8.

    Raises
    ------
    UnfitPacket
        It cannot be read.

    Examples
    --------
    >>> statements(b'''<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description
    ...   xmlns:aux="http://ns.adobe.com/exif/1.0/aux/" aux:Lens="Orla 50"/></rdf:RDF>''')
    {('http://ns.adobe.com/exif/1.0/aux/', 'Lens'): ['Orla 50']}
    """
    try:
        root: Element = fromstring(content, forbid_dtd=True)
    except (ParseError, DefusedXmlException, ValueError) as reason:
        raise UnfitPacket(f"cannot be read ({reason})") from None
    said: Statements = {}
    for rdf in root.iter(f"{{{RDF}}}RDF"):
        for description in rdf.iterfind(f"{{{RDF}}}Description"):
            for key, value in description.attrib.items():
                if key not in _NOT_PROPERTIES:
                    said.setdefault(_name(key), []).append(value)
            for element in description:
                said.setdefault(_name(element.tag), []).append(_value(element))
    return said


def _name(key: str) -> tuple[str, str]:
    namespace, parted, local = key.rpartition("}")
    return (namespace.removeprefix("{"), local) if parted else ("", key)


def _value(element: Element) -> object:
    if not element.attrib and not len(element):
        return element.text or ""
    items = element[0] if len(element) == 1 and element[0].tag == f"{{{RDF}}}Seq" else ()
    if not element.attrib and len(items) and all(not item.attrib and not len(item) for item in items):
        return tuple(item.text or "" for item in items)
    return _whole(element)


def _whole(element: Element) -> object:
    """Return everything of an element, as a value that can be compared."""
    inner = [_whole(child) for child in element]
    text = [(part or "").strip() if inner else part or "" for part in (element.text, *(c.tail for c in element))]
    return (element.tag, sorted(element.attrib.items()), text, inner)
