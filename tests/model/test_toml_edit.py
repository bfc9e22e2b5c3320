"""Changing single values of the user's files."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

from auditor.model.kit import parse_kit
from auditor.model.settings import parse_settings
from auditor.model.toml_edit import with_entry, with_entry_values, with_table_values, without_entry
from tests.kits import KIT_TEXT


def test_everything_else_stays_as_it_is():
    text = "# mine\n" + KIT_TEXT.replace("stabiliser_stops = 5.0", "stabiliser_stops = 5.0   # the maker's", 1)
    changed = with_entry_values(text, "bodies", "one", {"stabiliser_stops": 4.2})
    assert changed == text.replace(
        "stabiliser_stops = 5.0   # the maker's", "stabiliser_stops = 4.2   # the maker's", 1
    )


def test_a_measured_table_is_added():
    changed = with_entry_values(KIT_TEXT, "lenses", "hale-85", {"breathing": [[1.5, 91.0], [3.0, 88.0]]})
    assert parse_kit(changed).lens("hale-85").breathing == ((1.5, 91.0), (3.0, 88.0))


def test_a_table_is_changed_or_added():
    assert parse_settings(with_table_values("", "hand", {"exponent": 0.7})).hand.exponent == 0.7
    assert with_table_values("[hand] # me\nexponent = 0.8 # H\n", "hand", {"exponent": 0.7}) == (
        "[hand] # me\nexponent = 0.7 # H\n"
    )


def test_an_entry_that_is_not_there():
    with pytest.raises(KeyError):
        with_entry_values(KIT_TEXT, "bodies", "three", {"stabiliser_stops": 4.2})


SEVERAL = """# mine
[[bodies]]
id = "one"

# ---- Lenses ----
# exif_names: what stands in Exif

[[lenses]]
id = "a"   # first
breathing = [
  [0.45, 55.0],
  [1.0, 52.9]
]
# bought at the fair

[[lenses]]
id = "b"
# ---- Rings ----
[[adapters]]
id = "c"
"""


def test_a_new_key_stands_with_its_entry_and_not_below_the_next_heading():
    changed = with_entry_values(SEVERAL, "bodies", "one", {"gain": 1.02})
    assert changed == SEVERAL.replace('id = "one"\n', 'id = "one"\ngain = 1.02\n')
    changed = with_entry_values(SEVERAL, "lenses", "a", {"price": 5})
    assert "# bought at the fair\nprice = 5\n\n[[lenses]]" in changed


def test_none_takes_a_key_out():
    assert with_entry_values('[[a]]\nid = "x"\nk = 1\n', "a", "x", {"k": None, "j": None}) == '[[a]]\nid = "x"\n'


@pytest.mark.parametrize(
    ("table", "entry", "gone"),
    [
        ("bodies", "one", '[[bodies]]\nid = "one"\n\n'),
        ("lenses", "a", ('[[lenses]]\nid = "a"   # first\nbreathing = [\n  [0.45, 55.0],\n  [1.0, 52.9]\n]\n'
         "# bought at the fair\n\n")),
        ("lenses", "b", '[[lenses]]\nid = "b"\n'),
        ("adapters", "c", '[[adapters]]\nid = "c"\n'),
    ],
)  # fmt: skip
def test_an_entry_is_taken_out_and_the_comments_around_it_stay(table, entry, gone):
    assert gone in SEVERAL
    assert without_entry(SEVERAL, table, entry) == SEVERAL.replace(gone, "")


def test_entries_written_inline_are_taken_out_too():
    text = 'lenses = [{id = "a"}, {id = "b"}] # two\n'
    assert tomllib.loads(without_entry(text, "lenses", "a")) == {"lenses": [{"id": "b"}]}
    with pytest.raises(KeyError):
        without_entry(text, "lenses", "c")


def test_an_entry_is_added_after_its_kind():
    assert with_entry(SEVERAL, "lenses", {"id": "new", "name": "[[lenses]]\n"}) == SEVERAL.replace(
        'id = "b"\n', 'id = "b"\n\n[[lenses]]\nid = "new"\nname = "[[lenses]]\\n"\n'
    )
    assert with_entry("", "lenses", {"id": "a"}) == '[[lenses]]\nid = "a"\n'
    assert with_entry("# mine\n", "lenses", {"id": "a"}) == '# mine\n\n[[lenses]]\nid = "a"\n'
    no_end = '[[lenses]]\nid = "a"'
    assert tomllib.loads(with_entry(no_end, "lenses", {"id": "b"}))["lenses"] == [{"id": "a"}, {"id": "b"}]


def test_a_text_that_looks_like_a_heading_is_not_cut():
    text = '[[lenses]]\nid = "a"\nname = """\n[[lenses]]\n"""\n[[lenses]]\nid = "b"\n'
    assert tomllib.loads(without_entry(text, "lenses", "b"))["lenses"] == [{"id": "a", "name": "[[lenses]]\n"}]
    with pytest.raises(ValueError, match="in an editor"):
        with_entry('[[lenses]]\nid = "a"\nname = """\n[[lenses]]\n[[rings]]\n"""\n', "lenses", {"id": "b"})


def test_changes_of_random_files_change_nothing_else():
    """Against the standard library's own reader of TOML: data as wanted, every other line as it was."""
    rng = np.random.default_rng(5)
    for _ in range(300):
        text = ""
        for table in ("bodies", "lenses", "adapters"):
            for number in range(rng.integers(1, 4)):
                text += rng.choice(["", "\n", "# above\n", "\n# alone\n\n"])
                text += f'[[{table}]]\nid = "{table}-{number}"{rng.choice(["", "  # why"])}\n'
                text += "".join(f'{key} = "{rng.integers(10)}"\n' for key in ("name", "note") if rng.random() < 0.6)
                text += rng.choice(["", "# below\n", "\n# gap\n"])
        table, data = str(rng.choice(["bodies", "lenses", "adapters"])), tomllib.loads(text)
        place = int(rng.integers(len(data[table])))
        entry, comments = data[table][place]["id"], text.count("#")
        out = without_entry(text, table, entry)
        left = {name: [one for one in held if one["id"] != entry] for name, held in data.items()}
        assert {k: v for k, v in tomllib.loads(out).items() if v} == {k: v for k, v in left.items() if v}
        assert out.count("# above") == text.count("# above")
        assert out.count("# alone") == text.count("# alone")
        assert out.count("# gap") == text.count("# gap")
        changed = with_entry_values(text, table, entry, {"name": "new", "gain": 1.5})
        data[table][place] |= {"name": "new", "gain": 1.5}
        assert tomllib.loads(changed) == data
        assert changed.count("#") == comments
