"""Read a mapping from its TOML file, and report all mistakes in it at once."""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from leakgeo.faults import Fault, job_error
from leakgeo.job.mapping.former import FORMER_COLUMNS, is_former_boolean
from leakgeo.job.mapping.model import ColumnMap, JobMapping, LayerMap, Mistakes, as_key, suggestion
from leakgeo.job.mapping.times import is_date_format, is_zone
from leakgeo.job.mapping.values import factor, known_units
from leakgeo.job.schema import readable_layers
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from leakgeo.errors import JobError
    from leakgeo.job.mapping.model import ColumnMap, Keys, Mistakes
    from leakgeo.job.schema import Field, LayerSchema


_TEXTS = ("file", "layer", "crs", "x", "y")
_MAX_BYTES = 2_000_000
_LOCATION = re.compile(r"\s*\(at line (\d+), column \d+\)")


def load_mapping(path: str | Path) -> JobMapping:
    r"""Read a mapping and check it by itself, without the data.

    Parameters
    ----------
    path : str or pathlib.Path
        A TOML file in UTF-8.

    Returns
    -------
    JobMapping
        With its mistakes; `leakgeo.job.mapping.apply.apply_mapping` reports them together with
        those that depend on the data.

    Raises
    ------
    JobError
        If the file can't be read, or is not TOML.

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
        mistakes.report(("time_zone",), Reason("time_zone_unknown", given=str(zone)), zone)
        zone = None
    comma = _decimal_comma(data.pop("decimal", "."), mistakes)
    found = {name: _parts(name, raw, zone, mistakes) for name, raw in data.items()}
    left_out = frozenset(name for name, parts in found.items() if parts is None)
    layers = {name: parts for name, parts in found.items() if parts}
    return JobMapping(path, text, layers, left_out, tuple(mistakes.faults), comma)


def _decimal_comma(given: object, mistakes: Mistakes) -> bool:
    if given not in (".", ","):
        mistakes.report(("decimal",), Reason("decimal_unknown"), given)
    return given == ","


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > _MAX_BYTES:
            raise _file_error(path, Reason("mapping_too_large"))
        # Some editors write a byte order mark, which TOML does not allow.
        return path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except OSError as error:
        reason = Reason("mapping_unreadable", error=error.strerror or type(error).__name__)
        raise _file_error(path, reason) from error
    except ValueError as error:
        raise _file_error(path, Reason("mapping_not_utf8")) from error


def _parse(path: Path, text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        location = _LOCATION.search(message)
        line = location[1] if location else str(text.count("\n") + 1)
        problem = _LOCATION.sub("", message).split(" (at", 1)[0].rstrip(".")
        reason = Reason("not_toml", error=problem)
        raise _file_error(path, reason, f", line {line}") from error
    except (RecursionError, ValueError) as error:
        raise _file_error(path, Reason("toml_too_deep")) from error


def _file_error(path: Path, reason: Reason, line: str = "") -> JobError:
    fault = Fault("mapping", reason, f"{path.name}{line}", effect="stops")
    return job_error(f"{fault.layer} {fault.feature}", fault)


def _parts(
    name: str, raw: object, zone: str | None, mistakes: Mistakes
) -> tuple[LayerMap, ...] | None:
    """Read the tables of a layer, one or several parts; None if the layer is set to false."""
    schema = readable_layers().get(name)
    if schema is None:
        near = suggestion(name, readable_layers())
        mistakes.report((name,), Reason("not_a_contract_layer", layer=name, meant=near))
        return ()
    if raw is False and not schema.required:
        return None
    tables = raw if isinstance(raw, list) else [raw]
    if not tables or not all(isinstance(t, dict) for t in tables):
        mistakes.report((name,), Reason("layer_not_a_table", layer=name), raw)
        return ()
    keys: list[Keys] = [(name, i) if isinstance(raw, list) else (name,)
                        for i in range(len(tables))]  # fmt: skip
    parts = [_part(schema, t, k, zone, mistakes) for t, k in zip(tables, keys, strict=True)]
    return tuple(part for part in parts if part is not None)


def _part(
    schema: LayerSchema, raw: dict[str, Any], keys: Keys, zone: str | None, mistakes: Mistakes
) -> LayerMap | None:
    before = len(mistakes.faults)
    texts = {k: _given(raw, k, keys, mistakes) for k in _TEXTS}
    for key in (k for k in raw if k not in (*_TEXTS, "columns")):
        near = (Reason("put_under_columns", layer=schema.name) if key in schema.columns
                else suggestion(key, (*_TEXTS, "columns")))  # fmt: skip
        reason = Reason("layer_takes_no_key", layer=schema.name, key=key, meant=near)
        mistakes.report((*keys, key), reason)
    _check_place(schema, texts, keys, mistakes)
    placed = len(mistakes.faults) == before
    inner = raw.get("columns", {})
    columns, left_out = _columns(schema, inner, (*keys, "columns"), zone, mistakes)
    if not placed:
        return None
    return LayerMap(schema.name, keys, **texts, columns=columns, left_out=left_out)


def _given(raw: dict[str, Any], key: str, keys: Keys, mistakes: Mistakes) -> str | None:
    value = raw.get(key)
    if value is None or (isinstance(value, str) and value.strip()):
        return value
    mistakes.report((*keys, key), Reason("not_a_name", key=key), value)
    return None


def _check_place(
    schema: LayerSchema, texts: dict[str, str | None], keys: Keys, mistakes: Mistakes
) -> None:
    if (texts["x"] is None) != (texts["y"] is None):
        mistakes.report(keys, Reason("one_of_x_and_y"))
    if texts["x"] and "Point" not in schema.geometry_types:
        mistakes.report((*keys, "x"), Reason("x_and_y_for_no_points", layer=schema.name))
    if texts["crs"] and not _is_crs(texts["crs"]):
        mistakes.report((*keys, "crs"), Reason("crs_unknown"), texts["crs"])


def _is_crs(given: str) -> bool:
    import pyproj

    from leakgeo.job.crs import is_georeferenced

    try:
        return is_georeferenced(pyproj.CRS.from_user_input(given))
    except (pyproj.exceptions.ProjError, ValueError, TypeError):
        return False


def _columns(
    schema: LayerSchema, raw: object, keys: Keys, zone: str | None, mistakes: Mistakes
) -> tuple[tuple[ColumnMap, ...], tuple[str, ...]]:
    if not isinstance(raw, dict):
        mistakes.report(keys, Reason("columns_not_a_table", layer=schema.name), raw)
        return (), ()
    for name in (n for n in raw if n not in schema.columns):
        former = FORMER_COLUMNS.get((schema.name, name))
        near = (Reason("column_renamed", was=name, now=former.name) if former
                else suggestion(name, schema.columns))  # fmt: skip
        reason = Reason("not_a_contract_column", layer=schema.name, column=name, meant=near)
        mistakes.report((*keys, name), reason)
    known = {n: h for n, h in raw.items() if n in schema.columns}
    volume = known.get("volume_unit")
    meter = volume.get("value") if isinstance(volume, dict) else None
    read = [read_column(schema.field(n), h, (*keys, n), zone, meter, mistakes)
            for n, h in known.items() if h is not False]  # fmt: skip
    left_out = tuple(n for n, h in known.items() if h is False)
    return tuple(c for c in read if c is not None), left_out


_KEYS = ("column", "value", "unit", "values", "missing", "date_format", "time_zone")
_TIMES = ("datetime", "date")
_MAX_NUMBER = 1e300


def read_column(
    field: Field, raw: object, keys: Keys, zone: str | None, meter: object, mistakes: Mistakes
) -> ColumnMap | None:
    """Read the mapping of one column.

    Parameters
    ----------
    field : Field
        Column of the contract.
    raw : object
        Parsed TOML: the name of a column, or a table.
    keys : tuple of str or int
        Keys of the entry.
    zone : str, optional
        Time zone of the whole mapping.
    meter : object
        Unit of the meter readings, if it is a constant in the mapping.
    mistakes : Mistakes
        Collector to report to.

    Returns
    -------
    ColumnMap or None
        None if the entry has mistakes.
    """
    if isinstance(raw, str):
        raw = {"column": raw}
    if not isinstance(raw, dict):
        mistakes.report(keys, Reason("not_a_column_name", column=field.name), raw)
        return None
    for key in (k for k in raw if k not in _KEYS):
        reason = Reason("column_takes_no_key", key=key, meant=suggestion(key, _KEYS))
        mistakes.report((*keys, key), reason)
    return _ColumnReader(field, raw, keys, mistakes).read(zone, meter)


class _ColumnReader:
    """Reader of the table of one column in a mapping."""

    def __init__(self, field: Field, raw: dict[str, Any], keys: Keys, mistakes: Mistakes) -> None:
        self.field, self.raw, self.keys, self.mistakes = field, raw, keys, mistakes

    def report(self, at: str, code: str, value: object = "", **values: object) -> None:
        keys = (*self.keys, at) if at else self.keys
        self.mistakes.report(keys, Reason(code, column=self.field.name, **values), value)

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
        column, value = self.raw.get("column"), self.raw.get("value")
        if (column is None) == (value is None):
            self.report("", "column_or_value")
        elif column is not None and not (isinstance(column, str) and column.strip()):
            self.report("column", "not_a_name", column, key="column")
        elif value is not None and (expected := self._expected(value)):
            self.report("value", "value_unfit", value, given=str(value), expected=expected)
        return column, value

    def _factor(self, meter: object) -> float:
        unit, target = self.raw.get("unit"), self.field.unit
        if unit is None:
            return 1.0
        if target == "as volume_unit" and isinstance(meter, str):
            target = meter
        units = known_units(target) if target else ()
        found = factor(unit, target) if isinstance(unit, str) and target else None
        if found is None:
            self.report("unit", "unit_unfit", unit, unit=str(unit), expected=self._units(units))
        return 1.0 if found is None else found

    def _units(self, units: tuple[str, ...]) -> Reason:
        if units:
            return Reason("use_one_of", names=units, more=0)
        if self.field.unit == "as volume_unit":
            return Reason("give_volume_unit")
        return Reason("column_has_no_unit")

    def _values(self) -> dict[str, Any]:
        values = self.raw.get("values", {})
        if not isinstance(values, dict) or (values and self.field.type in _TIMES):
            self.report("values", "values_unusable")
            return {}
        for own, code in values.items():
            if code != "" and (expected := self._expected(code)):
                reason = Reason("no_such_value", column=self.field.name, given=str(code),
                                expected=expected)  # fmt: skip
                self.mistakes.report((*self.keys, "values", own), reason, code)
        return values

    def _expected(self, value: object) -> Reason | None:
        """Return what the column expects if `value` is not a value of it, else None."""
        if self.field.codes:
            right = isinstance(value, str) and value in self.field.codes
            right |= isinstance(value, bool) and is_former_boolean(value, self.field)
            return None if right else suggestion(str(value), self.field.codes)
        if self.field.type == "boolean":
            return None if isinstance(value, bool) else Reason("write_true_or_false")
        if self.field.type in ("number", "integer"):
            return None if _is_number(value, self.field.type) else Reason("give_number")
        return None if isinstance(value, str) and value else Reason("give_text")

    def _missing(self) -> tuple[str, ...]:
        missing = self.raw.get("missing", [])
        listed = missing if isinstance(missing, list) else [None]
        if not all(isinstance(m, (str, int, float)) for m in listed):
            self.report("missing", "missing_not_a_list")
            return ()
        return tuple(as_key(m) for m in listed)

    def _date_format(self) -> str | None:
        given = self.raw.get("date_format")
        if given is None:
            return None
        if self.field.type not in _TIMES:
            self.report("date_format", "column_not_a_time", key="date_format")
        elif not isinstance(given, str) or not is_date_format(given):
            self.report("date_format", "date_format_unusable", given, given=str(given))
        return given if isinstance(given, str) else None

    def _zone(self) -> str | None:
        given = self.raw.get("time_zone")
        if given is None:
            return None
        if self.field.type != "datetime":
            self.report("time_zone", "column_not_a_time", key="time_zone")
        elif not is_zone(given):
            self.report("time_zone", "time_zone_unknown", given, given=str(given))
        return given if isinstance(given, str) else None


def _is_number(value: object, kind: str) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    if abs(value) > _MAX_NUMBER:
        return False
    return math.isfinite(value) and (kind == "number" or float(value).is_integer())
