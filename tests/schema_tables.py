"""The layers of the contract as text for people, made from the schemas."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.job.schema import load_schemas

if TYPE_CHECKING:
    from leakgeo.job.schema import Field, LayerSchema, Role


def layers_table(role: Role) -> str:
    """Render the layers that go in, or come out, as one markdown table.

    Parameters
    ----------
    role : {"input", "output", "product"}

    Returns
    -------
    str
        A row a layer; required columns in bold.

    Examples
    --------
    >>> print(layers_table("input").splitlines()[0])
    | layer | geometry | what it holds | columns |
    """
    rows = [
        f"| `{s.name}`{' (required)' if s.required and s.role == 'input' else ''} "
        f"| {_geometry(s)} | {s.description} | {', '.join(_name(f) for f in s.fields)} |"
        for s in load_schemas(role).values()
    ]
    head = ["| layer | geometry | what it holds | columns |", "|---|---|---|---|"]
    return "\n".join([*head, *rows])


def columns_table(schema: LayerSchema) -> str:
    """Render the columns of one layer as a markdown table.

    Examples
    --------
    >>> from leakgeo.job.schema import load_schema
    >>> print(columns_table(load_schema("surfaces")).splitlines()[2][:43])
    | **surface** | text | | Ground cover. One
    """
    rows = [
        f"| {_name(f)} | {_TYPES[f.type]} |{f' {f.unit} ' if f.unit else ' '}| {_text(f)} |"
        for f in schema.fields
    ]
    return "\n".join(["| column | type | unit | meaning |", "|---|---|---|---|", *rows])


_TYPES = {
    "string": "text", "number": "number", "integer": "whole number", "boolean": "true or false",
    "datetime": "time with zone", "date": "date",
}  # fmt: skip


def _geometry(schema: LayerSchema) -> str:
    return ", ".join(schema.geometry_types) or "none"


def _name(field: Field) -> str:
    return f"**{field.name}**" if field.required else field.name


def _text(field: Field) -> str:
    codes = f" One of: {', '.join(field.codes)}." if field.codes else ""
    filled = f" Filled in by `{field.filled_in_by}`." if field.filled_in_by else ""
    return field.description + codes + filled
