"""Print a page to PDF with a browser of the Chromium family, where there is one."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from auditor.errors import InputError, MissingExtra

__all__ = ["find_browser", "print_to_pdf"]

_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
_FLAGS = (
    "--headless",
    "--no-sandbox",  # the page is our own, holds no script and fetches nothing; containers have no sandbox to give
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
)
_PATIENCE_S = 120


def find_browser() -> str | None:
    """Return the browser that prints: what STEADYKEEP_CHROMIUM names, else the first that is found."""
    return os.environ.get("STEADYKEEP_CHROMIUM") or next(filter(None, map(shutil.which, _BROWSERS)), None)


def print_to_pdf(page: str) -> bytes:
    """
    Return an HTML document as PDF.

    Parameters
    ----------
    page : str
        A document that needs no other file.

    Raises
    ------
    MissingExtra
        There is no such browser.
    InputError
        The browser did not print.
    """
    browser = find_browser()
    if browser is None:
        raise MissingExtra(
            "printing to PDF needs a browser of the Chromium family, and none was found",
            ["end the name in .html and print the page from your own browser", "or name one in STEADYKEEP_CHROMIUM"],
        )
    # An empty profile of its own: nothing of the user's browser is read or changed.
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        source, printed = Path(folder) / "page.html", Path(folder) / "page.pdf"
        source.write_text(page, encoding="utf-8")
        command = [browser, *_FLAGS, f"--user-data-dir={folder}/profile", f"--print-to-pdf={printed}", source.as_uri()]
        try:
            subprocess.run(command, check=True, capture_output=True, timeout=_PATIENCE_S)  # noqa: S603
            return printed.read_bytes()
        except (OSError, subprocess.SubprocessError) as reason:
            raise InputError(f"{browser} did not print the page ({reason.__class__.__name__})") from reason
