"""Read a mapping from its TOML file, and tell every mistake in it at once."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from leakgeo.errors import JobError
from leakgeo.faults import Fault
from leakgeo.job.mapping.column import read_column
from leakgeo.job.mapping.former import FORMER_COLUMNS
from leakgeo.job.mapping.model import JobMapping, LayerMap, Mistakes, meant
from leakgeo.job.mapping.time_zone import is_zone
from leakgeo.job.schema import load_schemas

if TYPE_CHECKING:
    from leakgeo.job.mapping.model import ColumnMap, Keys
    from leakgeo.job.schema import LayerSchema

_TEXTS = ("file", "layer", "crs", "x", "y")
_LARGEST = 2_000_000
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
        mistakes.tell(("time_zone",), "time_zone is not a time zone.",
                      'Give one such as "America/Chicago" or "UTC".', zone)  # fmt: skip
        zone = None
    comma = _decimal_comma(data.pop("decimal", "."), mistakes)
    found = {name: _parts(name, held, zone, mistakes) for name, held in data.items()}
    left_out = frozenset(name for name, parts in found.items() if parts is None)
    layers = {name: parts for name, parts in found.items() if parts}
    return JobMapping(path, text, layers, left_out, tuple(mistakes.faults), comma)


def _decimal_comma(given: object, mistakes: Mistakes) -> bool:
    if given not in (".", ","):
        mistakes.tell(("decimal",), "decimal is neither a point nor a comma.",
                      'Write decimal = "," where numbers have a comma, or leave it out.',
                      given)  # fmt: skip
    return given == ","


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > _LARGEST:
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
    fault = Fault("mapping", problem, what_to_do, f"{path.name}{line}", effect="stops")
    return JobError(str(fault), [fault])


def _parts(
    name: str, held: object, zone: str | None, mistakes: Mistakes
) -> tuple[LayerMap, ...] | None:
    """Read a layer: one table, several that are put together, or false for none (then None)."""
    schema = load_schemas("input").get(name)
    if schema is None:
        mistakes.tell((name,), f"{name} is not a layer of the contract.",
                      meant(name, load_schemas("input")))  # fmt: skip
        return ()
    if held is False and not schema.required:
        return None
    tables = held if isinstance(held, list) else [held]
    if not tables or not all(isinstance(t, dict) for t in tables):
        mistakes.tell((name,), f"{name} is not a table.", f"Begin it with [{name}].", held)
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
        mistakes.tell((*keys, key), f"{schema.name} takes no key {key}.",
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
    mistakes.tell((*keys, key), f"{key} is not a name in quotes.", f'Write {key} = "...".', value)
    return None


def _check_place(
    schema: LayerSchema, texts: dict[str, str | None], keys: Keys, mistakes: Mistakes
) -> None:
    if (texts["x"] is None) != (texts["y"] is None):
        mistakes.tell(keys, "Only one of x and y is given.", "Name both columns of coordinates.")
    if texts["x"] and "Point" not in schema.geometry_types:
        mistakes.tell((*keys, "x"), f"{schema.name} does not hold points: x and y can't place it.",
                      "Give a layer with geometry.")  # fmt: skip
    if texts["crs"] and not _is_crs(texts["crs"]):
        mistakes.tell((*keys, "crs"), "crs is not a coordinate reference system on the earth.",
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
        mistakes.tell(keys, "columns is not a table.", f"Begin it with [{schema.name}.columns].",
                      held)  # fmt: skip
        return (), ()
    for name in (n for n in held if n not in schema.columns):
        former = FORMER_COLUMNS.get((schema.name, name))
        mistakes.tell((*keys, name), f"{schema.name} has no column {name}.",
                      f"It is {former.name} now, which is true where {name} was false." if former
                      else meant(name, schema.columns))  # fmt: skip
    known = {n: h for n, h in held.items() if n in schema.columns}
    volume = known.get("volume_unit")
    meter = volume.get("value") if isinstance(volume, dict) else None
    read = [read_column(schema.field(n), h, (*keys, n), zone, meter, mistakes)
            for n, h in known.items() if h is not False]  # fmt: skip
    left_out = tuple(n for n, h in known.items() if h is False)
    return tuple(c for c in read if c is not None), left_out
