"""The kit on the pages: forms, what they write, and what names an entry."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from auditor.model.kit_edit import KINDS
from auditor.model.workspace import open_workspace
from auditor.pipeline.kit_editing import stamped_entry
from dashboards.app import turn_to
from dashboards.audit_age import age_in_words
from dashboards.kit_fields import FIELDS
from dashboards.kit_form import texts_of, too_long, values_of
from dashboards.kit_shown import findings_shown, pairings_csv, pairings_of
from dashboards.kit_work import _changed
from dashboards.kit_writes import Kits, workspace_kits
from dashboards.undoing import undoable
from dashboards.watched import workspace_desk
from tests.dashboards.desks import three_row_desk
from tests.dashboards.test_app import page, text_of


def test_the_forms_hold_every_key_of_the_kit_and_mark_the_needed_ones():
    for table, kind in KINDS.items():
        fields = {field.key: field for field in FIELDS[table]}
        assert set(fields) == set(kind.model_fields)
        assert [key for key, field in fields.items() if field.needed] == [
            key for key, known in kind.model_fields.items() if known.is_required()
        ]


def test_a_form_shows_what_stands_there_and_unchanged_changes_nothing(sample_workspace: Path):
    kit = open_workspace(sample_workspace).kit
    for table, entries in (("bodies", kit.bodies), ("lenses", kit.lenses), ("adapters", kit.adapters)):
        for entry in entries:
            texts = texts_of(table, entry.model_dump())
            assert values_of(table, texts, texts) == {}


@pytest.mark.parametrize(
    ("table", "typed", "changed"),
    [
        ("lenses", {"focal_mm.0": "70", "focal_mm.1": "150"}, {"focal_mm": [70, 150]}),
        ("lenses", {"price": "99,5", "contacts": "yes"}, {"price": 99.5, "contacts": True}),
        ("lenses", {"acquired": "2022-04-09", "sold": "May"}, {"acquired": dt.date(2022, 4, 9), "sold": "May"}),
        ("lenses", {"exif_names": "ORLA50 50mm\n\n R 36, old \n"}, {"exif_names": ["ORLA50 50mm", "R 36, old"]}),
        (
            "lenses",
            {"breathing.0.0": "1", "breathing.0.1": "54.5", "breathing.2.0": "0.45", "breathing.2.1": "59.1"},
            {"breathing": [[0.45, 59.1], [1, 54.5]]},
        ),
        ("lenses", {"breathing.0.0": "1"}, {"breathing": [[1, ""]]}),
        ("lenses", {"focal_mm.1": "150"}, {"focal_mm": ["", 150]}),
        ("bodies", {"setting_values_mm": "24 28;35"}, {"setting_values_mm": [24, 28, 35]}),
        ("bodies", {"stabiliser_gain": "nan", "sensor_mm.0": "17,4"}, {"stabiliser_gain": "nan", "sensor_mm": 17.4}),
        ("adapters", {"__class__": "x", "nothing": "y"}, {}),
    ],
)
def test_what_is_typed_becomes_values(table: str, typed: dict[str, str], changed: dict[str, object]):
    shown = texts_of(table, {})
    assert values_of(table, shown | typed, shown) == changed


def test_an_emptied_field_is_taken_out():
    shown = texts_of("lenses", {"price": 140.0, "breathing": [[1.0, 54.5]], "exif_names": ["A"]})
    emptied = {name: "" for name in shown if name not in {"contacts", "focusing"}}
    assert values_of("lenses", shown | emptied, shown) == {"price": None, "breathing": None, "exif_names": None}


def test_what_no_kit_can_hold():
    assert too_long({"name": "x" * 401, "price": "\ud800", "id": "a\x00", "mount": "M42"}).keys() == {
        "name", "price", "id",
    }  # fmt: skip


@pytest.fixture
def kits(own_workspace: Path) -> Kits:
    return workspace_kits(own_workspace, undoable([own_workspace / "kit.toml"]))


def _press(
    kits: Kits, folder: Path, pressed: object, texts: dict[str, str]
) -> tuple[object, str, object, list[object]]:
    form, said, age, errors = _changed(kits, folder, pressed, (list(texts), list(texts.values())))
    return form, text_of(said), age, errors


def _button(folder: Path, kind: str, entry: str, **more: str) -> tuple[dict[str, str], dict[str, str]]:
    found = stamped_entry(folder, "lenses", entry) if entry else ({}, "")
    assert found is not None
    return {"kind": kind, "table": "lenses", "entry": entry, "stamp": found[1], **more}, texts_of("lenses", found[0])


def test_a_press_writes_says_so_and_is_taken_back(own_workspace: Path, kits: Kits):
    before = (own_workspace / "kit.toml").read_bytes()
    pressed, texts = _button(own_workspace, "kit-save", "hale-85")
    form, said, age, _ = _press(kits, own_workspace, pressed, texts | {"price": "250"})
    assert "Changed in kit.toml: hale-85 (price)." in said
    assert "Write it to kit.toml" in text_of(form)
    assert "kit.toml was changed after the last audit" in str(age)
    assert open_workspace(own_workspace).kit.lens("hale-85").price == 250
    assert (
        "Nothing is typed otherwise" in _press(kits, own_workspace, *_button(own_workspace, "kit-save", "hale-85"))[1]
    )
    form, said, _, _ = _press(kits, own_workspace, {"kind": "kit-undo"}, {})
    assert said == "Taken back: lens hale-85 changed."
    assert (own_workspace / "kit.toml").read_bytes() == before
    assert "nothing to take back" in _press(kits, own_workspace, {"kind": "kit-undo"}, {})[1]


def test_a_refused_form_has_its_sentences_beside_the_fields(own_workspace: Path, kits: Kits):
    before = (own_workspace / "kit.toml").read_bytes()
    pressed, texts = _button(own_workspace, "kit-save", "")
    texts |= {"id": "New lens", "price": "-1", "focal_mm.0": "fifty"}
    _, said, _, errors = _press(kits, own_workspace, pressed, texts)
    beside = {name: error for name, error in zip(texts, errors, strict=True) if error}
    assert set(beside) == {"id", "name", "focal_mm.0", "mount", "price"}
    assert said.startswith("5 things are wrong, nothing was written")
    texts |= {"name": "x" * 500}
    assert "longer than 400" in str(_press(kits, own_workspace, pressed, texts)[1])
    assert (own_workspace / "kit.toml").read_bytes() == before


def test_a_lens_is_added_and_removed(own_workspace: Path, kits: Kits):
    pressed, texts = _button(own_workspace, "kit-save", "")
    texts |= {"id": "tern-135", "name": "Tern", "focal_mm.0": "135", "mount": "M42"}
    form, said, _, _ = _press(kits, own_workspace, pressed, texts)
    assert "Added to kit.toml: tern-135" in said
    assert "No row of the log, no answer and no frame names this lens." in text_of(form)
    pressed, _ = _button(own_workspace, "kit-remove", "tern-135", sure="no")
    assert "Removed from kit.toml: tern-135" in _press(kits, own_workspace, pressed, {})[1]
    assert "was taken out of kit.toml by something else" in _press(kits, own_workspace, pressed, {})[1]


def test_a_named_lens_is_removed_only_at_the_second_press(own_workspace: Path, kits: Kits):
    pressed, _ = _button(own_workspace, "kit-remove", "hale-85", sure="no")
    said = _press(kits, own_workspace, pressed, {})[1]
    assert "rows of the log name this lens" in said
    assert "Remove it all the same" in said
    assert "Sold on" in said
    _press(kits, own_workspace, pressed | {"sure": "yes"}, {})
    assert "hale-85" not in {lens.id for lens in open_workspace(own_workspace).kit.lenses}


@pytest.mark.parametrize(
    "pressed",
    [None, "kit-undo", {"kind": "kit-save", "table": "__class__", "entry": "", "stamp": ""},
     {"kind": "kit-remove", "table": "lenses", "entry": "../../etc/passwd", "stamp": "", "sure": "yes"},
     {"kind": "kit-save", "table": "lenses", "entry": "hale-85", "stamp": "0" * 16}],
    ids=range(5),
)  # fmt: skip
def test_nonsense_writes_nothing(own_workspace: Path, kits: Kits, pressed: object):
    before = (own_workspace / "kit.toml").read_bytes()
    texts = texts_of("lenses", {}) | {"name": "taken over"}
    _changed(kits, own_workspace, pressed, (list(texts), list(texts.values())))
    assert (own_workspace / "kit.toml").read_bytes() == before


def test_undo_of_several_files_and_of_one_that_was_not_there(tmp_path: Path):
    one, two = tmp_path / "one", tmp_path / "two"
    one.write_text("1")
    files = undoable([one, two])

    def change() -> None:
        one.write_text("1b")
        two.write_text("2")

    files.do("both", change)
    two.write_text("2, by another")
    assert "two was changed by something else" in files.undo()
    two.write_text("2")
    assert files.undo() == "Taken back: both."
    assert (one.read_text(), two.exists()) == ("1", False)

    def fails() -> None:
        one.write_text("half")
        raise OSError

    with pytest.raises(OSError):  # noqa: PT011  (the file it made is put back all the same)
        files.do("half", fails)
    files.undo()
    assert one.read_text() == "1"


def _full(*_: object) -> None:
    raise OSError(28, "No space left on device")


def test_a_full_disk_is_said_and_nothing_is_lost(own_workspace: Path, kits: Kits, monkeypatch: pytest.MonkeyPatch):
    before = (own_workspace / "kit.toml").read_bytes()
    pressed, texts = _button(own_workspace, "kit-save", "hale-85")
    with monkeypatch.context() as full:
        full.setattr("auditor.pipeline.user_files.write_bytes", _full)
        assert "No space left" in _press(kits, own_workspace, pressed, texts | {"price": "250"})[1]
    assert (own_workspace / "kit.toml").read_bytes() == before
    _press(kits, own_workspace, pressed, texts | {"price": "250"})
    with monkeypatch.context() as full:
        full.setattr("dashboards.undoing.write_bytes", _full)
        assert "No space left" in kits.undo()
    assert kits.undo().startswith("Taken back")
    assert (own_workspace / "kit.toml").read_bytes() == before


def test_a_lens_that_only_frames_have_asks_too(own_workspace: Path, kits: Kits):
    log = own_workspace / "log.csv"
    log.write_text(log.read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")
    pressed, _ = _button(own_workspace, "kit-remove", "hale-85", sure="no")
    said = _press(kits, own_workspace, pressed, {})[1]
    assert "172 frames were made with it; without it the frames lose their lens at the next audit." in said
    assert "hale-85" in {lens.id for lens in open_workspace(own_workspace).kit.lenses}


def test_a_body_with_a_corrected_clock_says_what_has_to_go_first(sample_workspace: Path):
    told = page(workspace_desk(sample_workspace)(), "/kit", "?entry=bodies/one")
    assert "1 clock correction name this body; the clock correction in settings.toml has to go before" in told


def test_a_kit_broken_in_an_editor_refuses_every_press(own_workspace: Path, kits: Kits):
    pressed, texts = _button(own_workspace, "kit-save", "hale-85")
    path = own_workspace / "kit.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("focal_mm = 35", "focal_mm = -35"), encoding="utf-8")
    broken = path.read_bytes()
    assert "hale-35" in _press(kits, own_workspace, pressed, texts | {"price": "250"})[1]
    path.write_bytes(b"[[lenses\n")
    assert "not valid TOML" in _press(kits, own_workspace, pressed, texts | {"price": "250"})[1]
    assert path.read_bytes() == b"[[lenses\n" != broken


def test_the_page_shows_the_kit_its_pairings_and_what_is_missing(sample_workspace: Path):
    desk = workspace_desk(sample_workspace)()
    told = page(desk, "/kit")
    for words in ("Orla 50 mm f/1.4", "51.6 mm, at 2 distances", "What fits what", "Not judged: the adapter's glass",
                  "Yes: 43.3 for 21.7 mm", "hale-85", "Add an adapter", "The audit is newer"):  # fmt: skip
        assert words in told
    assert desk.workspace is not None
    pairings = pairings_of(desk, desk.workspace)
    assert pairings["frames"].sum() == len(desk.frames[["body", "lens", "adapter"]].dropna())
    assert len(pairings_csv(desk)) == len(pairings)
    assert pairings_csv(three_row_desk()).empty


def test_a_finding_leads_to_the_entry_it_is_about(sample_workspace: Path):
    desk = workspace_desk(sample_workspace)()
    assert desk.workspace is not None
    about = {(one.table, one.entry) for one in findings_shown(desk, desk.workspace)}
    assert about == {("lenses", "hale-85"), ("lenses", "hale-35"), ("lenses", "bruna-135"), ("", "")}


def test_what_a_new_kit_lacks_leads_to_its_first_body(own_workspace: Path):
    path = own_workspace / "kit.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("sensor_mm", "# sensor_mm"), encoding="utf-8")
    desk = workspace_desk(own_workspace)()
    assert desk.workspace is not None
    first = findings_shown(desk, desk.workspace)[0]
    assert (first.table, first.entry) == ("bodies", "one")
    assert "sensor_mm is missing" in first.sentence
    assert "entry=bodies%2Fone" in str(turn_to(desk, "/kit", "")[0])


def test_a_lens_to_measure_leads_to_a_test_of_its_usual_pairing(sample_workspace: Path):
    laid = str(turn_to(workspace_desk(sample_workspace)(), "/kit", "")[0])
    assert "/calibration?part=test&pairing=one%2Fhale-85%2Fm42-plain" in laid


def test_a_form_says_what_it_is_for_and_an_entry_that_is_gone_says_so(sample_workspace: Path):
    desk = workspace_desk(sample_workspace)()
    told = page(desk, "/kit", "?entry=lenses/orla-50")
    for words in ("Its right setting close up", "Sold on", "rows of the log name this lens", "Write it to kit.toml"):
        assert words in told
    assert "Add it to kit.toml" in page(desk, "/kit", "?entry=adapters/")
    assert "There is no lens" in page(desk, "/kit", "?entry=lenses/no-such")
    assert "What fits what" in page(desk, "/kit", "?entry=nonsense/x")
    assert "without a workspace" in page(three_row_desk(), "/kit")


def test_the_age_of_the_audit(own_workspace: Path):
    assert "newer than the kit" in age_in_words(own_workspace)
    (own_workspace / "kit.toml").touch()
    assert "kit.toml was changed after" in age_in_words(own_workspace)
    (own_workspace / "settings.toml").touch()
    assert "kit.toml and settings.toml were changed after" in age_in_words(own_workspace)
    (own_workspace / "store" / "audit" / "_manifest.json").unlink()
    assert age_in_words(own_workspace) == "Nothing was audited yet."
