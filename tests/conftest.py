"""What all tests share: properties are judged by what they find, not by how long they take."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

from leakgeo.runner.chain import run
from tests.town import TOWN

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.result import Result

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture(scope="session")
def town(tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    """The shipped town, run once in one go, and the folder of its files."""
    out = tmp_path_factory.mktemp("town") / "out"
    return run(TOWN, out), out


@pytest.fixture(scope="session")
def whole(town: tuple[Result, Path]) -> Path:
    """The folder of the shipped town's files."""
    return town[1]
