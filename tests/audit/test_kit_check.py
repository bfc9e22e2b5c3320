"""What is wrong with a kit."""

from __future__ import annotations

import datetime as dt

import pandas as pd
import pytest

from auditor.audit.kit_check import KitFinding, check_kit
from auditor.model.kit import parse_kit
from auditor.model.log import LogRow
from tests.kits import KIT_TEXT


def _found(text: str, kind: str, **given) -> list[KitFinding]:
    return [finding for finding in check_kit(parse_kit(text), **given) if finding.kind == kind]


def _adapter(thickness: float, extra: str = "") -> str:
    wanted = 'body_mount = "MFT"\n\n[[adapters]]\nid = "m42-reducer"'
    assert wanted in KIT_TEXT
    return KIT_TEXT.replace(
        wanted, f'body_mount = "MFT"\nthickness_mm = {thickness}\n{extra}\n[[adapters]]\nid = "m42-reducer"'
    )


def test_a_sound_kit_has_no_fault():
    faults = {finding.kind for finding in check_kit(parse_kit(KIT_TEXT))} - {"missing"}
    assert faults == set()


# M42 45.46, MFT 19.25 (body's own flange_mm): 26.21 mm. Registers: camerabilia (2011), German Wikipedia for 19,25.
@pytest.mark.parametrize("thickness", [25.8, 26.2, 26.6])
def test_an_adapter_that_fits_to_half_a_millimetre_is_no_fault(thickness):
    assert _found(_adapter(thickness), "adapter-length") == []


def test_an_adapter_too_long():
    # Newton: f²/δ = 50²/1 mm = 2.5 m, 85²/1 mm = 7.2 m (D. Jacobson FAQ).
    found = _found(_adapter(27.21), "adapter-length")
    assert [finding.entry for finding in found] == ["m42-plain"]
    assert "1.0 mm longer" in str(found[0])
    assert "2.5 m with orla-50" in str(found[0])
    assert "7.2 m with hale-85" in str(found[0])


def test_an_extension_that_is_noted_is_no_fault():
    assert _found(_adapter(36.21, "extension_mm = 10.0"), "adapter-length") == []


def test_an_adapter_too_short():
    assert "1.0 mm shorter" in str(_found(_adapter(25.21), "adapter-length")[0])


def test_a_reducer_is_not_judged_by_its_length():
    text = KIT_TEXT.replace("factor = 0.71", "factor = 0.71\nthickness_mm = 20.0")
    assert _found(text, "adapter-length") == []


def test_no_room_between_a_lens_and_a_body():
    text = KIT_TEXT.replace('id = "vesper-25"', 'id = "vesper-25"').replace(
        'mount = "MFT"\ncontacts = true', 'mount = "Z"\ncontacts = true'
    )
    found = _found(text, "no-room")
    assert [finding.entry for finding in found] == ["vesper-25"]
    assert "3.2 mm nearer" in str(found[0])  # Z 16.0 - MFT 19.25
    assert [finding.entry for finding in _found(text, "fits-nothing")] == ["vesper-25"]


def test_dark_corners():
    # 21.7 mm diagonal; a 28 mm circle through 0.71x is 19.9 mm.
    text = KIT_TEXT.replace('exif_names = ["ORLA50"]', 'exif_names = ["ORLA50"]\nimage_circle_mm = 28.0')
    found = _found(text, "dark-corners")
    assert {str(finding).split('"')[-2] for finding in found} == {"one", "two"}
    assert any("through m42-reducer covers 19.9 mm of the 21.7 mm" in str(finding) for finding in found)
    assert not any("m42-plain" in str(finding) and '"one"' in str(finding) for finding in found)


def test_doubled_names():
    text = KIT_TEXT.replace('name = "Hale 85 mm f/2"', 'name = "orla  50 mm f/1.4"').replace('["HALE85"]', '["Orla50"]')
    said = [str(finding) for finding in _found(text, "doubled-name")]
    assert len(said) == 2
    assert all('"orla-50" and "hale-85"' in sentence for sentence in said)


def test_a_lens_nobody_can_mount_and_an_adapter_nobody_needs():
    text = KIT_TEXT.replace('name = "Pell 35-70 mm"\nfocal_mm = [35, 70]\nmount = "M42"',
                            'name = "Pell 35-70 mm"\nfocal_mm = [35, 70]\nmount = "AR"')  # fmt: skip
    text += '\n[[adapters]]\nid = "pk-plain"\nname = "PK"\nlens_mount = "PK"\nbody_mount = "MFT"\n'
    assert {finding.entry for finding in _found(text, "fits-nothing")} == {"pell-35-70", "pk-plain"}


def test_an_ambiguous_mount_is_asked_about():
    text = KIT_TEXT.replace('name = "Hale 85 mm f/2"\nfocal_mm = 85\nmount = "M42"',
                            'name = "Hale 85 mm f/2"\nfocal_mm = 85\nmount = "M39"')  # fmt: skip
    assert any('write "LTM" or "M39-SLR"' in str(finding) for finding in _found(text, "missing"))


def test_a_mount_without_register_is_asked_for():
    assert any(finding.entry == "two" and "flange_mm" in str(finding) for finding in _found(KIT_TEXT, "missing"))


def test_a_body_that_takes_no_adapter_is_not_asked_for_its_register():
    telephone = '[[bodies]]\nid = "telephone"\nname = "T"\nexif_model = "T"\nmount = "built in"\n\n'
    assert not any(finding.entry == "telephone" for finding in _found(telephone + KIT_TEXT, "missing"))


def _used(lens: str, adapter: str = "m42-plain", count: int = 1) -> pd.DataFrame:
    return pd.DataFrame({"body": ["one"] * count, "lens": [lens] * count, "adapter": [adapter] * count})


def test_never_used():
    assert _found(KIT_TEXT, "never-used") == []
    row = LogRow(line=2, start=dt.datetime(2026, 5, 1), body="one", lens="orla-50", adapter="m42-plain")
    found = _found(KIT_TEXT, "never-used", log=[row], frames=_used("hale-85"))
    assert [finding.entry for finding in found[:2]] == ["pell-35-70", "vesper-25"]
    assert "orla-50+m42-reducer@one" in str(found[2])
    assert "orla-50+m42-plain@one" not in str(found[2])


def test_measurements_are_asked_for_where_they_matter():
    assert {finding.entry for finding in _found(KIT_TEXT, "missing", frames=_used("hale-85", count=80))} == {
        "hale-85",
        "two",
    }
    text = KIT_TEXT.replace("close_focus_m = 0.9\n", 'focusing = "internal"\n')
    sentence = next(str(f) for f in _found(text, "missing", frames=_used("hale-85", count=80)) if f.entry == "hale-85")
    assert "80 frames" in sentence
    assert "close_focus_m" in sentence
    assert "focuses inside" in sentence
