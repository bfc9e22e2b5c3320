from __future__ import annotations

import re
from pathlib import Path

import pytest

import dashboards
from dashboards.theme import PLAIN, VERDICT_COLOURS

LOOK = (Path(dashboards.__file__).parent / "assets" / "look.css").read_text(encoding="utf-8")


def luminance(colour: str) -> float:
    # WCAG 2.2, definition of relative luminance.
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def colours(scheme: str) -> dict[str, str]:
    blocks = re.findall(r":root(\[data-mantine-color-scheme=\"dark\"\])? \{(.*?)\}", LOOK, re.DOTALL)
    block = next(body for dark, body in blocks if bool(dark) == (scheme == "dark"))
    return dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{6})", block))


@pytest.mark.published
def test_contrast_of_black_on_white() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.2: ratios range from 1 to 21


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("text", ["ink", "ink-2", "accent", "warn"])
@pytest.mark.parametrize("ground", ["paper", "sheet", "hover", "accent-soft"])
def test_text_is_readable(scheme: str, text: str, ground: str) -> None:
    assert contrast(colours(scheme)[text], colours(scheme)[ground]) >= 4.5  # WCAG 2.2, 1.4.3 (AA)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("mark", [PLAIN, *(VERDICT_COLOURS[v] for v in ("too-short", "too-long", "unknown"))])
def test_marks_in_charts_stand_out(scheme: str, mark: str) -> None:
    assert contrast(mark, colours(scheme)["sheet"]) >= 3.0  # WCAG 2.2, 1.4.11
