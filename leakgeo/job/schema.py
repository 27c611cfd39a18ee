"""The layers of the data contract, as the files in ``data_schemas/`` give them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

FieldType = Literal["string", "number", "integer", "boolean", "datetime", "date"]
Role = Literal["input", "output"]


@dataclass(frozen=True, slots=True)
class Field:
    """One column of a layer.

    Parameters
    ----------
    name, description : str
    type : {"string", "number", "integer", "boolean", "datetime", "date"}
        Type of Frictionless Table Schema.
    unit : str, optional
        Unit of the values.
    required, unique : bool
        Whether a row needs a value; whether no two rows may have the same.
    codes : tuple of str
        Allowed values; empty where any will do.
    minimum, maximum : float, optional
        Allowed range, ends included.
    missing : tuple of str
        Texts that stand for no value.
    unknown_code : str, optional
        Code that takes the place of one that is not allowed; ``"reject"`` rejects the row; None
        empties the value.
    when_missing : bool, optional
        What an empty value means, where the contract says so.
    name_missing : bool
        Whether a row without a value is called by its place in the layer.
    sound_groups : tuple of (str, str)
        Each code of a material, and the group of ``sound/constants.toml`` that it sounds like.
    """

    name: str
    type: FieldType
    description: str
    unit: str | None = None
    required: bool = False
    unique: bool = False
    codes: tuple[str, ...] = ()
    minimum: float | None = None
    maximum: float | None = None
    missing: tuple[str, ...] = ()
    unknown_code: str | None = None
    when_missing: bool | None = None
    name_missing: bool = False
    sound_groups: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class LayerSchema:
    """One layer of the contract.

    Parameters
    ----------
    name, title, description : str
    role : {"input", "output"}
    required : bool
        Whether a job can't be run without it.
    geometry_types : tuple of str
        Allowed types; empty for a table without geometry.
    fields : tuple of Field
    key : tuple of str
        Columns that name a row; empty where rows have no name.
    refers_to_routes : bool
        Whether ``line_id`` must be that of a route.
    """

    name: str
    title: str
    description: str
    role: Role
    required: bool
    geometry_types: tuple[str, ...]
    fields: tuple[Field, ...]
    key: tuple[str, ...] = ()
    refers_to_routes: bool = False

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns, in order, without geometry."""
        return tuple(f.name for f in self.fields)

    def field(self, name: str) -> Field:
        """Give a column by its name.

        Raises
        ------
        KeyError
            If the layer has no such column.
        """
        found = {f.name: f for f in self.fields}
        return found[name]


def _folder() -> Path:
    """Find the schemas in the installed package, or beside it in the repository."""
    package = Path(__file__).resolve().parents[1]
    inside = package / "data_schemas"
    return inside if inside.is_dir() else package.parent / "data_schemas"


def _field(raw: Mapping[str, Any], missing: list[str]) -> Field:
    rules = raw.get("constraints", {})
    return Field(
        name=raw["name"],
        type=raw["type"],
        description=raw["description"],
        unit=raw.get("unit"),
        required=rules.get("required", False),
        unique=rules.get("unique", False),
        codes=tuple(rules.get("enum", ())),
        minimum=rules.get("minimum"),
        maximum=rules.get("maximum"),
        missing=tuple(raw.get("missingValues", missing)),
        unknown_code=raw.get("unknownCode"),
        when_missing=raw.get("whenMissing"),
        name_missing=raw.get("nameMissing", False),
        sound_groups=tuple(raw.get("soundGroups", {}).items()),
    )


def _layer(raw: Mapping[str, Any]) -> LayerSchema:
    return LayerSchema(
        name=raw["name"],
        title=raw["title"],
        description=raw["description"],
        role=raw["role"],
        required=raw["requiredLayer"],
        geometry_types=tuple(raw["geometryTypes"]),
        fields=tuple(_field(f, raw["missingValues"]) for f in raw["fields"]),
        key=tuple(raw.get("primaryKey", ())),
        refers_to_routes="foreignKeys" in raw,
    )


# In the order in which people meet the layers; a file not named here comes last.
_ORDER = (
    "routes", "readings", "contacts", "meter_tests", "utilities", "surfaces", "history",
    "dig_outcomes", "lines", "marks", "search_zones", "next_readings", "readings_on_route",
    "profile", "dig_zones", "conflicts", "locate_requests", "ties", "dig_alternatives",
    "contact_ranking", "survey_bracket", "air_tests", "meter_results", "levers",
    "learned", "learned_odds", "learned_cases",
)  # fmt: skip


@cache
def load_schemas(role: Role | None = None) -> Mapping[str, LayerSchema]:
    """Give the layers of the contract by name.

    Parameters
    ----------
    role : {"input", "output"}, optional
        Only the layers that go in, or come out; both if None.

    Returns
    -------
    mapping of str to LayerSchema

    Examples
    --------
    >>> list(load_schemas("input"))[:3]
    ['routes', 'readings', 'contacts']
    >>> load_schemas()["routes"].field("depth_m").unit
    'm'
    """
    raw = {p.stem: json.loads(p.read_text("utf-8")) for p in sorted(_folder().glob("*.json"))}
    names = sorted(raw, key=lambda n: (_ORDER.index(n) if n in _ORDER else len(_ORDER), n))
    layers = (_layer(raw[n]) for n in names)
    return MappingProxyType({s.name: s for s in layers if role in (None, s.role)})


def load_schema(name: str) -> LayerSchema:
    """Give one layer of the contract.

    Raises
    ------
    KeyError
        If the contract has no such layer.

    Examples
    --------
    >>> load_schema("readings").geometry_types
    ('Point',)
    """
    return load_schemas()[name]
