"""Flange focal distances of lens mounts, with who says so; a range where sources disagree."""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = ["REGISTERS", "Register", "ambiguous_mounts", "register"]

_A = "camerabilia.blogspot.com, Flange Focal Distances (2011-10-31)"
_B = "photobuilds.com, Lens Mounts: A Reference for Using Adapters (2022-10-21)"
_C = "m43photo.blogspot.com, Register distance (2010-04-19)"
_D = "diglloyd.com (2018)"
_E = "German Wikipedia, Micro Four Thirds"
_MEMORY = "from memory"


@dataclass(frozen=True, slots=True)
class Register:
    """
    Flange focal distance of a mount.

    Attributes
    ----------
    mount : str
        The mount's own short name.
    low_mm, high_mm : float
        Smallest and largest value that a source gives. [mm]
    sources : tuple of str
        Who says so.
    """

    mount: str
    low_mm: float
    high_mm: float
    sources: tuple[str, ...]

    @property
    def middle_mm(self) -> float:
        """Middle of the range, in mm."""
        return (self.low_mm + self.high_mm) / 2.0


# Short names are those on the mounts' caps and lens barrels. Values in mm.
_ROWS: tuple[tuple[str, float, float, tuple[str, ...]], ...] = (
    ("Q", 9.2, 9.2, (_A, _B, _C)),
    ("Z", 16.0, 16.0, (_B, _D)),
    ("C", 17.526, 17.526, (_C,)),
    ("X", 17.7, 17.7, (_B, _C, _D)),
    ("E", 18.0, 18.0, (_A, _B, _C, _D)),
    ("EF-M", 18.0, 18.0, (_B,)),
    ("XCD", 18.3, 20.0, (_MEMORY, "photoshelter (2018)")),
    ("L", 19.0, 20.0, (_C, _B)),
    ("MFT", 19.25, 20.0, (_B, _C, _E, _A)),
    ("RF", 20.0, 20.0, (_B, _D)),
    ("NX", 25.5, 25.5, (_A, _B)),
    ("GFX", 26.7, 26.7, (_B,)),
    ("M", 27.8, 27.8, (_A,)),
    ("LTM", 28.8, 28.8, (_A,)),
    ("CG", 29.0, 29.0, (_A,)),
    ("FT", 38.67, 38.67, (_A,)),
    ("AR", 40.5, 40.7, (_B, _A)),
    ("FD", 42.0, 42.0, (_A, _B)),
    ("FL", 42.0, 42.0, (_A, _B)),
    ("AX", 43.5, 43.5, (_A, _B)),
    ("SR", 43.5, 43.5, (_A, _B)),
    ("EF", 44.0, 44.0, (_A, _B)),
    ("SA", 44.0, 44.0, (_A, _B)),
    ("PB", 44.4, 44.4, (_B,)),
    ("A", 44.5, 44.5, (_A, _B)),
    ("QBM", 44.5, 44.6, (_B, _MEMORY)),
    ("EXA", 44.7, 44.7, (_MEMORY,)),
    ("M39-SLR", 45.2, 45.46, (_A, _B)),
    ("M42", 45.46, 45.46, (_A, _B)),
    ("PK", 45.46, 45.46, (_A, _B)),
    ("C/Y", 45.5, 45.5, (_A, _B)),
    ("OM", 46.0, 46.0, (_A,)),
    ("F", 46.5, 46.5, (_A,)),
    ("R", 47.0, 47.0, (_A,)),
    ("T2", 55.0, 55.0, (_A,)),
)

REGISTERS: dict[str, Register] = {row[0]: Register(*row) for row in _ROWS}
"""Flange focal distances by the mount's short name."""

# Other spellings of the same mount, after _squeezed.
_ALIASES = {
    "M43": "MFT", "MICROFOURTHIRDS": "MFT", "MICRO43": "MFT", "FOURTHIRDS": "FT", "43": "FT", "L39": "LTM",
    "M39LTM": "LTM", "LSM": "LTM", "MD": "SR", "MC": "SR", "K": "PK", "KA": "PK", "KAF": "PK", "CONTAXYASHICA": "C/Y",
    "EXAKTA": "EXA", "T": "T2", "EFS": "EF", "FE": "E", "AI": "F", "AIS": "F",
}  # fmt: skip

# The same name on mounts of very different length: asking is better than guessing.
_AMBIGUOUS = {"M39": ("LTM", "M39-SLR"), "G": ("CG", "GFX")}


def _squeezed(name: str) -> str:
    return re.sub(r"[^A-Z0-9]", "", name.upper()).removesuffix("MOUNT")


_BY_SQUEEZED = {**{_squeezed(mount): mount for mount in REGISTERS}, **_ALIASES}


def ambiguous_mounts(name: str) -> tuple[str, ...]:
    """
    Mounts that go by one name and differ in length.

    Parameters
    ----------
    name : str
        Mount as in the kit. [-]

    Returns
    -------
    tuple of str
        Names in `REGISTERS`; empty when the name is clear. [-]

    Notes
    -----
    Valid for the names this table knows.

    References
    ----------
    .. [1] The 39 mm screw is both a rangefinder's (28.8) and a reflex camera's (45.2-45.46): camerabilia (2011).

    Examples
    --------
    >>> ambiguous_mounts("M39")
    ('LTM', 'M39-SLR')
    >>> ambiguous_mounts("M42")
    ()
    """
    return _AMBIGUOUS.get(_squeezed(name), ())


def register(name: str) -> Register | None:
    """
    Flange focal distance of a mount by name.

    Parameters
    ----------
    name : str
        Mount as in the kit; a maker's name before it, spaces, signs and case do not matter. [-]

    Returns
    -------
    Register or None
        The range that sources give [mm], or None when the mount is not in the table or its name is ambiguous.

    Notes
    -----
    Valid as a check of adapter lengths to about 0.5 mm; never to compute focus.

    References
    ----------
    .. [1] The sources stand in each `Register`.

    Examples
    --------
    >>> register("M42").middle_mm
    45.46
    >>> register("micro four thirds").mount
    'MFT'
    >>> register("M39") is None
    True
    """
    whole = _BY_SQUEEZED.get(_squeezed(name))
    words = name.split()
    last = _BY_SQUEEZED.get(_squeezed(words[-1])) if len(words) > 1 else None
    mount = whole or last
    return REGISTERS[mount] if mount else None
