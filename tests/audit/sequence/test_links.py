"""Measured focal ratios as evidence: between any two frames of a trip, and never against who keeps his lens on."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from auditor.audit.sequence.links import ratio_likelihood, turned_density, with_turning
from auditor.audit.sequence.states import states_of
from auditor.model.kit import Body, Lens
from auditor.model.pairings import Pairing, kit_pairings
from tests.audit.sequence.archives import paired, said, shots
from tests.kits import small_kit

HALE, ORLA = "hale-85|m42-plain", "orla-50|m42-plain"
LOG = "2026-05-02 09:59,,one,hale-85,m42-plain,,\n"


def measured(*pairs: tuple[str, str, float]) -> pd.DataFrame:
    return pd.DataFrame(
        [
            ("main", f"{a}.jpg", f"{b}.jpg", ratio, ratio * 0.97, ratio * 1.03,
             "same" if abs(ratio - 1) < 0.15 else "another", None)
            for a, b, ratio in pairs
        ],
        columns=["archive", "path_a", "path_b", "focal_ratio", "focal_ratio_low", "focal_ratio_high",
                 "overlap_verdict", "problem"],
    )  # fmt: skip


def morning() -> list[dict[str, object]]:
    """Ten frames, a pause of seven minutes, ten frames: one setting throughout."""
    return shots("2026-05-02 10:00", 10, 85.0, every_s=9) + shots("2026-05-02 10:08", 10, 85.0, every_s=9)


def test_a_ratio_between_frames_some_steps_apart_finds_the_pause_between_them() -> None:
    found = paired(morning(), LOG, overlaps=measured(("00008", "00012", 50 / 85)))
    assert said(found) == [HALE] * 10 + [ORLA] * 10
    assert found.frames["likely_cause"].tolist()[10:] == ["carried-over"] * 10


def test_a_ratio_given_the_other_way_round_says_the_same() -> None:
    there = paired(morning(), LOG, overlaps=measured(("00008", "00012", 50 / 85)))
    back = paired(morning(), LOG, overlaps=measured(("00012", "00008", 85 / 50)))
    assert said(there) == said(back)


def test_frames_with_many_long_pauses_between_them_tell_of_no_single_change() -> None:
    rows = [shot for hour in range(10, 20) for shot in shots(f"2026-05-02 {hour}:00", 2, 85.0)]
    apart = measured(("00000", "00019", 50 / 85))
    assert said(paired(rows, LOG, overlaps=apart)) == said(paired(rows, LOG))


def test_frames_of_two_trips_or_of_one_burst_tell_of_no_change() -> None:
    rows = shots("2026-05-02 10:00", 4, 85.0, every_s=1) + shots("2026-06-02 10:00", 4, 85.0, every_s=1)
    pairs = measured(("00000", "00006", 50 / 85), ("00000", "00001", 50 / 85), ("00000", "gone", 50 / 85))
    assert said(paired(rows, LOG, overlaps=pairs)) == said(paired(rows, LOG))


@pytest.fixture
def zoom_and_prime() -> np.ndarray:
    body = Body(
        id="one", name="S", exif_model="S", sensor_mm=(17.4, 13.0), mount="MD", flange_mm=19.25, stabiliser_stops=5.0
    )
    zoom = Lens(id="fell-35-70", name="Fell", focal_mm=(35.0, 70.0), mount="MD")
    prime = Lens(id="orla-50", name="Orla", focal_mm=(50.0, 50.0), mount="MD")
    states = states_of(body, [Pairing(body, zoom), Pairing(body, prime)])
    return ratio_likelihood(states, 1.0, (0.97, 1.03))


def test_a_ratio_of_one_speaks_for_no_kind_of_lens_that_stays_on(zoom_and_prime: np.ndarray) -> None:
    # Thirty such pairs in a long stay must not drive out a zoom, nor a lens that is not in the kit.
    kept = np.diag(zoom_and_prime)
    assert kept.min() > 0.8 * kept.max()


def test_a_ratio_of_one_speaks_against_every_change_of_focal_length(zoom_and_prime: np.ndarray) -> None:
    # States: the zoom at 35, 41.6, 49.5, 58.9, 70 mm, the 50 mm, a lens not in the kit.
    assert zoom_and_prime[0, 4] < 0.01 * zoom_and_prime[0, 0]
    assert zoom_and_prime[5, 0] < 0.05 * zoom_and_prime[5, 5]
    assert zoom_and_prime[5, 2] > 0.2 * zoom_and_prime[5, 5]


def test_a_zoom_was_turned_or_not_for_all_pairs_across_a_pause_together() -> None:
    kit = small_kit()
    states = states_of(kit.body("one"), kit_pairings(kit))
    zooms = [number for number, state in enumerate(states.entries) if state.pairing and state.pairing.lens.is_zoom]
    one, turned = ratio_likelihood(states, 1.0, (0.97, 1.03)), turned_density(1.0, (0.97, 1.03))
    pairs = 6
    link = with_turning(one**pairs, states, turned**pairs)
    prime = next(number for number in range(len(states.entries)) if number not in zooms)
    assert zooms
    for zoom in zooms:
        # Turned once in ten pauses: six pairs of one pause cost it no more than that tenth.
        assert link[zoom, zoom] / link[prime, prime] == pytest.approx(0.9, abs=0.001)
    assert 0 < turned < one[prime, prime]
