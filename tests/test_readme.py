from __future__ import annotations

from pathlib import Path

from auditor.cli.app import COMMANDS
from tests.readme import README, commands, output_of, without_timing

TEXT = README.read_text(encoding="utf-8")


def test_every_command_has_its_line() -> None:
    for name in COMMANDS:
        assert f"| `{name}" in TEXT, name


def test_what_the_readme_prints_is_what_is_printed(tmp_path: Path) -> None:
    shown = commands(TEXT)
    assert len(shown) >= 2
    for command, output in shown:
        assert without_timing(output_of(command, tmp_path)) == without_timing(output), command


def test_every_command_that_the_readme_names_exists() -> None:
    import re

    named = set(re.findall(r"^steadykeep ([a-z]+)", TEXT, re.MULTILINE))
    assert named
    assert named <= set(COMMANDS)


def test_links_lead_somewhere() -> None:
    import re

    for link in re.findall(r"\]\(([^)#]+)\)", TEXT):
        assert (README.parent / link).exists(), link
