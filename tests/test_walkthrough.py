"""The example from meter test to leak dug up runs, and its parts stand in order."""

from __future__ import annotations

import runpy
from pathlib import Path

EXAMPLE = Path(__file__).parents[1] / "examples" / "walkthrough.py"


def test_the_walkthrough_goes_from_meter_to_leak(capsys):
    learned = runpy.run_path(str(EXAMPLE))["main"]()
    said = capsys.readouterr().out
    steps = ["1. The meter", "2. The fittings", "3.1 After", "4. The mark", "5. Air on and off",
             "6. The dig", "7. The leak"]  # fmt: skip
    places = [said.index(step) for step in steps]
    assert places == sorted(places)
    assert "Simulated" in said
    assert "Loses 1,6" in said
    assert "Status: hold" in said
    assert "safe" not in said
    assert "protect your ears" in said
    assert learned["learned_cases"]["counted"].tolist() == [True]
    assert learned["learned_cases"]["error_m"].iloc[0] < 1.5
