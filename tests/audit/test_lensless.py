"""Bodies that no lens of the kit fits."""

from __future__ import annotations

import pandas as pd

from auditor.audit.kit_check import check_kit
from auditor.audit.lensless import Lensless, lensless_bodies, lensless_sentence
from auditor.model.kit import parse_kit
from auditor.model.pairings import kit_pairings
from tests.kits import KIT_TEXT

TWO_MORE = "".join(
    f'[[bodies]]\nid = "{name}"\nname = "{name}"\nexif_model = "{name}"\nmount = "of its own {name}"\n\n'
    for name in ("telephone", "pocket")
)
KIT = parse_kit(TWO_MORE + KIT_TEXT)


def frames(**setting: object) -> pd.DataFrame:
    bodies = ["one", "telephone", "pocket", "pocket", "pocket", None]
    return pd.DataFrame({"body": pd.Series(bodies, dtype="str"), "lens": None, "adapter": None, **setting})


def test_only_bodies_with_frames_and_without_a_lens_are_named_most_frames_first() -> None:
    found = lensless_bodies(KIT, kit_pairings(KIT), frames())
    assert found == {"pocket": Lensless(3), "telephone": Lensless(1)}
    assert lensless_bodies(KIT, kit_pairings(KIT), None) == {}
    assert lensless_bodies(KIT, kit_pairings(KIT), frames().iloc[:1]) == {}
    held = frames().astype({"body": "category"})  # as the pages hold it
    assert lensless_bodies(KIT, kit_pairings(KIT), held) == found


def test_what_was_typed_on_them_is_told() -> None:
    found = lensless_bodies(KIT, kit_pairings(KIT), frames(setting_mm=[50.0, 24.0, 85.0, 50.0, 50.0, 35.0]))
    assert found["pocket"].typed == ((50.0, 2), (85.0, 1))
    assert 'typed on "pocket": 50 mm (2 frames), 85 mm (1 frame)' in lensless_sentence(found)


def test_many_are_counted() -> None:
    many = {f"body-{number}": Lensless(9 - number) for number in range(6)}
    assert '"body-2" (7 frames) and 3 more, so' in lensless_sentence(many)


def test_the_kit_s_check_says_it_once() -> None:
    found = [one for one in check_kit(KIT, frames=frames()) if one.kind == "no-lens"]
    assert [one.entry for one in found] == ["pocket"]
