"""One column of a mapping, as the user wrote it: read, and checked against the contract."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from leakgeo.job.mapping.former import is_former
from leakgeo.job.mapping.model import ColumnMap, meant
from leakgeo.job.mapping.time_zone import is_date_format, is_zone
from leakgeo.job.mapping.units import factor, known_units

if TYPE_CHECKING:
    from leakgeo.job.mapping.model import Keys, Mistakes
    from leakgeo.job.schema import Field

_KEYS = ("column", "value", "unit", "values", "missing", "date_format", "time_zone")
_TIMES = ("datetime", "date")
_LARGEST = 1e300


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
        mistakes.tell(keys, f"{field.name} is not the name of a column.",
                      f'Write {field.name} = "COLUMN", or {{ value = ... }} for a constant.',
                      held)  # fmt: skip
        return None
    for key in (k for k in held if k not in _KEYS):
        mistakes.tell((*keys, key), f"A column takes no key {key}.", meant(key, _KEYS))
    return _Entry(field, held, keys, mistakes).read(zone, meter)


class _Entry:
    """A table of the mapping that tells of one column, while it is read."""

    def __init__(self, field: Field, held: dict[str, Any], keys: Keys, mistakes: Mistakes) -> None:
        self.field, self.held, self.keys, self.mistakes = field, held, keys, mistakes

    def tell(self, key: str, problem: str, what_to_do: str, value: object = "") -> None:
        keys = (*self.keys, key) if key else self.keys
        self.mistakes.tell(keys, problem, what_to_do, value)

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
            self.tell("", f"{self.field.name} needs either column or value.",
                      "Name the source's column, or give a constant as value.")  # fmt: skip
        elif column is not None and not (isinstance(column, str) and column.strip()):
            self.tell("column", "column is not a name in quotes.", 'Write column = "...".', column)
        elif value is not None and (why := self._unfit(value)):
            self.tell("value", f"value does not fit {self.field.name}: {value!r}.", why, value)
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
            self.tell("unit", f"unit {unit!r} does not fit {self.field.name}.",
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
            self.tell("values", f"values can't be used for {self.field.name}.",
                      'Write { "OWN CODE" = "code of the contract" }.')  # fmt: skip
            return {}
        for own, code in values.items():
            if code != "" and (why := self._unfit(code)):
                keys = (*self.keys, "values", own)
                self.mistakes.tell(keys, f"{code!r} is no value of {self.field.name}.", why, code)
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
            self.tell("missing", "missing is not a list of values.", 'Write ["-9999", "none"].')
            return ()
        return tuple(as_key(m) for m in listed)

    def _date_format(self) -> str | None:
        given = self.held.get("date_format")
        if given is None:
            return None
        if self.field.type not in _TIMES:
            self.tell("date_format", f"{self.field.name} is no time.", "Take date_format out.")
        elif not isinstance(given, str) or not is_date_format(given):
            self.tell("date_format", f"date_format can't be used: {given!r}.",
                      'Write it as "%m/%d/%Y %H:%M", or "unix" or "unix_ms".', given)  # fmt: skip
        return given if isinstance(given, str) else None

    def _zone(self) -> str | None:
        given = self.held.get("time_zone")
        if given is None:
            return None
        if self.field.type != "datetime":
            self.tell("time_zone", f"{self.field.name} is no time.", "Take time_zone out.")
        elif not is_zone(given):
            self.tell("time_zone", f"time_zone is not a time zone: {given!r}.",
                      'Give one such as "America/Chicago" or "UTC".', given)  # fmt: skip
        return given if isinstance(given, str) else None


def as_key(value: object) -> str:
    """Give a value as the text that a mapping knows it by.

    Examples
    --------
    >>> as_key(4.0), as_key(" Cu "), as_key(True)
    ('4', 'cu', 'true')
    """
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip().casefold()


def _is_number(value: object, kind: str) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or abs(value) > _LARGEST:
        return False
    return math.isfinite(value) and (kind == "number" or float(value).is_integer())
