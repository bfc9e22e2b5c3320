from __future__ import annotations

import numpy as np
import pandas as pd

from auditor.audit.reach import cover_of, in_reach, what_if
from auditor.model.kit import parse_kit
from auditor.model.pairings import kit_pairings
from auditor.model.settings import Plan
from tests.kits import KIT_TEXT

KIT = parse_kit(KIT_TEXT)
PAIRINGS = kit_pairings(KIT)


def used(focal_mm: list[float], **columns: object) -> pd.DataFrame:
    usual = {
        "used_f_number": np.nan,
        "distance_m": np.nan,
        "kept": np.int8(1),
        "lens": pd.Categorical(["orla-50"] * len(focal_mm)),
        "focal": pd.Categorical(["any"] * len(focal_mm)),
        "body": pd.Categorical(["one"] * len(focal_mm)),
    }
    return pd.DataFrame({"effective_focal_mm": focal_mm, **usual, **columns})


def reached(frames: pd.DataFrame, lens: str, **plan: float) -> list[bool]:
    return in_reach(frames, [lens], PAIRINGS, Plan(**plan))[:, 0].tolist()


def test_a_focal_length_within_the_share_is_in_reach_plain_or_reduced() -> None:
    # orla-50: 50 plain, 35.5 through the reducer 0.71.
    frames = used([57.0, 58.0, 43.0, 42.0, 40.5, 31.0, 29.5, 25.0])
    assert reached(frames, "orla-50") == [True, False, True, False, True, True, False, False]
    assert reached(frames, "orla-50", reach_percent=1.0) == [False] * 8


def test_a_zoom_reaches_all_between_its_ends() -> None:
    assert reached(used([20.0, 28.0, 60.0, 75.0, 90.0]), "pell-35-70") == [False, True, True, True, False]


def test_a_slower_lens_does_not_reach_a_frame_that_needed_the_light() -> None:
    # hale-85 has no aperture in the kit: no hindrance. orla-50 opens to f/1.4; half a stop slower is f/1.2.
    assert reached(used([50.0, 50.0, 50.0], used_f_number=[1.0, 1.25, 5.6]), "orla-50") == [False, True, True]
    assert reached(used([85.0], used_f_number=[0.95]), "hale-85") == [True]


def test_the_reducer_makes_a_lens_faster() -> None:
    # 1.4 x 0.71 = 0.99 at 35.5 mm.
    assert reached(used([35.5, 50.0], used_f_number=[1.0, 1.0]), "orla-50") == [True, False]


def test_a_lens_that_does_not_focus_as_close_does_not_reach() -> None:
    assert reached(used([50.0, 50.0, 50.0], distance_m=[0.3, 0.45, np.nan]), "orla-50") == [False, True, True]


def test_only_pairings_of_the_frame_s_body_count() -> None:
    frames = used([25.0, 25.0], body=pd.Categorical(["one", "two"]))
    assert reached(frames, "vesper-25") == [True, False]


def test_cover_names_who_reaches_and_what_nobody_does() -> None:
    frames = used([50.0, 50.0, 50.0, 20.0])
    cover = cover_of(frames, "orla-50", KIT.lenses, PAIRINGS, Plan())
    assert (cover.frames, cover.covered, cover.without) == (4, 0.75, 1)
    assert cover.by[0] == ("pell-35-70", 0.75)
    alone = cover_of(frames, "orla-50", [KIT.lens("orla-50")], PAIRINGS, Plan())
    assert (alone.covered, alone.without, alone.by) == (0.0, 4, ())


def test_a_lens_without_a_keeper_is_covered_by_what_it_was_used_for() -> None:
    assert cover_of(used([50.0], kept=np.int8(0)), "orla-50", KIT.lenses, PAIRINGS, Plan()).frames == 1
    assert np.isnan(cover_of(used([]), "orla-50", KIT.lenses, PAIRINGS, Plan()).covered)


def test_selling_a_lens_loses_what_only_it_reached() -> None:
    frames = used([50.0, 20.0, 85.0], lens=pd.Categorical(["orla-50", "orla-50", "hale-85"]))
    found = what_if(frames, ["orla-50"], KIT.lenses, PAIRINGS, Plan())
    assert (found.keepers, found.before, found.after) == (3, 3, 2)
    assert found.rows["lost"].tolist() == [1]
    both = what_if(frames, ["orla-50", "pell-35-70"], KIT.lenses, PAIRINGS, Plan())
    assert both.after == 1  # hale-85 through the reducer begins at 60 - 15 % = 51.3 mm: too long for 50
