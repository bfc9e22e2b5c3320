"""
The rating in an XMP packet or sidecar: ``xmp:Rating``, −1 rejected, 0 to 5.

ISO 16684-1: a property is an attribute of an rdf:Description or an element in it, under the namespace
``http://ns.adobe.com/xap/1.0/`` whatever its prefix. Parsed by defusedxml: no entities, no DTD, nothing fetched.
"""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element, ParseError

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import fromstring

__all__ = ["MOST_XMP_BYTES", "rating"]

MOST_XMP_BYTES = 1 << 20
_RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
_RATING = "{http://ns.adobe.com/xap/1.0/}Rating"
_PACKET = re.compile(rb"<\?xpacket[^>]*\?>")


def _as_rating(text: str | None) -> int | None:
    try:
        value = float(text or "")
    except ValueError:
        return None
    return int(value) if value in (-1, 0, 1, 2, 3, 4, 5) else None


_NAMESPACE = re.compile(rb"xmlns:([A-Za-z_][\w.-]*)\s*=\s*[\"']http://ns\.adobe\.com/xap/1\.0/[\"']")
_URI = b"http://ns.adobe.com/xap/1.0/"
_UNPLAIN = (b"<!", b"\0")
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


def _plain_rating(packet: bytes) -> tuple[bool, bytes | None]:
    """
    Find the rating of a plain packet without a parser, 20 times faster.

    Plain is a packet without comments or declarations in which the namespace has one prefix, bound once, and at most
    one property of that name. Returns whether it is plain, and the rating's text.
    """
    prefixes = _NAMESPACE.findall(packet)
    if len(prefixes) != 1 or any(mark in packet for mark in _UNPLAIN):
        return False, None
    name = re.escape(prefixes[0])
    uses = packet.count(prefixes[0] + b":Rating")
    if uses > 2 or len(re.findall(rb"xmlns:" + name + rb"\s*=", packet)) != 1:
        return False, None
    attributes = re.findall(rb"\s" + name + rb":Rating\s*=\s*[\"']([^\"']{0,9})[\"']", packet)
    elements = re.findall(rb"<" + name + rb":Rating>([^<&]{0,9})</" + name + rb":Rating>", packet)
    found: list[bytes] = [*attributes, *elements]
    if not uses:
        return True, None
    return (True, found[0]) if len(found) == 1 else (False, None)


def _parsed(packet: bytes) -> Element | None:
    try:
        root: Element = fromstring(_PACKET.sub(b"", packet).strip(b"\0 \t\r\n\xef\xbb\xbf"), forbid_dtd=True)
    except (ParseError, DefusedXmlException, ValueError, LookupError):
        return None
    return root


def rating(packet: bytes) -> int | None:
    """
    Return the rating in an XMP packet, None when there is none or the packet is damaged.

    Parameters
    ----------
    packet : bytes
        The packet or the content of a sidecar, in UTF-8 or another encoding that its XML declaration names.

    Examples
    --------
    >>> rating(b'''<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF
    ...   xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description
    ...   xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="4"/></rdf:RDF></x:xmpmeta>''')
    4
    >>> rating(b"<x:xmpmeta") is None
    True
    """
    if not packet.startswith(_UTF16):
        if b"Rating" not in packet or _URI not in packet:
            return None  # nearly every packet: not worth a parser
        is_plain, text = _plain_rating(packet)
        if is_plain:
            return None if text is None else _as_rating(text.decode("latin-1"))
    root = _parsed(packet)
    if root is None:
        return None
    for description in root.iter(f"{_RDF}Description"):
        found = description.get(_RATING)
        if found is None:
            found = description.findtext(_RATING)
        if found is not None:
            return _as_rating(found)
    return None
