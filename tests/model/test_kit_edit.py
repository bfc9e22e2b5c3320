"""One entry of the kit changed, added, taken out; nothing that the validator refuses gets in."""

from __future__ import annotations

import pytest

from auditor.errors import KitError
from auditor.model.kit import parse_kit
from auditor.model.kit_edit import RefusedEntry, entry_in, with_kit_entry, without_kit_entry
from tests.kits import KIT_TEXT

NEW = {"id": "tern-135", "name": "Tern 135", "focal_mm": 135, "mount": "M42"}


def test_everything_wrong_is_said_at_once_each_under_its_key():
    with pytest.raises(RefusedEntry) as refused:
        with_kit_entry(KIT_TEXT, "lenses", "", {"id": "Tern 135", "focal_mm": [70, 35], "price": "much"})
    assert set(refused.value.by_key) == {"id", "name", "focal_mm", "mount", "price"}
    assert "is missing" in refused.value.by_key["name"]
    assert str(refused.value).startswith("kit.toml: 5 problems, nothing was written")


@pytest.mark.parametrize(
    ("values", "key"),
    [
        ({"focal_mm": [35, 70], "measured_focal_mm": 50.0}, "measured_focal_mm"),
        ({"acquired": "2022-04-09"}, "acquired"),
        ({"no_such": 1}, "no_such"),
        ({"id": "hale-85"}, "id"),
    ],
)
def test_what_is_wrong_with_several_keys_or_entries_stands_under_one(values, key):
    with pytest.raises(RefusedEntry) as refused:
        with_kit_entry(KIT_TEXT, "lenses", "orla-50", values)
    assert set(refused.value.by_key) == {key}


def test_an_entry_is_added_changed_and_taken_out():
    added = with_kit_entry(KIT_TEXT, "lenses", "", NEW)
    assert parse_kit(added).lens("tern-135").focal_mm == (135, 135)
    changed = with_kit_entry(added, "lenses", "tern-135", {"id": "tern", "max_aperture": 3.5})
    assert parse_kit(changed).lens("tern").max_aperture == 3.5
    assert without_kit_entry(added, "lenses", "tern-135") == KIT_TEXT
    assert entry_in(KIT_TEXT, "lenses", "tern-135") is None


def test_an_entry_that_is_gone_and_a_kit_that_is_wrong_elsewhere():
    with pytest.raises(KitError, match=r"not in kit\.toml any more"):
        with_kit_entry(KIT_TEXT, "lenses", "tern-135", {"price": 1})
    with pytest.raises(KitError, match=r"not in kit\.toml any more"):
        without_kit_entry(KIT_TEXT, "lenses", "tern-135")
    broken = KIT_TEXT.replace("focal_mm = 85", "focal_mm = -85")
    for change in (
        lambda: with_kit_entry(broken, "lenses", "", NEW),
        lambda: without_kit_entry(broken, "bodies", "one"),
    ):
        with pytest.raises(KitError, match="hale-85"):
            change()
    with pytest.raises(KitError, match="not valid TOML"):
        entry_in("[[", "lenses", "a")


def test_a_file_that_cannot_be_changed_safely_is_left():
    odd = '[[lenses]]\nid = "a"\nname = """\n[[lenses]]\n[[rings]]\n"""\nfocal_mm = 50\nmount = "M42"\n'
    with pytest.raises(KitError, match="in an editor"):
        with_kit_entry(odd, "lenses", "", NEW)
