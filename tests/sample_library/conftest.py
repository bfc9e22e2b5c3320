"""The sample library made once, and its scenario without any picture for what needs none."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import pytest

from sample_library import SampleLibrary, generate
from sample_library.cast import Cast, load_cast
from sample_library.darkroom import Darkroom, open_darkroom
from sample_library.logbook import Entry, write_up
from sample_library.shots import Shot, take_shots
from sample_library.story import Story, load_story

SEEDS = (7, 1, 2026)


@dataclass(frozen=True)
class Scenario:
    story: Story
    cast: Cast
    seed: int
    shots: list[Shot]
    entries: list[Entry]


def scenario_of(seed: int) -> Scenario:
    story, cast = load_story(), load_cast()
    shots = take_shots(story, cast, seed)
    return Scenario(story, cast, seed, shots, write_up(story.segments, shots, seed))


@pytest.fixture(scope="session", params=SEEDS)
def scenario(request: pytest.FixtureRequest) -> Scenario:
    return scenario_of(request.param)


@pytest.fixture(scope="session")
def first_scenario() -> Scenario:
    return scenario_of(7)


@pytest.fixture(scope="session")
def room(first_scenario: Scenario) -> Darkroom:
    return open_darkroom(first_scenario.shots, first_scenario.story, first_scenario.seed)


@pytest.fixture(scope="session")
def library(tmp_path_factory: pytest.TempPathFactory) -> SampleLibrary:
    return generate(tmp_path_factory.mktemp("sample"))


@pytest.fixture(scope="session")
def expected(library: SampleLibrary) -> list[dict[str, str]]:
    with library.expected.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def file_of(library: SampleLibrary, path: str) -> Path:
    return library.archive.joinpath(*path.split("/"))
