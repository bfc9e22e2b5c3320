"""The tables of the store: one pyarrow schema each, with unit and label on every field."""

from __future__ import annotations

from collections.abc import Iterable

import pyarrow as pa

__all__ = ["AUDIT", "FRAMES", "KEY", "MEASURES", "OVERLAPS", "empty_table", "label", "schema_version", "unit"]

_VERSIONS = {"frames": 2}
"""Of the tables that have changed since the first; frames: 2 since they hold a place."""

KEY = ("archive", "path")
"""The columns that together name a frame."""

_TEXT, _F64, _I8, _I16, _I32, _I64 = pa.string(), pa.float64(), pa.int8(), pa.int16(), pa.int32(), pa.int64()

_Row = tuple[str, pa.DataType, str, str]


def _schema(name: str, rows: Iterable[_Row]) -> pa.Schema:
    fields = [
        pa.field(column, kind, nullable=column not in KEY, metadata={"unit": of, "label": meaning})
        for column, kind, of, meaning in rows
    ]
    return pa.schema(fields, metadata={"table": name, "schema_version": str(schema_version(name))})


def schema_version(table: str) -> int:
    """
    Return the version of a table, written into its every Parquet file; another version is rebuilt, never misread.

    Each table has its own, so that a new column of the frames, which are read again in minutes, does not throw away
    what was measured, which takes hours.

    Examples
    --------
    >>> schema_version("frames"), schema_version("measures")
    (2, 1)
    """
    return _VERSIONS.get(table, 1)


FRAMES = _schema(
    "frames",
    [
        ("archive", _TEXT, "", "Archive's name in settings.toml"),
        ("path", _TEXT, "", "Path inside the archive, / between folders"),
        ("size", _I64, "byte", "File size"),
        ("mtime_ns", _I64, "ns", "Time of the last change to the picture, its companion or its sidecars"),
        ("format", _TEXT, "", "File format, by content"),
        ("companion", _TEXT, "", "The other file of a raw+JPEG pair"),
        ("make", _TEXT, "", "Exif Make"),
        ("model", _TEXT, "", "Exif Model"),
        ("body_serial_number", _TEXT, "", "Exif BodySerialNumber"),
        ("lens_make", _TEXT, "", "Exif LensMake"),
        ("lens_model", _TEXT, "", "Exif LensModel, else the maker note's lens name"),
        ("lens_serial_number", _TEXT, "", "Exif LensSerialNumber"),
        ("lens_min_focal_mm", _F64, "mm", "Shortest focal length, from Exif LensSpecification"),
        ("lens_max_focal_mm", _F64, "mm", "Longest focal length, from Exif LensSpecification"),
        ("captured_at", pa.timestamp("us"), "", "Camera's local time of exposure, as recorded"),
        ("offset_minutes", _I16, "min", "Offset from UTC, Exif OffsetTimeOriginal"),
        (
            "latitude_deg",
            _F64,
            "deg",
            "Latitude, north positive, from Exif GPS or XMP, rounded to 0.01° when it is read",
        ),
        (
            "longitude_deg",
            _F64,
            "deg",
            "Longitude, east positive, from Exif GPS or XMP, rounded to 0.01° when it is read",
        ),
        ("exposure_time_s", _F64, "s", "Exposure time"),
        ("f_number", _F64, "", "F-number"),
        ("focal_length_mm", _F64, "mm", "Exif FocalLength, as recorded"),
        ("focal_length_35mm_mm", _F64, "mm", "Exif FocalLengthIn35mmFilm, as recorded"),
        ("max_aperture_f_number", _F64, "", "Largest aperture, as f-number"),
        ("subject_distance_m", _F64, "m", "Exif SubjectDistance, else the maker note's focus distance"),
        ("photographic_sensitivity", _I32, "ISO", "Exif PhotographicSensitivity"),
        ("image_width_px", _I32, "px", "Width of the full picture before rotation"),
        ("image_height_px", _I32, "px", "Height of the full picture before rotation"),
        ("orientation", _I32, "", "Exif Orientation, 1-8"),
        ("flash_fired", pa.bool_(), "", "The flash fired"),
        ("stabiliser_mode", _TEXT, "", "Stabiliser mode, from the maker note"),
        ("drive_mode", _TEXT, "", "Drive mode, from the maker note"),
        ("shutter_type", _TEXT, "", "Kind of shutter, from the maker note"),
        ("rating", _I8, "", "xmp:Rating, -1 rejected, 0-5"),
        ("problem", _TEXT, "", "Why nothing, or only part, could be read"),
    ],
)

AUDIT = _schema(
    "audit",
    [
        ("archive", _TEXT, "", "Archive's name in settings.toml"),
        ("path", _TEXT, "", "Path inside the archive, / between folders"),
        ("trip", _TEXT, "", "Trip"),
        ("body", _TEXT, "", "Body, id in the kit"),
        ("lens", _TEXT, "", "Lens, id in the kit"),
        ("adapter", _TEXT, "", "Adapter, id in the kit; several joined by +, lens side first"),
        ("pairing_confidence", _F64, "", "How sure the pairing is, 0-1"),
        ("pairing_evidence", _TEXT, "", "What the pairing rests on, joined by +"),
        ("setting_mm", _F64, "mm", "Focal length typed for the stabiliser"),
        ("right_setting_mm", _F64, "mm", "Focal length that should have been typed"),
        ("right_setting_low_mm", _F64, "mm", "Lowest value it may have been"),
        ("right_setting_high_mm", _F64, "mm", "Highest value it may have been"),
        ("setting_verdict", _TEXT, "", "right, too-short, too-long, unknown, not-needed"),
        ("setting_cause", _TEXT, "", "How a wrong setting came about"),
        ("residual", _F64, "", "Share of the shake left in the picture"),
        ("stops_lost", _F64, "stop", "What the wrong setting cost"),
        ("shake_blur_um", _F64, "µm", "Shake blur on the sensor, expected median"),
        ("shake_blur_px", _F64, "px", "Shake blur in the picture, expected median"),
        ("blur_probability", _F64, "", "Probability that shake blur passes the tolerance"),
        ("blur_verdict", _TEXT, "", "unlikely, likely, unknown"),
        ("flags", pa.list_(_TEXT), "", "All that is worth a look, worst first"),
        ("kept", pa.bool_(), "", "The photographer kept it; empty where the trip was never judged"),
    ],
)

MEASURES = _schema(
    "measures",
    [
        ("archive", _TEXT, "", "Archive's name in settings.toml"),
        ("path", _TEXT, "", "Path inside the archive, / between folders"),
        ("edge_width_px", _F64, "px", "Edge width at the crispest part of the full picture"),
        ("sharp_fraction", _F64, "", "Share of the judged area that is about as crisp"),
        ("blur_kind", _TEXT, "", "sharp, shake, missed-focus, subject-moved, unknown"),
        ("blur_confidence", _F64, "", "How sure the kind of blur is, 0-1"),
        ("shake_direction_deg", _F64, "deg", "Direction of the shake, counter-clockwise from horizontal, upright"),
        ("shake_length_px", _F64, "px", "Length of the shake in the full picture"),
        ("scene", _TEXT, "", "Frames of one scene share it"),
        ("sharpness_in_scene", _F64, "", "Sharpness against the crispest frame of the scene, 0-1"),
        ("problem", _TEXT, "", "Why it could not be measured"),
    ],
)

OVERLAPS = _schema(
    "overlaps",
    [
        ("archive", _TEXT, "", "Archive's name in settings.toml"),
        ("path_a", _TEXT, "", "Earlier frame"),
        ("path_b", _TEXT, "", "Later frame"),
        ("focal_ratio", _F64, "", "True focal length of b over that of a"),
        ("focal_ratio_low", _F64, "", "Lower end of its interval"),
        ("focal_ratio_high", _F64, "", "Upper end of its interval"),
        ("overlap_verdict", _TEXT, "", "same, another, unknown"),
        ("problem", _TEXT, "", "Why it could not be told"),
    ],
)


def unit(schema: pa.Schema, column: str) -> str:
    """
    Return the unit of a column, empty where it has none.

    Examples
    --------
    >>> unit(FRAMES, "exposure_time_s")
    's'
    """
    return str(schema.field(column).metadata[b"unit"].decode())


def label(schema: pa.Schema, column: str) -> str:
    """
    Return what a column means, in words for a screen or a data dictionary.

    Examples
    --------
    >>> label(AUDIT, "stops_lost")
    'What the wrong setting cost'
    """
    return str(schema.field(column).metadata[b"label"].decode())


def empty_table(schema: pa.Schema) -> pa.Table:
    """
    Return a table of a schema with no rows.

    Examples
    --------
    >>> empty_table(FRAMES).num_rows
    0
    """
    return schema.empty_table()
