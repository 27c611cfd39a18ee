"""The tolerance that a check states in the table is the one that it asserts."""

from __future__ import annotations

import pytest

from tests.dig.conftest import _dig, _gas_main  # noqa: F401


@pytest.fixture(name="within")
def _within(request: pytest.FixtureRequest) -> float:
    return float(request.function.outside.within)
