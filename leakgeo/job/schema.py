"""Layer schemas of the data contract, loaded from the files in ``data_schemas/``."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Description of a layer of a GeoPackage whose columns have the short names of a dBASE file.
CUT_NAMES_MARK = "column names cut off as in a dBASE file"

FieldType = Literal["string", "number", "integer", "boolean", "datetime", "date"]
Role = Literal["input", "output", "product"]


@dataclass(frozen=True, slots=True)
class Field:
    """One column of a layer.

    Parameters
    ----------
    name, description : str
    title : str
        Label in a form; empty for output columns, which have none.
    type : {"string", "number", "integer", "boolean", "datetime", "date"}
        Type of Frictionless Table Schema.
    unit : str, optional
        Unit of the values.
    required, unique : bool
        Whether every row must have a value; whether the values must differ.
    codes : tuple of str
        Allowed values; empty if any value is allowed.
    minimum, maximum : float, optional
        Allowed range, ends included.
    missing : tuple of str
        Texts that mean a missing value.
    unknown_code : str, optional
        Code that replaces a code that is not allowed; ``"reject"`` rejects the row; None sets the
        value to null.
    when_missing : bool, optional
        Default of a missing value, if the contract defines one.
    name_missing : bool
        Whether a row without a value is named by its position in the layer.
    note_missing_name : bool
        Whether such a row is reported.
    refers_to : tuple of (str, str)
        Layers and columns one of which must contain the value.
    unknown_reference : {"reject", "empty", "keep"}
        Treatment of a value that none of them contains: the row is rejected, the value is set to
        null, or the value is kept and the step that needs it reports it.
    sound_groups : tuple of (str, str)
        Each code of a material, and its acoustic group in ``sound/constants.toml``.
    code_titles : tuple of (str, str)
        Codes whose words in a form are not the code itself, and those words.
    filled_in_by : str
        Step that adds the column to a layer of an earlier step; empty for the step that makes it.
    """

    name: str
    type: FieldType
    description: str
    title: str = ""
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
    note_missing_name: bool = True
    refers_to: tuple[tuple[str, str], ...] = ()
    unknown_reference: Literal["reject", "empty", "keep"] = "reject"
    sound_groups: tuple[tuple[str, str], ...] = ()
    code_titles: tuple[tuple[str, str], ...] = ()
    filled_in_by: str = ""

    def words(self, code: str) -> str:
        """Return the words of a code in a form.

        Examples
        --------
        >>> kind = load_schemas()["utilities"].field("kind")
        >>> kind.words("gas_oil_steam"), kind.words("potable_water")
        ('gas, oil or steam', 'potable water')
        """
        return dict(self.code_titles).get(code, code.replace("_", " "))


@dataclass(frozen=True, slots=True)
class LayerSchema:
    """One layer of the contract.

    Parameters
    ----------
    name, title, description : str
    role : {"input", "output", "product"}
    required : bool
        Whether a job can't be run without the layer.
    geometry_types : tuple of str
        Allowed types; empty for a table without geometry.
    fields : tuple of Field
    key : tuple of str
        Columns that identify a row; empty if rows have no identifier.
    refers_to_routes : bool
        Whether ``line_id`` must be that of a route.
    drawn_as : tuple of (str, tuple of str)
        Names and geometry types of the layers of a single geometry type that a GIS edits instead.
    part_of : str
        Layer of the job that this layer is a part of; empty for a layer of its own.
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
    drawn_as: tuple[tuple[str, tuple[str, ...]], ...] = ()
    part_of: str = ""

    @property
    def job_layer(self) -> str:
        """Name of the layer of the job that contains the rows."""
        return self.part_of or self.name

    def parts(self) -> tuple[LayerSchema, ...]:
        """Return the schemas of the layers in `drawn_as`; none if a GIS edits it as one layer."""
        return tuple(
            replace(self, name=name, title=f"{self.title}: {_PLURALS[types[0]]}",
                    geometry_types=types, drawn_as=(), part_of=self.name)
            for name, types in self.drawn_as
        )  # fmt: skip

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns in order, without geometry."""
        return tuple(f.name for f in self.fields)

    def field(self, name: str) -> Field:
        """Return a column by its name.

        Raises
        ------
        KeyError
            If the layer has no such column.
        """
        found = {f.name: f for f in self.fields}
        return found[name]


_PLURALS = {"LineString": "lines", "Polygon": "areas", "Point": "points"}


def _folder() -> Path:
    """Return the folder of the schemas: in the installed package, or next to it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    inside = package / "data_schemas"
    return inside if inside.is_dir() else package.parent / "data_schemas"


def _field(raw: Mapping[str, Any], missing: list[str]) -> Field:
    rules = raw.get("constraints", {})
    return Field(
        name=raw["name"],
        type=raw["type"],
        description=raw["description"],
        title=raw.get("title", ""),
        unit=raw.get("unit"),
        required=rules.get("required", False),
        unique=rules.get("unique", False),
        codes=tuple(rules.get("enum", ())),
        minimum=rules.get("minimum"),
        maximum=rules.get("maximum"),
        missing=tuple(raw.get("missingValues", missing)),
        unknown_code=raw.get("unknownCode"),
        when_missing=raw.get("whenMissing"),
        name_missing=bool(raw.get("nameMissing", False)),
        note_missing_name=raw.get("nameMissing") != "silent",
        refers_to=tuple(_reference(text) for text in raw.get("refersTo", ())),
        unknown_reference=raw.get("unknownReference", "reject"),
        sound_groups=tuple(raw.get("soundGroups", {}).items()),
        code_titles=tuple(raw.get("codeTitles", {}).items()),
        filled_in_by=raw.get("filledInBy", ""),
    )


def _reference(text: str) -> tuple[str, str]:
    layer, _, column = text.partition(".")
    return layer, column


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
        drawn_as=tuple((n, tuple(t)) for n, t in raw.get("drawnAs", {}).items()),
    )


# Order of the layers in documentation and GIS; layers not listed come last.
_ORDER = (
    "routes", "readings", "contacts", "meter_tests", "valves", "isolation_tests", "closed_valves",
    "action_results", "utilities", "surfaces", "history", "dig_outcomes", "lines", "evidence",
    "explanations", "marks", "search_zones", "next_readings", "next_actions", "readings_on_route",
    "noise_law", "walk_law", "profile", "dig_zones", "holds", "cautions", "conflicts",
    "locate_requests", "ties", "dig_alternatives", "contact_ranking", "survey_bracket",
    "district_segments", "district_steps", "air_tests", "meter_results", "improvements", "learned",
    "learned_odds", "learned_cases", "round_stops", "round_legs", "round_held", "changes",
)  # fmt: skip


@cache
def load_schemas(role: Role | None = None) -> Mapping[str, LayerSchema]:
    """Return the layer schemas of the contract by name.

    Parameters
    ----------
    role : {"input", "output", "product"}, optional
        Only layers of a job, layers of a result, or layers of other files; all if None.

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


@cache
def drawn_layers() -> Mapping[str, LayerSchema]:
    """Return the schemas of the input layers that a GIS edits, each of one geometry type, by name.

    Examples
    --------
    >>> [name for name in drawn_layers() if name.startswith("utilit")]
    ['utility_lines', 'utility_areas', 'utility_points']
    """
    layers = (part for s in load_schemas("input").values() for part in s.parts() or (s,))
    return MappingProxyType({s.name: s for s in layers})


@cache
def readable_layers() -> Mapping[str, LayerSchema]:
    """Return the schemas of all input layers, whole and by geometry type, by name.

    Examples
    --------
    >>> [name for name in readable_layers() if name.startswith("history")]
    ['history', 'history_points', 'history_areas']
    """
    layers = (one for s in load_schemas("input").values() for one in (s, *s.parts()))
    return MappingProxyType({s.name: s for s in layers})


def load_schema(name: str) -> LayerSchema:
    """Return the schema of one layer of the contract.

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
