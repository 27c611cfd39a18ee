"""Layers of a source that nothing of the job was read from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.faults import Fault
from leakgeo.job.guards import PARQUET, gdal
from leakgeo.job.mapping import may_be_utility
from leakgeo.job.schema import load_schemas, readable_layers
from leakgeo.job.sources import Database, Memory
from leakgeo.job.workbook import OWN_SHEETS, SHEET_FILES, sheet_named
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leakgeo.job.mapping import JobMapping
    from leakgeo.job.sources import LayerSource

# Tables that a GIS keeps beside layers.
_OF_GIS = frozenset(("layer_styles", "qgis_projects"))
# Most layers that are named; a database may have hundreds.
_MOST_NAMED = 12


def unused_layers(
    source: LayerSource, read: LayerSource, mapping: JobMapping | None
) -> tuple[Fault, ...]:
    """Return one note with the layers of a source that are not used; none if all are.

    Results of leakgeo, and layers that the mapping leaves out by name, are not noted.

    Parameters
    ----------
    source : LayerSource
        As opened.
    read : LayerSource
        As read through the mapping, or from typed sheets.
    mapping : JobMapping or None

    Examples
    --------
    >>> import pandas as pd
    >>> from leakgeo.job.sources import open_source
    >>> tables = {name: pd.DataFrame() for name in ("routes", "elec", "parcels")}
    >>> with open_source(tables) as opened:
    ...     (note,) = unused_layers(opened, opened, None)
    >>> note.problem
    'Layers that are not used: elec, parcels; elec may be a utility: no hold is made of it.'
    """
    # Those that may be a utility are named first: a hold may be missing.
    names = sorted(_unused(source, read, mapping))
    utilities = [name for name in names if may_be_utility(name, _columns(source, name))]
    if not names:
        return ()
    order = [*utilities, *(name for name in names if name not in utilities)]
    reason = Reason(
        "layers_not_used",
        layers=_as_named(source, order[:_MOST_NAMED]),
        more=max(len(order) - _MOST_NAMED, 0),
        utilities=_as_named(source, utilities[:_MOST_NAMED]),
        kind=("other", "one_utility", "utilities")[min(len(utilities), 2)],
    )
    return (Fault("job", reason, effect="noted"),)


def _unused(source: LayerSource, read: LayerSource, mapping: JobMapping | None) -> set[str]:
    known = readable_layers().keys()
    mapped = {} if mapping is None else mapping.layers
    parts = [part for parts in mapped.values() for part in parts]
    used = {Path(p.file).stem.casefold() if p.file else source.key(p.layer or p.name)
            for p in parts}  # fmt: skip
    places = {_key(place) for name, place in read.layers.items()
              if name in known and name not in mapped}  # fmt: skip
    left_out = frozenset() if mapping is None else mapping.left_out
    return {name for name, place in source.layers.items()
            if name not in used | left_out and _key(place) not in places
            and not _is_own(name, place[0])}  # fmt: skip


def _key(place: tuple[object, str]) -> tuple[object, str]:
    """Return what tells layers apart: an open database is known by itself."""
    where, layer = place
    return (where if isinstance(where, Path) else id(where)), layer


def _is_own(name: str, place: object) -> bool:
    """Return whether leakgeo or a GIS wrote a table for itself, or it is a known empty sheet."""
    if isinstance(place, Path) and place.suffix.casefold() in SHEET_FILES:
        return name in OWN_SHEETS or sheet_named(name) is not None
    results = load_schemas().keys() - load_schemas("input").keys()
    stored = {f"job_{layer}" for layer in load_schemas("input")}
    return name in _OF_GIS or name == "run_record" or name in results or name in stored


def _columns(source: LayerSource, name: str) -> Sequence[str]:
    place, layer = source.layers[name]
    if isinstance(place, Memory):
        return [str(column) for column in getattr(place.tables[layer], "columns", ())]
    if isinstance(place, Database):
        return place.tables[layer].columns
    if place.suffix.casefold() in PARQUET:
        return ()
    try:
        return [str(column) for column in gdal.layer_info(place, layer)["fields"]]
    except Exception:  # noqa: BLE001 - a layer that is not used stops nothing
        return ()


def _as_named(source: LayerSource, names: Sequence[str]) -> list[str]:
    """Return layers by their names in the source; those of a folder by the names of files."""
    folder = isinstance(source.path, Path) and source.path.is_dir()
    return [name if folder else source.layers[name][1] for name in names]
