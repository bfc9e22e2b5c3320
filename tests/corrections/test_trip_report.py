"""The page and its drawing, from values told by hand."""

from __future__ import annotations

import dataclasses
import datetime as dt
import xml.etree.ElementTree as ET

from auditor.corrections.trip_report import PairingUse, TripReport, WrongStretch, report_html
from auditor.corrections.trip_timeline import Segment, timeline_svg

NINE = dt.datetime(2026, 5, 1, 9)
STRETCH = WrongStretch(
    "Silver <body>", NINE, NINE.replace(hour=10), 12, "Orla & Co", 85.0, 50.0, "it is odd", 2.0, 3.0, 9.0
)
REPORT = TripReport(
    "Quay", NINE, NINE, 20, 2, ("Silver <body>",), (PairingUse("Orla & Co", 18, 12, None),), (STRETCH,),
    (Segment("Silver <body>", "Orla & Co", NINE, NINE.replace(hour=10), 12, True),), (),
)  # fmt: skip


def test_text_is_shown_as_text_and_the_figures_add_up() -> None:
    page = report_html(REPORT)
    assert "Orla &amp; Co" in page
    assert "Silver &lt;body&gt;" in page
    assert "Typed 85 mm where 50 mm was right: it is odd." in page
    assert "3 of 12, with the right setting 9" in page
    assert (REPORT.wrong, REPORT.sharp_lost) == (12, 6.0)
    assert "<th>Kept</th>" not in page


def test_what_is_not_known_is_not_said() -> None:
    nan = float("nan")
    unknown = dataclasses.replace(
        STRETCH, stops_lost=nan, sharp_as_shot=nan, sharp_if_right=nan, last=dt.datetime(2026, 5, 2, 1)
    )
    report = dataclasses.replace(
        REPORT, stretches=(unknown,), uses=(PairingUse("Orla", 1, 0, 1), PairingUse("Hale", 1, 0, None))
    )
    page = report_html(report)
    assert "nan" not in page
    assert "02 May 01:00" in page
    assert "<th>Kept</th>" in page
    assert report.sharp_lost == 0


def test_a_trip_without_a_fault_says_so() -> None:
    page = report_html(dataclasses.replace(REPORT, stretches=(), segments=(), last=dt.datetime(2026, 5, 3), unknown=0))
    assert "No wrong setting was found." in page
    assert "01 May 2026 to 03 May 2026" in page
    assert "No frame of this trip has a usable time." in page


def test_the_drawing_is_well_formed_and_hatches_only_what_was_wrong() -> None:
    right = Segment("Black body", "", NINE, NINE.replace(hour=23), 3, False)
    late = Segment("Black body", "Hale", dt.datetime(2026, 5, 2, 1), dt.datetime(2026, 5, 2, 3), 3, False)
    drawing = ET.fromstring(timeline_svg([*REPORT.segments, right, late], ["Orla & Co"]))  # noqa: S314  (our own text)
    bands = drawing.findall("g")
    assert len(bands) == 3
    assert [len(band.findall("rect")) for band in bands].count(2) == 1
    titles = [band.findtext("title") or "" for band in bands]
    assert any("setting wrong" in title for title in titles)
    assert any("lens not known" in title for title in titles)
    # The small hours belong to the evening before: two bodies, one day, two rows.
    assert len([text for text in drawing.findall("text") if text.get("class") == "row"]) == 2
