"""List the layers of a source with their columns, and match them with those of the contract."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.faults import Fault, job_error
from leakgeo.job.guards import PARQUET, gdal
from leakgeo.job.mapping.guess import LIKELY, SURE, column_score, layer_score, words
from leakgeo.job.sources import LayerSource, Memory, layer_names, read_layer, usual_columns
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterable

    from leakgeo.job.schema import LayerSchema
    from leakgeo.job.sources import Database, RawLayer

# Least score of a match.
_LEAST = 0.8
_ANY = frozenset(("", "Unknown", "GeometryCollection"))


@dataclass(frozen=True)
class LayerInfo:
    """Metadata of a layer of a source.

    Parameters
    ----------
    source : pathlib.Path or Database
        File or database of the layer.
    layer : str
    columns : tuple of str
        Columns without geometry.
    geometry : str, optional
        Geometry type, ``""`` if not known; None for a table without geometry.
    file : str, optional
        Name of the file, if the source is a folder.
    """

    source: Path | Database
    layer: str
    columns: tuple[str, ...]
    geometry: str | None
    file: str | None = None

    def read(self) -> RawLayer:
        """Read the layer."""
        return read_layer(LayerSource(self.source, {"it": (self.source, self.layer)}), "it")


def list_layers(opened: LayerSource) -> list[LayerInfo]:
    """Return metadata of every layer of a source, also of each file in a folder.

    Parameters
    ----------
    opened : LayerSource

    Returns
    -------
    list of Sight
    """
    home = opened.path
    if isinstance(home, Memory):
        return []  # tables in memory need no mapping
    if not isinstance(home, Path):
        return [LayerInfo(home, n, t.columns, None if t.geometry_column is None else "")
                for n, t in home.tables.items()]  # fmt: skip
    if home.is_dir() and home.suffix.casefold() != ".gdb":
        files = dict.fromkeys(p for p, _ in opened.layers.values() if isinstance(p, Path))
        return [_layer_info(f, n, f.name) for f in files for n in layer_names(f, f)]
    return [_layer_info(p, n) for p, n in opened.layers.values() if isinstance(p, Path)]


def _layer_info(path: Path, layer: str, file: str | None = None) -> LayerInfo:
    if path.suffix.casefold() in PARQUET:
        table = LayerInfo(path, layer, (), "", file).read()
        columns = [str(c) for c in table.table.columns if c != "geometry"]
        return LayerInfo(path, layer, tuple(columns), "" if table.has_geometry else None, file)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # warnings are reported when the layer is read
            info = gdal.layer_info(path, layer)
    except Exception as error:
        reason = Reason("layer_unreadable", error=gdal.first_line(error))
        raise job_error(f"{path.name}, {layer}", Fault(layer, reason)) from error
    return LayerInfo(path, layer, tuple(map(str, info["fields"])), info["geometry_type"], file)


def has_fitting_geometry(info: LayerInfo, schema: LayerSchema) -> bool:
    """Return whether a layer has the geometry that a layer of the contract needs."""
    if not schema.geometry_types:
        return True
    if info.geometry is None:
        placed = usual_columns(info.columns) is not None or _has_chainage(info, schema)
        return "Point" in schema.geometry_types and placed
    kind = info.geometry.replace(" ZM", "").replace(" Z", "").replace(" M", "").replace("2.5D ", "")
    single = {t.removeprefix("Multi") for t in schema.geometry_types}
    return kind in _ANY or kind.removeprefix("Multi") in single


def _has_chainage(info: LayerInfo, schema: LayerSchema) -> bool:
    """Return whether a layer can be readings that are placed by chainage."""
    tape = schema.field("chainage_m") if schema.name == "readings" else None
    return tape is not None and any(column_score(c, tape) >= LIKELY for c in info.columns)


def match_score(info: LayerInfo, schema: LayerSchema) -> float:
    """Return a score for a layer being one of the contract, by its name and required columns."""
    if not has_fitting_geometry(info, schema):
        return 0.0
    name = max(layer_score(n, schema.name) for n in (info.layer, (info.file or "").split(".")[0]))
    if schema.name == "routes" and name < SURE:
        has_water = "water" in words(info.layer)
        name += 0.1 * has_water - 0.5 * bool(layer_score(info.layer, "utilities"))
    needed = [f for f in schema.fields if f.required]
    best = [max((column_score(c, f) for c in info.columns), default=0.0) for f in needed]
    return name + (sum(best) / len(best) if best else 0.0)


def match_layers(
    infos: Iterable[LayerInfo], schemas: Iterable[LayerSchema]
) -> dict[str, list[LayerInfo]]:
    """Match layers of a source with those of the contract; utilities may have several.

    Parameters
    ----------
    infos : iterable of Sight
    schemas : iterable of LayerSchema

    Returns
    -------
    dict of str to list of Sight
        By layer of the contract; layers without a match are missing.
    """
    pairs = [(match_score(s, c), i, c.name, s)
             for i, s in enumerate(infos) for c in schemas]  # fmt: skip
    found: dict[str, list[LayerInfo]] = {}
    used: set[int] = set()
    for score, i, name, info in sorted(pairs, key=lambda pair: -pair[0]):
        if score >= _LEAST and i not in used and (name == "utilities" or name not in found):
            found.setdefault(name, []).append(info)
            used.add(i)
    return found
