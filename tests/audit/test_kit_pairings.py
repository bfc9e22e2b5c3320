"""What is told of each pairing."""

from __future__ import annotations

import pytest

from auditor.audit.kit_pairings import PairingCheck, check_pairings
from auditor.model.kit import parse_kit
from auditor.model.pairings import kit_pairings
from tests.kits import KIT_TEXT

PLAIN = 'id = "m42-plain"\nname = "M42 plain"\nlens_mount = "M42"\nbody_mount = "MFT"\n'


def _checks(text: str, stacks: tuple[str, ...] = ()) -> dict[tuple[str, str, str], PairingCheck]:
    found = check_pairings(kit_pairings(parse_kit(text), stacks=stacks))
    return {(one.pairing.body.id, one.pairing.lens.id, one.pairing.adapter_id): one for one in found}


# M42 45.46 mm, this body 19.25: a ring of 26.21. Registers: camerabilia (2011), German Wikipedia for 19,25.
# Newton: an excess of δ leaves f²/δ as the farthest sharp distance (D. Jacobson FAQ): 50²/1 = 2.5 m.
@pytest.mark.parametrize(
    ("thickness", "words", "doubtful"),
    [
        (26.2, "yes", False),
        (27.21, "no: 1.0 mm too long, sharp to 2.5 m at most", True),
        (25.21, "beyond it: 1.0 mm too short, the distance scale is wrong", True),
    ],
)
def test_infinity_by_the_adapters_length(thickness: float, words: str, doubtful: bool):
    text = KIT_TEXT.replace(PLAIN, f"{PLAIN}thickness_mm = {thickness}\n")
    assert text != KIT_TEXT
    found = _checks(text)["one", "orla-50", "m42-plain"]
    assert (found.infinity, found.is_doubtful) == (words, doubtful)


def test_what_is_not_known_says_what_would_tell():
    found = _checks(KIT_TEXT, ("m42-tube-10+m42-plain",))
    assert found["one", "vesper-25", ""].infinity == "yes, its own mount"
    assert found["one", "orla-50", "m42-plain"].infinity == "not known: add the adapter's thickness_mm"
    assert "glass" in found["one", "orla-50", "m42-reducer"].infinity
    assert "register" in found["two", "orla-50", "m42-nl"].infinity
    # f²/δ = 50²/10 mm = 0.25 m.
    assert found["one", "orla-50", "m42-tube-10+m42-plain"].infinity == "no, as tubes do: sharp to 0.25 m at most"
    assert found["one", "orla-50", "m42-plain"].coverage == "not known: add image_circle_mm"
    assert not any(one.is_doubtful for one in found.values())


def test_a_body_too_deep_for_a_lens():
    text = KIT_TEXT + '\n[[lenses]]\nid = "near"\nname = "Near"\nfocal_mm = 24\nmount = "Z"\n'
    text += '[[adapters]]\nid = "z"\nname = "Z ring"\nlens_mount = "Z"\nbody_mount = "MFT"\n'
    assert "3.2 mm too deep" in _checks(text)["one", "near", "z"].infinity  # 19.25 - 16.0


def test_coverage_by_the_image_circle():
    # 17.4 × 13.0 mm: diagonal 21.72; a circle of 28 mm through 0.71× is 19.88.
    text = KIT_TEXT.replace('exif_names = ["ORLA50"]', 'exif_names = ["ORLA50"]\nimage_circle_mm = 28.0')
    found = _checks(text)
    assert found["one", "orla-50", "m42-plain"].coverage == "yes: 28.0 for 21.7 mm"
    assert found["one", "orla-50", "m42-reducer"].coverage == "dark corners: 19.9 of 21.7 mm"
    assert found["one", "orla-50", "m42-reducer"].is_doubtful
    assert _checks(text.replace("sensor_mm = [17.4, 13.0]\n", ""))["one", "orla-50", "m42-plain"].coverage.endswith(
        "the body's sensor_mm"
    )
