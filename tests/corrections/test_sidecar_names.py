from __future__ import annotations

from auditor.corrections.sidecar_names import Habit, Names, sidecar_names


def chosen(frames: list[Names], found: list[str], otherwise: Habit = "name.xmp") -> dict[str, tuple[str, ...]]:
    names = sidecar_names(frames, found, otherwise)
    return {frame.name: own for frame, own in zip(frames, names, strict=True)}


def test_what_lies_beside_the_frame_is_followed() -> None:
    frames = [Names("a.orf"), Names("b.orf"), Names("c.orf")]
    found = ["a.orf.xmp", "b.xmp", "other.xmp"]
    assert chosen(frames, found)["a.orf"] == ("a.orf.xmp",)
    assert chosen(frames, found)["b.orf"] == ("b.xmp",)


def test_both_habits_at_once_are_both_served() -> None:
    assert chosen([Names("a.orf")], ["a.orf.xmp", "a.xmp"]) == {"a.orf": ("a.orf.xmp", "a.xmp")}


def test_the_folders_habit_comes_next_and_the_setting_last() -> None:
    frames = [Names("a.orf"), Names("b.orf"), Names("c.orf")]
    assert chosen(frames, ["a.orf.xmp"])["c.orf"] == ("c.orf.xmp",)
    assert chosen(frames, ["a.xmp", "b.xmp"], "name.ext.xmp")["c.orf"] == ("c.xmp",)
    assert chosen(frames, ["a.xmp", "b.orf.xmp"], "name.ext.xmp")["c.orf"] == ("c.orf.xmp",)  # no habit
    assert chosen(frames, [])["c.orf"] == ("c.xmp",)
    assert chosen(frames, [], "name.ext.xmp")["c.orf"] == ("c.orf.xmp",)


def test_the_ending_is_kept_as_it_is_written() -> None:
    assert chosen([Names("A.ORF")], ["A.XMP"]) == {"A.ORF": ("A.XMP",)}


def test_a_pair_has_one_sidecar_and_what_its_other_file_has_is_served_too() -> None:
    pair = Names("a.orf", "a.jpg")
    assert chosen([pair], []) == {"a.orf": ("a.xmp",)}
    assert chosen([pair], ["a.jpg.xmp"]) == {"a.orf": ("a.jpg.xmp",)}


def test_no_sidecar_serves_two_frames() -> None:
    frames = [Names("a.tif"), Names("a.orf"), Names("b.jpg"), Names("b.png")]
    names = chosen(frames, ["a.xmp"])
    assert names["a.orf"] == ("a.xmp",)
    assert names["a.tif"] == ("a.tif.xmp",)
    assert len({name for own in names.values() for name in own}) == len(frames)


def test_names_that_are_not_text_and_have_no_ending() -> None:
    frames = [Names("caf\udce9.jpg"), Names("plain")]
    assert chosen(frames, []) == {"caf\udce9.jpg": ("caf\udce9.xmp",), "plain": ("plain.xmp",)}
