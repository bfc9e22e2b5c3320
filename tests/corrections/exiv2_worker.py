"""
Reads and makes XMP packets with exiv2's Python binding (its XMP toolkit), in a process of its own: it can crash.

One JSON document a line in, one out: ``{"read": packet}`` answers a list of [key, value or list of values], and
``{"make": [[key, kind, value], ...], "compact": bool}`` answers the packet.
"""

from __future__ import annotations

import json
import sys
from typing import Any

import exiv2

INVENTED = {"lantern": "urn:example:lantern#", "harbour": "http://harbour.example/ns/"}


def read(packet: str) -> list[list[Any]] | None:
    try:
        image = exiv2.ImageFactory.open(packet.encode())
        image.readMetadata()
    except exiv2.Exiv2Error:
        return None
    known = image.xmpData()  # kept alive: a datum used after its container is a crash
    return [[datum.key(), datum.typeName(), str(datum.value())] for datum in known]


def make(properties: list[list[Any]], compact: bool) -> str:
    packet = exiv2.XmpData()
    for key, kind, value in properties:
        packet.add(exiv2.XmpKey(key), _value(kind, value))
    flags = exiv2.XmpParser.XmpFormatFlags
    code, text = exiv2.XmpParser.encode(packet, flags.useCompactFormat if compact else flags.omitPacketWrapper)
    assert code == 0
    return str(text)


def _value(kind: str, value: Any) -> Any:
    if kind == "text":
        return exiv2.XmpTextValue(value)
    if kind == "struct":
        made = exiv2.XmpTextValue("")
        made.setXmpStruct(exiv2.XmpValue.XmpStruct.xsStruct)
        return made
    if kind == "languages":
        made = exiv2.LangAltValue()
        for language, words in value.items():
            made.read(f'lang="{language}" {words}')
        return made
    made = exiv2.XmpArrayValue(exiv2.TypeId.xmpBag if kind == "bag" else exiv2.TypeId.xmpSeq)
    for item in value:
        made.read(item)
    return made


def main() -> None:
    exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)
    for prefix, namespace in {**INVENTED, "steadykeep": "urn:steadykeep:record:1#"}.items():
        exiv2.XmpProperties.registerNs(namespace, prefix)
    for line in sys.stdin:
        asked = json.loads(line)
        answer = read(asked["read"]) if "read" in asked else make(asked["make"], asked["compact"])
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
