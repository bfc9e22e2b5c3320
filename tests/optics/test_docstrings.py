"""Every public function of the numeric packages says its unit, its range, its source, and shows an example."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import re

import pytest

import auditor.optics
import auditor.shake
import auditor.stats

# Plumbing and value types: no physics in it.
NOT_PHYSICS = {"auditor.optics.arrays"}


def _functions():
    for package in (auditor.optics, auditor.shake, auditor.stats):
        for found in pkgutil.iter_modules(package.__path__, package.__name__ + "."):
            if found.name in NOT_PHYSICS:
                continue
            module = importlib.import_module(found.name)
            for name in module.__all__:
                thing = getattr(module, name)
                if inspect.isfunction(thing):
                    yield pytest.param(thing, id=f"{found.name}.{name}")


def _sections(text: str) -> dict[str, str]:
    parts = re.split(r"^(\w[\w ]*)\n-{3,}\n", inspect.cleandoc(text), flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


@pytest.mark.parametrize("function", list(_functions()))
def test_public_function_says_what_it_must(function):
    sections = _sections(function.__doc__)
    assert "Parameters" in sections
    named = {name for line in sections["Parameters"].splitlines() if " : " in line and not line.startswith(" ")
             for name in line.split(" : ")[0].split(", ")}  # fmt: skip
    assert named == set(inspect.signature(function).parameters), "every parameter is described"
    units = re.compile(r"\[[^\]\n]+\]")
    assert units.search(sections["Parameters"]), "a parameter has its unit"
    assert units.search(sections["Returns"]) or "BinaryFit" in sections["Returns"], "what comes back has its unit"
    assert re.search(r"\b[Vv]alid\b", sections["Notes"]), "its range of validity is said"
    assert len(sections["References"].strip()) > len(".. [1] ."), "its source is named"
    assert doctest.DocTestParser().get_examples(function.__doc__), "it has an example, which the doctests run"


def test_the_list_is_not_empty():
    assert len(list(_functions())) > 50
