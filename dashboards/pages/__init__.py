"""One module a page."""

from dashboards.pages import (
    calibration,
    card,
    evening,
    frame,
    index,
    keep_rates,
    kit,
    lens,
    log,
    plan,
    questions,
    settings,
    worth_a_look,
)

__all__ = ["PAGES"]

PAGES = (
    evening.PAGE,
    questions.PAGE,
    worth_a_look.PAGE,
    settings.PAGE,
    keep_rates.PAGE,
    lens.PAGE,
    plan.PAGE,
    card.PAGE,
    calibration.PAGE,
    log.PAGE,
    kit.PAGE,
    index.PAGE,
    frame.PAGE,
)
"""Every page, in the order of the links."""
