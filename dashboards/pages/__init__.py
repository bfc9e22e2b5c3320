"""One module a page."""

from dashboards.pages import evening

__all__ = ["PAGES"]

PAGES = (evening.PAGE,)
"""Every page, in the order of the links."""
