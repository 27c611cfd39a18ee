"""Pages of the layers and their columns, made from the schemas."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.job.schema import load_schemas
from tests.schema_tables import columns_table
from tests.site.markdown import cell, page, table, toctree

if TYPE_CHECKING:
    from leakgeo.job.schema import Role

_KINDS: dict[Role, tuple[str, str]] = {
    "input": (
        "Input layers",
        "Layers of a job. Only `routes` and `readings` are "
        "required. A layer of several geometry types may come as one for each, by these names: "
        + ", ".join(f"`{p.name}`" for s in load_schemas("input").values() for p in s.parts())
        + ".",
    ),
    "output": ("Output layers", "Layers of `result.gpkg` and of a result in Python."),
    "product": ("Layers of other files", "Layers of files that are written beside the result."),
}
_MAPPING = Path(__file__).parents[2] / "data_schemas" / "MAPPING.md"
_INTRO = """Columns in bold must be filled in. Units are SI, and a column with a unit has its name
at its end (`_m`, `_db`, `_kpa`). Chainage is metres along a route from its first vertex, on the
ground."""


def pages() -> dict[str, str]:
    """Give the page of all layers, one of each kind, and that of mappings."""
    mapping = _MAPPING.read_text("utf-8")
    found = {f"reference/layers/{role}.md": _kind(role) for role in _KINDS}
    index = page("# Layers and columns", _INTRO, *map(_overview, _KINDS), toctree(_KINDS))
    return found | {
        "reference/layers/index.md": index,
        "reference/mapping.md": mapping.replace("](README.md)", "](layers/index.md)"),
    }


def _overview(role: Role) -> str:
    rows = [[f"[`{s.name}`](#layer-{s.name})", ", ".join(s.geometry_types) or "table",
             cell(s.description)] for s in load_schemas(role).values()]  # fmt: skip
    listed = table(("layer", "geometry", "what it holds"), rows)
    return f"## {_KINDS[role][0]}\n\n{listed}"


def _kind(role: Role) -> str:
    title, about = _KINDS[role]
    layers = [
        f"(layer-{s.name})=\n## {s.name}\n\n{s.description}\n\n"
        f"Geometry: {', '.join(s.geometry_types) or 'none'}."
        f"{' The layer is required.' if s.required and role == 'input' else ''}\n\n"
        f"{columns_table(s)}"
        for s in load_schemas(role).values()
    ]
    return page(f"# {title}", about, *layers)
