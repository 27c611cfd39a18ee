"""Pages of what is shipped as data: tolerance rules, assumptions, tables for people, extras."""

from __future__ import annotations

import tomllib
from pathlib import Path

import leakgeo
from leakgeo.conversion import conversion
from leakgeo.deliver.folder.spreadsheets import US_UNITS
from leakgeo.dig.rules import Rule, load_rules
from leakgeo.job.schema import load_schema
from tests.site.markdown import cell, code, page, table

_PACKAGE = Path(leakgeo.__file__).parent
_PROJECT = _PACKAGE.parent / "pyproject.toml"
_FOOT_M = 0.3048
_WIDTHS = {"assume": "a facility of an assumed width", "mark": "a single mark"}
_RULES = """How far from a located utility machine digging stops. `--rule NAME` selects one, in
[leakgeo run](commands/run.md) and [leakgeo clearance](commands/clearance.md);
`--rule FILE.toml#NAME` one of your own file, which has the form of the file below. A rule is a copy
of a text at its date, and the text may have changed since. Local law governs, whatever is selected,
and no rule clears a dig."""
_ASSUMPTIONS = """What leakgeo assumes of sound in pipe and ground before it has heard yours. None
is a measured property of your pipe. `--constants FILE` names a file of this form with the values
that differ; the keys that it omits keep these."""
_TABLES = """These tables are for people: they follow `--units`, which is by the CRS of the routes
if it isn't given, and the end of a column's name says in which unit it is. So a program that reads
them looks for both names, or is run with `--units si`, or reads the layers, which are always in SI.
They are UTF-8 with a byte order mark (`encoding="utf-8-sig"` in Python), with commas, a point in
numbers and CR LF at line ends. A text that a spreadsheet would run as a formula has an apostrophe
before it."""
# Columns of summary.csv after those of lines, with the layer that describes them, or a text.
SUMMARY = {
    "longitude": "Of the first mark, WGS 84, degrees, rounded by its error.",
    "latitude": "Of the first mark, WGS 84, degrees, rounded by its error.",
    "along_95_m": load_schema("marks").field("along_95_m").description,
    "across_95_m": load_schema("marks").field("across_95_m").description,
    "marks": "Number of marks.",
    "further_marks": "Marks after the first, as a text: chainage, latitude and longitude.",
    "zones": "Number of search zones.",
    "zone_length_m": "Their length in all, m.",
    "probability_in_zones": "Probability that a leak is in one of them.",
    "holds": "What holds the dig, as a text. Empty: nothing on record, which clears nothing.",
}
_EXTRAS = {
    "cluster": "runs by district on a dask cluster",
    "docs": "building this site",
    "plot": "`Result.plot` and figures of your own, with matplotlib",
    "postgis": "reading jobs from PostGIS",
    "test": "running the tests",
}


def pages() -> dict[str, str]:
    """Give the pages."""
    return {
        "reference/tolerance-rules.md": _rules(),
        "reference/assumptions.md": page(
            "# Assumptions of sound", _ASSUMPTIONS, _file(_PACKAGE / "sound" / "constants.toml")),
        "reference/tables.md": _tables(),
        "reference/extras.md": _extras(),
    }  # fmt: skip


def _rules() -> str:
    heads = ("rule", "tolerance", "caution zone", "without a width it is", "source", "date")
    rows = [[code(r.name), _distance(r.tolerance_m), _distance(r.caution_m),
             _WIDTHS[r.unknown_width], cell(r.source), cell(r.date)]
            for r in load_rules().values()]  # fmt: skip
    return page("# Tolerance rules", _RULES, table(heads, rows),
                *map(_rule, load_rules().values()),
                "## The file", _file(_PACKAGE / "dig" / "rules.toml"))  # fmt: skip


def _rule(rule: Rule) -> str:
    return f"## {rule.name}\n\n{cell(rule.title)}. {cell(rule.note)}"


def _distance(metres: float) -> str:
    return f"{metres:g} m ({metres / _FOOT_M * 12:.0f} in)" if metres else "none"


def _file(path: Path) -> str:
    return f"```toml\n{path.read_text('utf-8').rstrip()}\n```"


def _tables() -> str:
    ends = [[code(f"*{si}"), code(f"*{us}"), f"{conversion(unit, to):.6g}"]
            for si, (us, unit, to) in US_UNITS.items()]  # fmt: skip
    listed = table(("column", "what it has"), [[code(n), cell(t)] for n, t in SUMMARY.items()])
    return page(
        "# Tables for people", _TABLES,
        table(("with `--units si`", "with `--units us`", "times"), ends),
        "## summary.csv", "One row for each line: the columns of [lines](#layer-lines), and then",
        listed, "Digs that no hold is recorded for come first, then held ones, then other lines.",
        "## round.csv and round_held.csv", "The columns of [round_stops](#layer-round_stops) and "
        "[round_held](#layer-round_held), without geometry and codes.",
        "## changes.csv", "The columns of [changes](#layer-changes).",
        "## faults.csv", "One row for each fault; its texts have lengths in the units of the "
        "reader, its codes have none.",
    )  # fmt: skip


def _extras() -> str:
    extras = tomllib.loads(_PROJECT.read_text("utf-8"))["project"]["optional-dependencies"]
    rows = [[code(name), _EXTRAS[name], ", ".join(map(code, needs))]
            for name, needs in extras.items()]  # fmt: skip
    return page("# Extras of the package",
                "What leakgeo needs beyond its requirements is installed by name, as in "
                "`pip install '.[plot]'`, in the copy of the repository or from "
                "[a wheelhouse](../how-to/install-offline.md). leakgeo is on no package index: "
                "a package of that name there would be another's.",
                table(("extra", "for", "installs"), rows))  # fmt: skip
