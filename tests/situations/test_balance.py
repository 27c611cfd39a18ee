"""Situations that evidence other than the levels decides, one draw each."""

from __future__ import annotations

import pytest

from tests.situations.situation import SITUATIONS
from tests.situations.table import judged


@pytest.mark.parametrize("name", ["repaired_meter_still", "repaired_meter_turns"])
def test_a_repaired_line_that_nobody_listened_to_has_the_verdict_of_the_meter(name):
    assert judged(SITUATIONS[name], 0).accepted


@pytest.mark.parametrize("name", ["valve_hisses_meter_still", "water_runs_inside"])
def test_a_meter_that_stands_still_shows_that_the_sound_is_no_leak_of_the_line(name):
    draws = [judged(SITUATIONS[name], number) for number in range(3)]
    assert sum(draw.accepted for draw in draws) >= 2
    assert not any(draw.mistaken for draw in draws)
