"""
Reads Exif with exiv2's Python binding, in a process of its own: it can crash the interpreter.

Takes file names on standard input, one JSON text a line, and answers one JSON document a line: key -> value as text,
or null when the library refuses the file. The content is handed over, not the name: the binding refuses names that are
not UTF-8.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import exiv2


def values_of(content: bytes) -> dict[str, str] | None:
    try:
        image = exiv2.ImageFactory.open(content)
        image.readMetadata()
    except exiv2.Exiv2Error:
        return None
    exif = image.exifData()  # kept alive: a datum used after its container is a crash
    found: dict[str, str] = {}
    for datum in exif:
        if datum.count() <= 64 or datum.typeId() == exiv2.TypeId.asciiString:
            found.setdefault(datum.key(), str(datum.value()))
    if image.xmpData():
        for datum in image.xmpData():
            found.setdefault(datum.key(), str(datum.value()))
    return found


def main() -> None:
    exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)
    for line in sys.stdin:
        print(json.dumps(values_of(Path(json.loads(line)).read_bytes())), flush=True)


if __name__ == "__main__":
    main()
