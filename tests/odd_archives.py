"""Archives, kits and logs as careless as real ones can be, made from a seed."""

from __future__ import annotations

import datetime as dt
import random
from pathlib import Path

import numpy as np
from PIL import Image

__all__ = ["make_odd_archive", "odd_kit", "odd_log"]

_MODELS = ("Silverline 2", "Coalbox", "Pocket T")
_LENSES = ("ORLA50", "VESPER 25mm F1.8", "Fenwick 18-200mm", "----", "  ", "", "", "", "PELL 35-70")
_IMPOSSIBLE_TIMES = ("0000:00:00 00:00:00", "2026:13:40 99:99:99", "1970:01:01 00:00:00", "9999:12:31 23:59:59")
_PAUSES_S = (0, 0.2, 1, 5, 30, 300, 4000, 90_000, -3600)
_MODEL, _EXIF, _TAKEN, _OFFSET, _TIME_S, _ISO = 0x0110, 0x8769, 0x9003, 0x9011, 0x829A, 0x8827
_FOCAL_MM, _LENS, _F_NUMBER, _DISTANCE_M = 0x920A, 0xA434, 0x829D, 0x9206
_RATED = (
    '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
    '<rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="{}"/></rdf:RDF></x:xmpmeta>'
)


def make_odd_archive(folder: Path, seed: int) -> None:
    """Write up to 60 JPEG files whose Exif is missing, impossible, or contradicts itself."""
    chance, noise = random.Random(seed), np.random.default_rng(seed)  # noqa: S311  (no secret)
    taken, typed, lens, model = dt.datetime(2026, 5, 1, 9), 50.0, "", chance.choice(_MODELS)
    timeless = chance.choice((0, 0, 0.1, 0.5, 1))
    folder.mkdir(parents=True)
    for number in range(chance.choice((5, 30, 60))):
        if chance.random() < 0.2:
            typed = chance.choice((50.0, 85.0, 36.0, 60.0, 0.0, 25.0, 8.0, 1000.0, 135.0, 170.0, 500.0))
            lens = chance.choice(_LENSES)
        model = chance.choice((*_MODELS, "")) if chance.random() < 0.1 else model
        taken += dt.timedelta(seconds=chance.choice(_PAUSES_S))
        exif = Image.Exif()
        details = exif.get_ifd(_EXIF)
        told = {
            _TAKEN: chance.choice((*[f"{taken:%Y:%m:%d %H:%M:%S}"] * 20, *_IMPOSSIBLE_TIMES)),
            _OFFSET: chance.choice(("+02:00", "-11:00", "+14:00")),
            _TIME_S: chance.choice((1 / 60, 1 / 15, 1 / 1000, 2.0, 0.0)),
            _ISO: chance.choice((100, 6400, 65535)),
            _FOCAL_MM: typed,
            _LENS: lens,
            _F_NUMBER: chance.choice((1.8, 5.6, 0.0)),
            _DISTANCE_M: chance.choice((0.3, 2.0, 0.0, 65535.0)),
        }
        share = {_TAKEN: 1 - timeless, _OFFSET: 0.3, _LENS: bool(lens), _F_NUMBER: 0.5 * bool(lens), _DISTANCE_M: 0.2}
        for tag, value in told.items():
            if chance.random() < share.get(tag, 0.9):
                details[tag] = value
        exif[_EXIF] = details
        if model:
            exif[_MODEL] = model
        width, height = chance.choice(((64, 48), (400, 300), (3, 3)))
        picture = Image.fromarray(noise.integers(0, 255, (max(1, height // 8), max(1, width // 8)), dtype=np.uint8))
        place = folder / chance.choice(("", "day one", "ü/deep")) / f"{number:03d}.jpg"
        place.parent.mkdir(parents=True, exist_ok=True)
        picture.resize((width, height), Image.Resampling.BICUBIC).save(place, exif=exif, quality=85)
        if chance.random() < 0.4:
            place.with_name(f"{place.name}.xmp").write_text(_RATED.format(chance.choice((-1, 0, 1, 3, 5))))


_BODIES = (
    (
        'id = "one"\nname = "Silver"\nexif_model = "Silverline 2"\nsensor_mm = [17.4, 13.0]\nmount = "MFT"\n'
        'stabiliser_stops = 5.0\nsetting_recorded_in = "focal-length"'
    ),
    'id = "two"\nname = "Coal"\nexif_model = "Coalbox"\nmount = "MD"',
)
_KIT_LENSES = (
    'id = "orla-50"\nname = "Orla 50"\nfocal_mm = 50\nmount = "M42"\nexif_names = ["ORLA50"]',
    (
        'id = "hale-85"\nname = "Hale 85"\nfocal_mm = 85\nmount = "M42"\nclose_focus_m = 0.8\nprice = 100\n'
        "acquired = 2020-01-01"
    ),
    'id = "pell-35-70"\nname = "Pell"\nfocal_mm = [35, 70]\nmount = "MD"\nexif_names = ["PELL 35-70"]',
    (
        'id = "vesper-25"\nname = "Vesper"\nfocal_mm = 25\nmount = "MFT"\ncontacts = true\n'
        'exif_names = ["VESPER 25mm F1.8"]'
    ),
    'id = "tern-135"\nname = "Tern 135"\nfocal_mm = 135\nmount = "M42"\nsold = 2026-01-01',
)
_ADAPTERS = (
    'id = "m42-plain"\nname = "plain"\nlens_mount = "M42"\nbody_mount = "MFT"\nfactor = 1',
    'id = "m42-reducer"\nname = "reducer"\nlens_mount = "M42"\nbody_mount = "MFT"\nfactor = 0.71\nthickness_mm = 26.2',
    'id = "tube-10"\nname = "tube"\nlens_mount = "M42"\nbody_mount = "M42"\nfactor = 1\nextension_mm = [5, 10]',
)


def odd_kit(seed: int) -> str:
    """Return a kit that names some of what was used."""
    chance = random.Random(seed + 1)  # noqa: S311  (no secret)
    tables = {"bodies": _BODIES, "lenses": _KIT_LENSES, "adapters": _ADAPTERS}
    entries = [f"[[{table}]]\n{text}\n" for table, texts in tables.items() for text in texts if chance.random() < 0.7]
    return "\n".join(entries)


def odd_log(seed: int) -> str:
    """Return a log of which some rows cannot be read."""
    chance = random.Random(seed + 2)  # noqa: S311  (no secret)
    cells = (
        ("one", "two", ""),
        ("orla-50", "hale-85", "pell-35-70", "vesper-25", "", "nope"),
        ("m42-plain", "m42-reducer", "tube-10+m42-plain", "none", ""),
        ("hand", "tripod", "", ""),
        ("on", "off", "", ""),
        ("50", "85", "", "x"),
        ("", "50", "35"),
        ("", "0.8", "3", "∞"),
        ("", "2.8"),
        ("", "walking", "3", "still"),
    )
    rows = ["start,body,lens,adapter,support,stabiliser,setting_mm,focal_mm,focus_distance_m,aperture,subject"]
    for _ in range(chance.choice((1, 4, 10))):
        start = f"2026-05-0{chance.randint(1, 3)} {chance.randint(8, 20):02d}:{chance.randint(0, 59):02d}"
        rows.append(",".join([start, *(chance.choice(choices) for choices in cells)]))
    return "\n".join(rows) + "\n"
