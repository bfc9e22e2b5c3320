"""Two bodies in the same minutes: there is one of each lens in the kit."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.audit.sequence.elsewhere import Mounted
from auditor.model.kit import Kit, parse_kit
from tests.audit.sequence.archives import paired, said, shots
from tests.kits import KIT_TEXT

HALE, ORLA = "hale-85|m42-plain", "orla-50|m42-plain"
SECOND = """
[[bodies]]
id = "three"
name = "Grey body"
exif_model = "Silverline 3"
sensor_mm = [17.4, 13.0]
mount = "MFT"
flange_mm = 19.25
stabiliser_stops = 5.0

[[adapters]]
id = "m42-second"
name = "M42 plain, the other"
lens_mount = "M42"
body_mount = "MFT"
"""


def two_bodies(*, twin: bool = False) -> Kit:
    cairn = '[[lenses]]\nid = "cairn-50"\nname = "Cairn 50"\nfocal_mm = 50\nmount = "M42"\nclose_focus_m = 0.45\n'
    return parse_kit(KIT_TEXT + SECOND + (cairn if twin else ""))


def numbered(rows: list[dict[str, object]]) -> list[dict[str, object]]:
    return [{**row, "path": f"{number:04d}.jpg"} for number, row in enumerate(rows)]


def side_by_side(begin: str = "2026-05-02 10:00") -> list[dict[str, object]]:
    """An hour of body one, and in its middle ten frames of the other with 50 typed."""
    one = shots(begin, 90, 50.0, every_s=40)
    middle = begin.replace(":00", ":20")
    return numbered(one + shots(middle, 10, 50.0, every_s=40, model="Silverline 3"))


LOG = "2026-05-02 10:00,,one,orla-50,m42-plain,,\n"


def test_a_lens_that_is_on_one_body_is_not_on_the_other() -> None:
    # Nothing but the first body's log tells two lenses of 50 mm apart.
    alone = paired(side_by_side()[90:], kit=two_bodies(twin=True)).frames
    assert alone["pairing_confidence"].max() < 0.55
    found = paired(side_by_side(), LOG, kit=two_bodies(twin=True)).frames
    assert set(found["lens"][:90]) == {"orla-50"}
    assert set(found["lens"][90:]) == {"cairn-50"}
    assert "orla-50" not in set(found["rival_lens"][90:])
    assert not found["on_two_bodies"].any()


def test_a_lens_that_leaves_one_body_may_go_on_the_other() -> None:
    rows = numbered(
        shots("2026-05-02 10:00", 30, 50.0)
        + shots("2026-05-02 10:20", 30, 85.0)
        + shots("2026-05-02 10:20", 30, 50.0, model="Silverline 3")
    )
    log = LOG + "2026-05-02 10:18,,one,hale-85,m42-plain,,\n2026-05-02 10:19,,three,orla-50,m42-plain,,\n"
    found = paired(rows, log, kit=two_bodies())
    assert said(found) == [ORLA] * 30 + [HALE] * 30 + [ORLA] * 30
    assert not found.frames["on_two_bodies"].any()


def test_two_logs_that_name_one_lens_at_one_time_are_pointed_out_not_mended() -> None:
    log = LOG + "2026-05-02 10:20,,three,orla-50,m42-second,,\n"
    found = paired(side_by_side(), log, kit=two_bodies()).frames
    assert set(found["lens"]) == {"orla-50"}
    doubled = found["on_two_bodies"].to_numpy()
    assert doubled[92:98].all()
    assert doubled[:90].any()
    assert not doubled[[0, 89]].any()


def test_two_bodies_on_different_days_do_not_know_of_each_other() -> None:
    rows = side_by_side()
    moved = numbered(rows[:90] + shots("2026-07-02 10:20", 10, 50.0, every_s=40, model="Silverline 3"))
    alone = paired(moved[90:], kit=two_bodies(twin=True)).frames
    found = paired(moved, LOG, kit=two_bodies(twin=True)).frames
    assert found["pairing_confidence"].to_numpy()[90:] == pytest.approx(alone["pairing_confidence"].to_numpy())


def test_a_lens_counts_as_mounted_only_where_clocks_two_minutes_apart_agree() -> None:
    # Ten minutes of one lens, a pause of five, ten minutes of it, a pause of two hours, ten minutes of it.
    begin = np.array([0.0, 900.0, 8700.0])
    on = Mounted(begin, begin + 600, np.array([[1.0], [0.8], [1.0]]), ("orla-50",))
    moments = np.array([-60.0, 60.0, 300.0, 700.0, 1000.0, 1450.0, 5000.0, 9000.0, 9250.0])
    assert on.at(moments)[:, 0].tolist() == [0, 0, 1, 0.8, 0.8, 0, 0, 1, 0]
    assert Mounted(np.empty(0), np.empty(0), np.empty((0, 1)), ("orla-50",)).at(moments).sum() == 0
