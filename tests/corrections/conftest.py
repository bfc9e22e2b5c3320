from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.corrections.toolkit import Toolkit, toolkit


@pytest.fixture(scope="session")
def exiv2_toolkit() -> Iterator[Toolkit]:
    with toolkit() as asked:
        yield asked
