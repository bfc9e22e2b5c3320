from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from pydantic import ValidationError

from auditor.errors import KitError
from auditor.model.kit import Body, Lens, load_kit, parse_kit
from auditor.model.pairings import kit_pairings, pairing_of
from tests.kits import KIT_TEXT, small_kit


def refusal(text: str) -> str:
    with pytest.raises(KitError) as refused:
        parse_kit(text)
    return str(refused.value)


def test_a_prime_has_its_focal_length_at_both_ends() -> None:
    assert small_kit().lens("orla-50").focal_mm == (50.0, 50.0)
    assert small_kit().lens("pell-35-70").is_zoom


def test_values_are_frozen() -> None:
    with pytest.raises(ValidationError):
        small_kit().lens("orla-50").mount = "MD"


def test_every_problem_comes_in_one_message() -> None:
    message = refusal(
        KIT_TEXT.replace("sensor_mm = [17.4, 13.0]", "sensor_mm = [17.4]")
        .replace('id = "hale-85"', 'id = "orla-50"')
        .replace("focal_mm = [35, 70]", "focal_mm = [70, 35]")
        .replace("factor = 0.71", "factor = 0")
        .replace("max_aperture", "max_apperture")
    )
    assert message.startswith("kit.toml: 5 problems, nothing was computed")
    for part in (
        'bodies[0] "one": sensor_mm = [17.4]',
        'lenses[1] "orla-50": this id is already that of lenses[0]',
        'lenses[2] "pell-35-70": focal_mm = [70, 35] has its ends reversed',
        'adapters[1] "m42-reducer": factor = 0 should be greater than 0',
        "unknown key 'max_apperture' (did you mean \"max_aperture\"?)",
        "such as sensor_mm = [17.4, 13.0]",
    ):
        assert part in message


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ('id = "One"', "lower-case letters, digits and single hyphens"),
        ("stabiliser_stops = true", "stabiliser_stops = true should be a number"),
        ('stabiliser_stops = "5"', 'stabiliser_stops = "5" should be a number'),
        ("sensor_mm = 17.4", "sensor_mm = 17.4"),
        ("sensor_mm = [17.4, -13]", "should be greater than 0"),
        ('setting_recorded_in = "lens-nam"', "'focal-length', 'lens-name' or 'none'"),
        ('name = ""', "should not be empty"),
    ],
)
def test_a_wrong_value_of_a_body_is_named_with_an_example(wrong: str, says: str) -> None:
    key = wrong.split(" = ")[0]
    right = {"id": 'id = "one"', "name": 'name = "Silver body"', "stabiliser_stops": "stabiliser_stops = 5.0"}
    lines = {**right, "exif_model": 'exif_model = "S"', "mount": 'mount = "MFT"', key: wrong}
    message = refusal("[[bodies]]\n" + "\n".join(lines.values()))
    assert says in message
    assert f"such as {key} = " in message


def test_what_is_missing_is_asked_for() -> None:
    message = refusal('[[lenses]]\nid = "orla-50"')
    assert "name is missing" in message
    assert "focal_mm is missing; such as focal_mm = 50" in message
    assert "mount is missing" in message


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("focal_mm = [35, 70]\nmeasured_focal_mm = 50", "belongs to a lens of one focal length"),
        ("focal_mm = 50\nacquired = 2024-01-02\nsold = 2023-01-02", "is before acquired"),
        ("focal_mm = 0", "should be greater than 0"),
        ("focal_mm = 50\nbreathing = [[0.45]]", "breathing = [[0.45]] does not have the right form"),
        ("focal_mm = inf", "focal_mm = inf"),
    ],
)
def test_a_lens_that_contradicts_itself_is_refused(lines: str, says: str) -> None:
    assert says in refusal(f'[[lenses]]\nid = "a"\nname = "A"\nmount = "M42"\n{lines}')


def test_a_helicoid_has_its_shorter_end_first() -> None:
    head = '[[adapters]]\nid = "h"\nname = "H"\nlens_mount = "M42"\nbody_mount = "M42"\n'
    assert parse_kit(head + "extension_mm = [0, 15]").adapter("h").extension_mm == (0.0, 15.0)
    assert "the shortest and the longest" in refusal(head + "extension_mm = [15, 5]")


def test_an_unknown_table_and_a_single_table_are_told_apart() -> None:
    assert 'unknown table [lens] (did you mean "lenses"?)' in refusal("[lens]\nid = 1")
    assert "each beginning with [[lenses]]" in refusal('[lenses]\nid = "a"')
    assert "should be a table" in refusal("lenses = [1]")


def test_a_slip_in_the_toml_is_reported_with_its_line() -> None:
    assert "line 2" in refusal("[[bodies]]\nid = one")


def test_a_missing_file_and_one_that_is_not_text_are_errors_of_the_kit(tmp_path: Path) -> None:
    with pytest.raises(KitError, match="no such file"):
        load_kit(tmp_path / "kit.toml")
    (tmp_path / "kit.toml").write_bytes(b'name = "\xff\xfe"')
    with pytest.raises(KitError, match="not UTF-8"):
        load_kit(tmp_path / "kit.toml")
    (tmp_path / "kit.toml").unlink()
    (tmp_path / "kit.toml").mkdir()
    with pytest.raises(KitError, match="cannot be read"):
        load_kit(tmp_path / "kit.toml")


def test_a_byte_order_mark_is_no_problem(tmp_path: Path) -> None:
    (tmp_path / "kit.toml").write_bytes(b"\xef\xbb\xbf" + KIT_TEXT.encode())
    assert load_kit(tmp_path / "kit.toml") == small_kit()


def test_an_unknown_id_names_the_nearest_or_all() -> None:
    with pytest.raises(KitError, match='did you mean "hale-85"'):
        small_kit().lens("hale-58")
    with pytest.raises(KitError, match="the kit has one, two"):
        small_kit().body("zzz")


def test_gaps_say_what_they_cost() -> None:
    body = Body(id="new", name="New", exif_model="N", mount="N")
    gaps = small_kit().model_copy(update={"bodies": (body,)}).gaps
    assert len(gaps) == 2
    assert 'sensor_mm is missing for "new": shake blur is not computed' in gaps[0]
    assert small_kit().gaps == ()


def test_a_lens_is_owned_from_the_day_it_was_bought_to_the_day_it_was_sold() -> None:
    lens = Lens(id="a", name="A", focal_mm=50.0, mount="M", acquired=dt.date(2022, 1, 2), sold=dt.date(2023, 1, 2))  # type: ignore[arg-type]
    days = [dt.date(2022, 1, 1), dt.date(2022, 1, 2), dt.date(2023, 1, 2), dt.date(2023, 1, 3)]
    assert [lens.was_owned_on(day) for day in days] == [False, True, True, False]


def test_pairings_are_what_the_mounts_allow() -> None:
    kit = small_kit()
    found = {(p.body.id, p.lens.id, p.adapter_id) for p in kit_pairings(kit)}
    assert ("one", "vesper-25", "") in found
    assert ("one", "orla-50", "m42-reducer") in found
    assert ("two", "orla-50", "m42-nl") in found
    assert ("two", "vesper-25", "") not in found
    # Three lenses through two adapters and one bare on body one; three through one adapter on body two.
    assert len(found) == 3 * 2 + 1 + 3


def test_a_stack_is_a_pairing_only_where_it_was_named() -> None:
    kit = small_kit()
    stack = "m42-tube-10+m42-plain"
    stacked = [p for p in kit_pairings(kit, stacks=[stack, "m42-plain"]) if p.adapter_id == stack]
    assert {p.lens.id for p in stacked} == {"orla-50", "hale-85", "pell-35-70"}
    assert stacked[0].extension_mm == (10.0, 10.0)
    assert pairing_of(kit, "one", "orla-50", stack).factor == 1.0


def test_mounts_that_do_not_meet_are_named() -> None:
    with pytest.raises(KitError, match=r'"orla-50" \(M42\) does not fit body "two" \(NL\) through "m42-plain"'):
        pairing_of(small_kit(), "two", "orla-50", "m42-plain")
    with pytest.raises(KitError, match="without an adapter"):
        pairing_of(small_kit(), "one", "orla-50", "")


def test_contacts_end_at_an_adapter_without() -> None:
    kit = parse_kit(KIT_TEXT.replace('mount = "M42"\nclose_focus_m = 0.9', 'mount = "M42"\ncontacts = true'))
    assert not pairing_of(kit, "one", "hale-85", "m42-plain").contacts
    assert pairing_of(kit, "one", "vesper-25", "").contacts
