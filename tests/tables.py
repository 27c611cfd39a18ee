"""Tables in the documents, made from code and schemas; ``python -m tests.tables`` renews them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.job.schema import load_schemas
from leakgeo.registry import load_steps
from tests.outside.table import outside_table
from tests.schema_tables import columns_table, layers_table

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

ROOT = Path(__file__).parents[1]
BEGIN, END = "<!-- steps -->\n", "<!-- end of steps -->"
_SCHEMAS = """# The data contract

One Frictionless Table Schema a layer. The reader, the checks, the template, the products and the
plugin read these files, and the wheel ships them. Columns in bold must be filled in. Units are SI,
and a column with a unit ends in it (`_m`, `_db`, `_kpa`). Chainage is metres along a route from its
first vertex, on the ground. [MAPPING.md](MAPPING.md) says how other names, codes and
units are read. A layer that a run made without rows is not in `result.gpkg`, whose table
`run_record` names it (`without_rows`); `run.json` counts the rows of each. Readings and
profile have no spatial index there, which would be a quarter of the file: GDAL finds the readings
of a street among 10,000 lines in 0.1 s without. Where that is slow, *Create Spatial Index* of QGIS
makes one.
`python -m tests.tables` writes this page.
"""
_OUTSIDE = """# Checks against the outside

Each check compares leakgeo with a published figure, an independent library, a standard or known
practice. A source "from memory" was not at hand when the check was written. `python -m
tests.tables` writes this page from the tests.
"""


def schemas_page() -> str:
    """Give the page of all layers: two tables of layers, then the columns of each."""
    columns = [f"### `{s.name}`\n\n{s.description}\n\n{columns_table(s)}"
               for s in load_schemas().values()]  # fmt: skip
    return "\n\n".join([
        _SCHEMAS.strip(), "## Input layers", layers_table("input"), "## Output layers",
        layers_table("output"), "## Layers of other files", layers_table("product"), "## Columns",
        *columns,
    ]) + "\n"  # fmt: skip


def outside_page() -> str:
    """Give the page of the checks against the outside."""
    return f"{_OUTSIDE.strip()}\n\n{outside_table()}\n"


def steps_table() -> str:
    """Give the table of the steps, in the order of the chain."""
    rows = [f"| `leakgeo {s.name}` | {s.summary} |" for s in load_steps().values()]
    return "\n".join(["| step | what it does |", "|---|---|", *rows])


def readme() -> str:
    """Give the README with its table of steps as it is now.

    Raises
    ------
    ValueError
        If the marks of the table are not in it.
    """
    before, mark, rest = (ROOT / "README.md").read_text("utf-8").partition(BEGIN)
    _, end, after = rest.partition(END)
    if not (mark and end):
        raise ValueError(f"README.md has no {BEGIN.strip()} and {END}.")
    return f"{before}{BEGIN}{steps_table()}\n{END}{after}"


#: Each page with tables, and what gives its text.
PAGES: Mapping[str, Callable[[], str]] = {
    "data_schemas/README.md": schemas_page,
    "tests/outside/README.md": outside_page,
    "README.md": readme,
}


def main() -> None:
    """Write every page."""
    for page, text in PAGES.items():
        (ROOT / page).write_text(text(), "utf-8")


if __name__ == "__main__":
    main()
