"""What a newcomer writes: edits of files in a copy of the package, each under one name."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

FORMAT = '''"""Well-known text: one line a shape."""

from leakgeo.deliver.formats.format import Format, with_shapes


def _write(layers, _, folder):
    for name, frame in with_shapes(layers, folder):
        (folder / f"{name}.wkt").write_text("\\n".join(frame.geometry.dropna().to_wkt()))
    return []


FORMAT = Format("well-known text", _write, ("Columns are not in it.",))
'''
CHECK = '''"""Routes that are too short to walk."""

from leakgeo.job.checks.registry import check
from leakgeo.reason import Reason


@check("routes")
def short(rows, issues):
    """Report routes of less than 45 m."""
    wrong = rows.length.to_numpy() < 45.0
    issues.report(wrong, Reason("too_short_to_walk"), rejects=False)
'''
STEP = '''"""How long each line is."""

from leakgeo.parameter import Parameter
from leakgeo.registry import Step

LENGTHS = Step(
    name="lengths",
    function="leakgeo.route.lengths:lengths",
    summary="Measure each line.",
    group="Find",
    makes=("line_lengths",),
    parameters=(Parameter("least_length_m", "number", 0.0, "Leave out shorter lines.", unit="m"),),
)


def lengths(result, *, least_length_m):
    import pandas as pd

    routes = result.job.routes
    made = pd.DataFrame({"line_id": routes["line_id"], "length_m": routes.length})
    return result.adding({"line_lengths": made[made["length_m"] >= least_length_m]})
'''
RULE = """
[rules.county]
title = "One metre"
tolerance_m = 1.0
source = "An invented county"
date = "2026"
note = "Local law governs."
"""
# Where the step of the meter gives its layer.
MADE = '    return result.adding({"meter_results": frame}'
ENTRY_POINT = 'lengths = "leakgeo.route.lengths:LENGTHS"'


def add_all(root: Path) -> None:
    """Write everything but what the schemas declare; a script adds that bit by bit."""
    package = root / "leakgeo"
    (package / "deliver/formats/writers/wkt.py").write_text(FORMAT)
    (package / "job/checks/short.py").write_text(CHECK)
    (package / "route/lengths.py").write_text(STEP)
    with (package / "dig/rules.toml").open("a") as file:
        file.write(RULE)
    steps = root / "pyproject.toml"
    head = '[project.entry-points."leakgeo.steps"]\n'
    steps.write_text(steps.read_text("utf-8").replace(head, f"{head}{ENTRY_POINT}\n"), "utf-8")
    meter = package / "find/loss/meter.py"
    text = meter.read_text("utf-8")
    assert text.count(MADE) == 1
    meter.write_text(text.replace(MADE, f'    frame["note"] = "metered"\n{MADE}'), "utf-8")


def declare(root: Path, layer: str, column: str, text: str) -> None:
    """Declare a column in the schema of a layer."""
    path = root / "data_schemas" / f"{layer}.json"
    schema = json.loads(path.read_text("utf-8"))
    schema["fields"].append({"name": column, "type": "string", "description": text})
    path.write_text(json.dumps(schema, indent=2), "utf-8")
