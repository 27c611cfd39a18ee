"""Read a mapping from its TOML file, column by column, and tell every mistake in it at once."""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from leakgeo.errors import JobError
from leakgeo.faults import plain_fault
from leakgeo.job.mapping.former import FORMER_COLUMNS, is_former
from leakgeo.job.mapping.model import ColumnMap, JobMapping, LayerMap, Mistakes, as_key, meant
from leakgeo.job.mapping.times import is_date_format, is_zone
from leakgeo.job.mapping.values import factor, known_units
from leakgeo.job.schema import readable_layers

if TYPE_CHECKING:
    from leakgeo.job.mapping.model import ColumnMap, Keys, Mistakes
    from leakgeo.job.schema import Field, LayerSchema


_TEXTS = ("file", "layer", "crs", "x", "y")
_LARGEST_FILE = 2_000_000
_PLACE = re.compile(r"\s*\(at line (\d+), column \d+\)")


def load_mapping(path: str | Path) -> JobMapping:
    r"""Read and check a mapping by itself, before any data is looked at.

    Parameters
    ----------
    path : str or pathlib.Path
        A TOML file in UTF-8.

    Returns
    -------
    JobMapping
        With its mistakes; `leakgeo.job.mapping.apply.apply_mapping` tells them with those that show
        beside the data.

    Raises
    ------
    JobError
        If it can't be read, or is no TOML.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "map.toml"
    ...     _ = file.write_text('[routes]\nlayer = "Mains"\ncolumns = {depht_m = "D"}')
    ...     print(load_mapping(file).faults[0])
    mapping map.toml, line 3: routes has no column depht_m. Did you mean depth_m?
    """
    path = Path(path)
    text = _text(path)
    mistakes = Mistakes(path, text)
    data = _parse(path, text)
    zone = data.pop("time_zone", None)
    if zone is not None and not is_zone(zone):
        mistakes.report(("time_zone",), "time_zone is not a time zone.",
                        'Give one such as "America/Chicago" or "UTC".', zone)  # fmt: skip
        zone = None
    comma = _decimal_comma(data.pop("decimal", "."), mistakes)
    found = {name: _parts(name, held, zone, mistakes) for name, held in data.items()}
    left_out = frozenset(name for name, parts in found.items() if parts is None)
    layers = {name: parts for name, parts in found.items() if parts}
    return JobMapping(path, text, layers, left_out, tuple(mistakes.faults), comma)


def _decimal_comma(given: object, mistakes: Mistakes) -> bool:
    if given not in (".", ","):
        mistakes.report(("decimal",), "decimal is neither a point nor a comma.",
                        'Write decimal = "," where numbers have a comma, or leave it out.',
                        given)  # fmt: skip
    return given == ","


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > _LARGEST_FILE:
            raise _unreadable(path, "It is too large for a mapping.", "Give the TOML file.")
        # Some editors put a byte order mark first, which TOML does not know.
        return path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except OSError as error:
        why = f"It can't be read ({error.strerror or 'no such file'})."
        raise _unreadable(path, why, "Check the path of the mapping.") from error
    except ValueError as error:
        raise _unreadable(path, "It is not text in UTF-8.", "Save it as UTF-8.") from error


def _parse(path: Path, text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        said = str(error)
        place = _PLACE.search(said)
        line = place[1] if place else str(text.count("\n") + 1)
        problem = f"It is not TOML: {_PLACE.sub('', said).split(' (at', 1)[0].rstrip('.')}."
        raise _unreadable(path, problem, "Correct the line.", f", line {line}") from error
    except (RecursionError, ValueError) as error:
        raise _unreadable(path, "It is not TOML that can be read.", "Make it simpler.") from error


def _unreadable(path: Path, problem: str, what_to_do: str, line: str = "") -> JobError:
    fault = plain_fault("mapping", problem, what_to_do, f"{path.name}{line}", effect="stops")
    return JobError(str(fault), [fault])


def _parts(
    name: str, held: object, zone: str | None, mistakes: Mistakes
) -> tuple[LayerMap, ...] | None:
    """Read a layer: one table, several that are put together, or false for none (then None)."""
    schema = readable_layers().get(name)
    if schema is None:
        mistakes.report((name,), f"{name} is not a layer of the contract.",
                        meant(name, readable_layers()))  # fmt: skip
        return ()
    if held is False and not schema.required:
        return None
    tables = held if isinstance(held, list) else [held]
    if not tables or not all(isinstance(t, dict) for t in tables):
        mistakes.report((name,), f"{name} is not a table.", f"Begin it with [{name}].", held)
        return ()
    keys: list[Keys] = [(name, i) if isinstance(held, list) else (name,)
                        for i in range(len(tables))]  # fmt: skip
    parts = [_part(schema, t, k, zone, mistakes) for t, k in zip(tables, keys, strict=True)]
    return tuple(part for part in parts if part is not None)


def _part(
    schema: LayerSchema, held: dict[str, Any], keys: Keys, zone: str | None, mistakes: Mistakes
) -> LayerMap | None:
    before = len(mistakes.faults)
    texts = {k: _given(held, k, keys, mistakes) for k in _TEXTS}
    for key in (k for k in held if k not in (*_TEXTS, "columns")):
        known = key in schema.columns
        mistakes.report((*keys, key), f"{schema.name} takes no key {key}.",
                        f"Put it under [{schema.name}.columns]." if known
                        else meant(key, (*_TEXTS, "columns")))  # fmt: skip
    _check_place(schema, texts, keys, mistakes)
    placed = len(mistakes.faults) == before
    inner = held.get("columns", {})
    columns, left_out = _columns(schema, inner, (*keys, "columns"), zone, mistakes)
    if not placed:
        return None
    return LayerMap(schema.name, keys, **texts, columns=columns, left_out=left_out)


def _given(held: dict[str, Any], key: str, keys: Keys, mistakes: Mistakes) -> str | None:
    value = held.get(key)
    if value is None or (isinstance(value, str) and value.strip()):
        return value
    mistakes.report((*keys, key), f"{key} is not a name in quotes.", f'Write {key} = "...".', value)
    return None


def _check_place(
    schema: LayerSchema, texts: dict[str, str | None], keys: Keys, mistakes: Mistakes
) -> None:
    if (texts["x"] is None) != (texts["y"] is None):
        mistakes.report(keys, "Only one of x and y is given.", "Name both columns of coordinates.")
    if texts["x"] and "Point" not in schema.geometry_types:
        mistakes.report(
            (*keys, "x"), f"{schema.name} does not hold points: x and y can't place it.",
            "Give a layer with geometry.",
        )  # fmt: skip
    if texts["crs"] and not _is_crs(texts["crs"]):
        mistakes.report((*keys, "crs"), "crs is not a coordinate reference system on the earth.",
                        'Give one such as "EPSG:2277".', texts["crs"])  # fmt: skip


def _is_crs(given: str) -> bool:
    import pyproj

    from leakgeo.job.crs import is_earthly

    try:
        return is_earthly(pyproj.CRS.from_user_input(given))
    except (pyproj.exceptions.ProjError, ValueError, TypeError):
        return False


def _columns(
    schema: LayerSchema, held: object, keys: Keys, zone: str | None, mistakes: Mistakes
) -> tuple[tuple[ColumnMap, ...], tuple[str, ...]]:
    if not isinstance(held, dict):
        mistakes.report(keys, "columns is not a table.", f"Begin it with [{schema.name}.columns].",
                        held)  # fmt: skip
        return (), ()
    for name in (n for n in held if n not in schema.columns):
        former = FORMER_COLUMNS.get((schema.name, name))
        mistakes.report((*keys, name), f"{schema.name} has no column {name}.",
                        f"It is {former.name} now, which is true where {name} was false." if former
                        else meant(name, schema.columns))  # fmt: skip
    known = {n: h for n, h in held.items() if n in schema.columns}
    volume = known.get("volume_unit")
    meter = volume.get("value") if isinstance(volume, dict) else None
    read = [read_column(schema.field(n), h, (*keys, n), zone, meter, mistakes)
            for n, h in known.items() if h is not False]  # fmt: skip
    left_out = tuple(n for n, h in known.items() if h is False)
    return tuple(c for c in read if c is not None), left_out


_KEYS = ("column", "value", "unit", "values", "missing", "date_format", "time_zone")
_TIMES = ("datetime", "date")
_LARGEST_NUMBER = 1e300


def read_column(
    field: Field, held: object, keys: Keys, zone: str | None, meter: object, mistakes: Mistakes
) -> ColumnMap | None:
    """Read what a mapping says of one column.

    Parameters
    ----------
    field : Field
        Of the contract.
    held : object
        As TOML gives it: the name of a column, or a table.
    keys : tuple of str or int
        Where it stands.
    zone : str, optional
        Time zone of the whole mapping.
    meter : object
        Unit of a meter's readings, if the mapping has it as a constant.
    mistakes : Mistakes
        Takes what is wrong.

    Returns
    -------
    ColumnMap or None
        None where it can't be made out.
    """
    if isinstance(held, str):
        held = {"column": held}
    if not isinstance(held, dict):
        mistakes.report(keys, f"{field.name} is not the name of a column.",
                        f'Write {field.name} = "COLUMN", or {{ value = ... }} for a constant.',
                        held)  # fmt: skip
        return None
    for key in (k for k in held if k not in _KEYS):
        mistakes.report((*keys, key), f"A column takes no key {key}.", meant(key, _KEYS))
    return _Entry(field, held, keys, mistakes).read(zone, meter)


class _Entry:
    """A table of the mapping that tells of one column, while it is read."""

    def __init__(self, field: Field, held: dict[str, Any], keys: Keys, mistakes: Mistakes) -> None:
        self.field, self.held, self.keys, self.mistakes = field, held, keys, mistakes

    def report(self, key: str, problem: str, what_to_do: str, value: object = "") -> None:
        keys = (*self.keys, key) if key else self.keys
        self.mistakes.report(keys, problem, what_to_do, value)

    def read(self, zone: str | None, meter: object) -> ColumnMap | None:
        before = len(self.mistakes.faults)
        times = self.field.type == "datetime"
        column, value = self._source()
        made = ColumnMap(
            self.field.name, self.keys, column, value, self._factor(meter), self._values(),
            self._missing(), self._date_format(), self._zone() or (zone if times else None),
        )  # fmt: skip
        return made if len(self.mistakes.faults) == before else None

    def _source(self) -> tuple[Any, Any]:
        column, value = self.held.get("column"), self.held.get("value")
        if (column is None) == (value is None):
            self.report("", f"{self.field.name} needs either column or value.",
                        "Name the source's column, or give a constant as value.")  # fmt: skip
        elif column is not None and not (isinstance(column, str) and column.strip()):
            self.report(
                "column", "column is not a name in quotes.", 'Write column = "...".', column
            )
        elif value is not None and (why := self._unfit(value)):
            self.report("value", f"value does not fit {self.field.name}: {value!r}.", why, value)
        return column, value

    def _factor(self, meter: object) -> float:
        unit, target = self.held.get("unit"), self.field.unit
        if unit is None:
            return 1.0
        if target == "as volume_unit" and isinstance(meter, str):
            target = meter
        units = known_units(target) if target else ()
        found = factor(unit, target) if isinstance(unit, str) and target else None
        if found is None:
            self.report("unit", f"unit {unit!r} does not fit {self.field.name}.",
                        self._units(units), unit)  # fmt: skip
        return 1.0 if found is None else found

    def _units(self, units: tuple[str, ...]) -> str:
        if units:
            return f"Use one of: {', '.join(units)}."
        if self.field.unit == "as volume_unit":
            return 'Give volume_unit as a constant, such as { value = "gal" }.'
        return "Take unit out: the column has none."

    def _values(self) -> dict[str, Any]:
        values = self.held.get("values", {})
        if not isinstance(values, dict) or (values and self.field.type in _TIMES):
            self.report("values", f"values can't be used for {self.field.name}.",
                        'Write { "OWN CODE" = "code of the contract" }.')  # fmt: skip
            return {}
        for own, code in values.items():
            if code != "" and (why := self._unfit(code)):
                keys = (*self.keys, "values", own)
                self.mistakes.report(keys, f"{code!r} is no value of {self.field.name}.", why, code)
        return values

    def _unfit(self, value: object) -> str:
        """Say what a value of the column is, if `value` is none."""
        if self.field.codes:
            right = isinstance(value, str) and value in self.field.codes
            right |= isinstance(value, bool) and is_former(value, self.field)
            return "" if right else meant(str(value), self.field.codes)
        if self.field.type == "boolean":
            return "" if isinstance(value, bool) else "Write true or false, without quotes."
        if self.field.type in ("number", "integer"):
            return "" if _is_number(value, self.field.type) else "Give a number, without quotes."
        return "" if isinstance(value, str) and value else "Give text in quotes."

    def _missing(self) -> tuple[str, ...]:
        missing = self.held.get("missing", [])
        listed = missing if isinstance(missing, list) else [None]
        if not all(isinstance(m, (str, int, float)) for m in listed):
            self.report("missing", "missing is not a list of values.", 'Write ["-9999", "none"].')
            return ()
        return tuple(as_key(m) for m in listed)

    def _date_format(self) -> str | None:
        given = self.held.get("date_format")
        if given is None:
            return None
        if self.field.type not in _TIMES:
            self.report("date_format", f"{self.field.name} is no time.", "Take date_format out.")
        elif not isinstance(given, str) or not is_date_format(given):
            self.report("date_format", f"date_format can't be used: {given!r}.",
                        'Write it as "%m/%d/%Y %H:%M", or "unix" or "unix_ms".', given)  # fmt: skip
        return given if isinstance(given, str) else None

    def _zone(self) -> str | None:
        given = self.held.get("time_zone")
        if given is None:
            return None
        if self.field.type != "datetime":
            self.report("time_zone", f"{self.field.name} is no time.", "Take time_zone out.")
        elif not is_zone(given):
            self.report("time_zone", f"time_zone is not a time zone: {given!r}.",
                        'Give one such as "America/Chicago" or "UTC".', given)  # fmt: skip
        return given if isinstance(given, str) else None


def _is_number(value: object, kind: str) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    if abs(value) > _LARGEST_NUMBER:
        return False
    return math.isfinite(value) and (kind == "number" or float(value).is_integer())
