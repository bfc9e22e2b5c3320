"""
How long a sheet of 12 cards takes, from the kit to the finished HTML.

Run by hand: ``python -m tests.benchmarks.calibration.cards``. Prints one card, twelve cards, a sheet, and their ratio.
"""

from __future__ import annotations

import datetime as dt
import time

from auditor.audit.card import make_card
from auditor.corrections.card_sheet import card_sheet
from auditor.model.pairings import kit_pairings
from auditor.model.settings import Settings
from tests.kits import small_kit


def main() -> None:
    pairings = kit_pairings(small_kit(), stacks=["m42-tube-10+m42-plain"])[:12]
    make_card(pairings[0], Settings())
    start = time.perf_counter()
    make_card(pairings[0], Settings())
    one = time.perf_counter() - start
    start = time.perf_counter()
    cards = [make_card(pairing, Settings()) for pairing in pairings]
    twelve = time.perf_counter() - start
    start = time.perf_counter()
    card_sheet(cards, paper="a4", day=dt.date(2026, 5, 1))
    sheet = time.perf_counter() - start
    print(
        f"one card {1000 * one:.1f} ms, twelve {1000 * twelve:.1f} ms ({twelve / one:.1f} ×), "
        f"sheet {1000 * sheet:.1f} ms"
    )


if __name__ == "__main__":
    main()
