"""
Change properties of an XMP packet and leave every other byte as it is.

What is there is changed in its place; what is new goes into one description of its own at the packet's end, which
declares every prefix that it uses. Each change is checked by a second, independent reading.
"""

from __future__ import annotations

from collections.abc import Mapping
from xml.sax.saxutils import escape, quoteattr

from auditor.corrections.packet import Packet, Place, UnfitPacket, read_packet
from auditor.corrections.properties import PREFIXES, RDF, Property, Value
from auditor.corrections.statements import statements

__all__ = ["NEW_PACKET", "with_properties"]

Changes = Mapping[Property, Value | None]
"""The value of each property, None to take it away."""

NEW_PACKET = (
    '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
    '<x:xmpmeta xmlns:x="adobe:ns:meta/">\n'
    f' <rdf:RDF xmlns:rdf="{RDF}">\n'
    " </rdf:RDF>\n"
    "</x:xmpmeta>\n"
    '<?xpacket end="w"?>\n'
).encode()
"""A packet that says nothing, in the wrapper of ISO 16684-1, 7.3."""

_UNFIT_TEXT = {code: None for code in range(32) if code not in (9, 10, 13)} | {0xFFFE: None, 0xFFFF: None}


def with_properties(content: bytes, changes: Changes) -> bytes:
    """
    Return a packet with some properties set or taken away.

    Parameters
    ----------
    content : bytes
        A sidecar's content, or ``NEW_PACKET``.
    changes : mapping
        The value of each property, None to take it away.

    Returns
    -------
    bytes
        The same bytes where nothing has to change.

    Raises
    ------
    UnfitPacket
        It cannot be changed safely, or a property that is to be changed holds a structure.

    Examples
    --------
    >>> from auditor.corrections.properties import FOCAL_LENGTH
    >>> once = with_properties(NEW_PACKET, {FOCAL_LENGTH: "50/1"})
    >>> again = with_properties(once, {FOCAL_LENGTH: "71/2"})
    >>> again == once.replace(b"50/1", b"71/2"), with_properties(again, {FOCAL_LENGTH: "71/2"}) == again
    (True, True)
    """
    packet = read_packet(content)
    edits: list[tuple[int, int, bytes]] = []
    new: dict[Property, Value] = {}
    for known, value in changes.items():
        place = packet.find(known.key)
        if place is None and value is not None:
            new[known] = value
        elif place is not None and place.value != value:
            edits.append(_edit(content, place, value))
    if new:
        edits.append(_addition(content, packet, new))
    spliced = _applied(content, edits)
    _check(content, spliced, changes)
    return spliced


def _applied(content: bytes, edits: list[tuple[int, int, bytes]]) -> bytes:
    for start, end, text in sorted(edits, reverse=True):
        content = content[:start] + text + content[end:]
    return content


def _edit(content: bytes, place: Place, value: Value | None) -> tuple[int, int, bytes]:
    if place.value is None:
        raise UnfitPacket(f"holds {place.name[1]} in a form of its own")
    if value is None:
        return (*_with_space_before(content, place), b"")
    if place.inner is None:
        name = content[place.whole[0] + 1 : place.whole[1]].split(maxsplit=1)[0].rstrip(b"/>").decode()
        return (*place.whole, f"<{name}>{_element_text(value)}</{name}>".encode())
    return (*place.inner, _attribute(value) if place.quote else _element_text(value).encode())


def _with_space_before(content: bytes, place: Place) -> tuple[int, int]:
    """Take the white space before an attribute or element with it, as it was put there for it."""
    start = place.whole[0]
    while content[start - 1 : start].isspace():
        start -= 1
    return start, place.whole[1]


def _text(value: str) -> str:
    return value.translate(_UNFIT_TEXT)


def _attribute(value: Value) -> bytes:
    if not isinstance(value, str):
        raise UnfitPacket("holds a simple value where a list belongs")
    return escape(_text(value), {'"': "&quot;", "'": "&apos;", "\n": "&#10;", "\r": "&#13;", "\t": "&#9;"}).encode()


def _element_text(value: Value, prefix: str = "rdf", *, declare: bool = True) -> str:
    if isinstance(value, str):
        return escape(_text(value), {"\r": "&#13;"})
    items = "".join(f"<{prefix}:li>{escape(_text(item))}</{prefix}:li>" for item in value)
    declared = f' xmlns:{prefix}="{RDF}"' if declare else ""
    return f"<{prefix}:Seq{declared}>{items}</{prefix}:Seq>"


def _addition(content: bytes, packet: Packet, new: Mapping[Property, Value]) -> tuple[int, int, bytes]:
    """Return one description with everything that is new, self-contained."""
    line = "\r\n" if b"\r\n" in content else "\n"
    prefixes = _prefixes(packet, new)
    rdf = prefixes[RDF]
    parts = [f"{rdf}:about={quoteattr(packet.about)}"]
    parts += [f'xmlns:{prefix}="{namespace}"' for namespace, prefix in prefixes.items()]
    elements = []
    for known, value in new.items():
        name = f"{prefixes[known.namespace]}:{known.name}"
        if isinstance(value, str):
            parts.append(f'{name}="{_attribute(value).decode()}"')
        else:
            elements.append(f"   <{name}>{_element_text(value, rdf, declare=False)}</{name}>")
    start = f"<{rdf}:Description " + f"{line}    ".join(parts)
    body = line.join([f"{start}>", *elements, f"  </{rdf}:Description>"]) if elements else f"{start}/>"
    if packet.is_closed:
        name = _closed_name(content, packet)
        return (*packet.end, f">{line}  {body}{line}</{name}>".encode())
    at = packet.end[0]
    while content[at - 1 : at] in (b" ", b"\t"):
        at -= 1
    # On a line of its own where the end tag has one, so that a person who reads the file finds it.
    lead = "" if content[at - 1 : at] == b"\n" else line
    return at, at, f"{lead}  {body}{line}".encode()


def _closed_name(content: bytes, packet: Packet) -> str:
    start = content.rindex(b"<", 0, packet.end[0])
    return content[start + 1 : packet.end[0]].split(maxsplit=1)[0].decode()


def _prefixes(packet: Packet, new: Mapping[Property, Value]) -> dict[str, str]:
    """Choose a prefix for each namespace: the packet's own where it has one, else the usual one, never one twice."""
    chosen: dict[str, str] = {}
    for namespace in (RDF, *(known.namespace for known in new)):
        prefix = packet.prefixes.get(namespace, PREFIXES[namespace])
        while prefix in (taken for known, taken in chosen.items() if known != namespace):
            prefix += "_"
        chosen[namespace] = prefix
    return chosen


def _check(before: bytes, after: bytes, changes: Changes) -> None:
    """Hold the change to a second reading by another parser: what was asked for is there, all else is as it was."""
    old, new = statements(before), statements(after)
    changed = {known.key for known in changes}
    others = [{name: found for name, found in known.items() if name not in changed} for known in (old, new)]
    wanted = {known.key: [_told(value)] for known, value in changes.items() if value is not None}
    got = {name: found for name, found in new.items() if name in changed}
    if others[0] != others[1] or wanted != got:
        raise UnfitPacket("could not be changed without changing something else")


def _told(value: Value) -> object:
    if isinstance(value, str):
        return _text(value)
    return tuple(_text(item) for item in value)
