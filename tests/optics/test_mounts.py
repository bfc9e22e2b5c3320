"""Registers of lens mounts."""

from __future__ import annotations

import pytest

from auditor.optics.mounts import REGISTERS, ambiguous_mounts, register

# camerabilia.blogspot.com, Flange Focal Distances (2011-10-31); its MFT (20) is the outlier kept as a range's end.
CAMERABILIA = {
    "EF": 44.00, "FD": 42.00, "FL": 42.00, "C/Y": 45.50, "CG": 29.00, "AX": 43.50, "AR": 40.70, "M": 27.80, "R": 47.00,
    "LTM": 28.80, "SR": 43.50, "A": 44.50, "E": 18.0, "F": 46.50, "OM": 46.00, "FT": 38.67, "MFT": 20.0, "M42": 45.46,
    "PK": 45.46, "Q": 9.2, "NX": 25.50, "SA": 44.00, "M39-SLR": 45.2, "T2": 55.00,
}  # fmt: skip
# photobuilds.com, Lens Mounts: A Reference for Using Adapters (2022-10-21).
PHOTOBUILDS = {
    "Q": 9.2, "Z": 16.0, "X": 17.7, "EF-M": 18.0, "E": 18.0, "MFT": 19.25, "RF": 20.0, "L": 20.0, "NX": 25.5,
    "GFX": 26.7, "AR": 40.5, "FL": 42.0, "FD": 42.0, "AX": 43.5, "SR": 43.5, "EF": 44.0, "SA": 44.0, "PB": 44.4,
    "QBM": 44.5, "A": 44.5, "M39-SLR": 45.46, "M42": 45.46, "PK": 45.46, "C/Y": 45.5,
}  # fmt: skip
# m43photo.blogspot.com, Register distance (2010-04-19); German Wikipedia gives 19,25 mm for MFT too.
M43PHOTO = {"Q": 9.2, "C": 17.526, "X": 17.7, "E": 18.0, "L": 19.0, "MFT": 19.25}


@pytest.mark.published
@pytest.mark.parametrize("table", [CAMERABILIA, PHOTOBUILDS, M43PHOTO])
def test_every_source_lies_within_our_range(table):
    for mount, printed in table.items():
        assert REGISTERS[mount].low_mm <= printed <= REGISTERS[mount].high_mm, mount


def test_every_row_has_a_source_and_a_range():
    for row in REGISTERS.values():
        assert row.sources
        assert row.low_mm <= row.middle_mm <= row.high_mm


@pytest.mark.parametrize(
    ("name", "mount"),
    [("M42", "M42"), ("m42", "M42"), ("Micro Four Thirds", "MFT"), ("MFT", "MFT"), ("M4/3", "MFT"), ("k mount", "PK"),
     ("K-mount", "PK"), ("C/Y", "C/Y"), ("cy", "C/Y"), ("L39", "LTM"), ("Silver F", "F"), ("C-mount", "C")],
)  # fmt: skip
def test_spellings(name, mount):
    assert register(name) == REGISTERS[mount]


@pytest.mark.parametrize("name", ["", "Orla bayonet", "M39", "G", "Silver NX mini"])
def test_unknown_and_ambiguous_names_are_not_guessed(name):
    assert register(name) is None


def test_ambiguous_names_name_the_choice():
    assert set(ambiguous_mounts("m39")) == {"LTM", "M39-SLR"}
    assert ambiguous_mounts("PK") == ()
