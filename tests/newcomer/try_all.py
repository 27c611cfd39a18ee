"""Runs in the copy of the package, in a process of its own: what came of each addition, as JSON."""

from __future__ import annotations

import io
import json
import sys
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import TYPE_CHECKING
from unittest import mock

import pyogrio

import leakgeo
from leakgeo.deliver.formats.write import LOSES, export_formats
from leakgeo.dig.clearance import clearance
from leakgeo.errors import ContractError
from leakgeo.job.schema import load_schemas
from leakgeo.sound.constants import load_constants
from tests.dig.conftest import DEFAULTS, gas_main, small_result
from tests.job import jobs
from tests.newcomer.additions import declare
from tests.tables import steps_table

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(leakgeo.__file__).parents[1]
SCHEMAS = ROOT / "data_schemas"


def anew() -> None:
    """Forget schemas and constants: files have changed."""
    load_schemas.cache_clear()
    load_constants.cache_clear()


def refused(call: Callable[[], object]) -> str:
    """Give the message of the error that a difference of contract and code has to be."""
    anew()
    try:
        call()
    except ContractError as error:
        return str(error)
    return ""


def command(*arguments: object) -> tuple[int, str]:
    """Call the command line."""
    said = io.StringIO()
    with (mock.patch.object(sys, "argv", ["leakgeo", *map(str, arguments)]),
          redirect_stdout(said), redirect_stderr(said)):  # fmt: skip
        try:
            from leakgeo.cli import main

            main()
        except SystemExit as end:
            return int(end.code or 0), said.getvalue()
    return 0, said.getvalue()


def job(**routes: object) -> leakgeo.Job:
    """Read a small job."""
    return leakgeo.read_job({"routes": jobs.routes(**routes), "readings": jobs.readings(),
                             "meter_tests": jobs.meter_tests()})  # fmt: skip


def material() -> dict[str, object]:
    """Add the code alone, then the group of sound that it belongs to."""
    path = SCHEMAS / "routes.json"
    schema = json.loads(path.read_text("utf-8"))
    (field,) = (f for f in schema["fields"] if f["name"] == "material")
    field["constraints"]["enum"].append("brass")
    path.write_text(json.dumps(schema), "utf-8")
    without = refused(load_constants)
    field["soundGroups"]["brass"] = "tin"
    path.write_text(json.dumps(schema), "utf-8")
    unknown = refused(load_constants)
    field["soundGroups"]["brass"] = "metal"
    path.write_text(json.dumps(schema), "utf-8")
    anew()
    read = job(material=["brass", "pvc"])
    group = load_constants().materials["brass"].name
    return {
        "without": without,
        "unknown": unknown,
        "group": group,
        "read": read.routes["material"].tolist(),
        "faults": [str(f) for f in read.faults if f.column == "material"],
    }


def column() -> dict[str, object]:
    """Make a column before it is declared; then declare it, and one that nothing makes."""
    undeclared = refused(lambda: leakgeo.meter(job()))
    declare(ROOT, "meter_results", "note", "What to know of it.")
    anew()
    made = leakgeo.meter(job())["meter_results"]["note"].tolist()
    declare(ROOT, "meter_results", "weather", "Of that day.")
    unmade = refused(lambda: leakgeo.meter(job()))
    return {"undeclared": undeclared, "made": made, "unmade": unmade}


def rule() -> dict[str, object]:
    """Draw a dig by the new rule."""
    done = clearance(small_result([gas_main(3.0)]), **{**DEFAULTS, "rule": "county"})
    found = done.layers["conflicts"]
    _, said = command("clearance", "x.gpkg", "--rule", "nowhere", "--out", "x")
    return {"rule": found["rule"].tolist(), "tolerance_m": found["tolerance_m"].tolist(),
            "help": "county" in said}  # fmt: skip


def export_format(folder: Path) -> dict[str, object]:
    """Export a result in the new format, and look it up in help."""
    export_formats(small_result([gas_main(3.0)]), folder, "wkt")
    return {
        "help": command("export", "--help")[1],
        "loses": (folder / "wkt" / LOSES).read_text("utf-8"),
        "marks": (folder / "wkt" / "marks.wkt").read_text("utf-8"),
    }


def check() -> list[str]:
    """Report what the new check finds."""
    return [f"{f.feature} {f.problem}" for f in job().faults]


def step(folder: Path) -> dict[str, object]:
    """Run the new step as a function and as a command."""
    jobs.write(folder / "job.gpkg", routes=jobs.routes(), readings=jobs.readings())
    code, said = command("lengths", folder / "job.gpkg", "--out", folder / "out",
                         "--least-length-m", "45")  # fmt: skip
    from leakgeo.commands import describe

    back = pyogrio.read_dataframe(folder / "out" / "result.gpkg", layer="line_lengths")
    return {
        "made": leakgeo.lengths(job())["line_lengths"]["length_m"].tolist(),
        "code": code, "said": said, "written": back["line_id"].tolist(),
        "listed": [s["name"] for s in describe()["steps"]],  # type: ignore[attr-defined]
        "run": "--least-length-m" in command("run", "--help")[1], "table": steps_table(),
    }  # fmt: skip


def main() -> None:
    """Do all, the columns last: they leave the contract broken."""
    folder = Path(sys.argv[1])
    done = {
        "home": str(ROOT), "material": material(), "rule": rule(), "format": export_format(folder),
        "check": check(), "step": step(folder), "column": None,
    }  # fmt: skip
    done["column"] = column()
    (folder / "done.json").write_text(json.dumps(done), "utf-8")


if __name__ == "__main__":
    main()
