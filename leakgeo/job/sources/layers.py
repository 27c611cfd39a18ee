"""An open source, a layer as read, and tables in memory as a source."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd

from leakgeo.faults import Fault, job_error
from leakgeo.job.guards import gdal
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from pyproj import CRS

    from leakgeo.errors import JobError
    from leakgeo.job.sources.postgis import Database


@dataclass(frozen=True)
class LayerSource:
    """An open source, and the place of each layer in it.

    Parameters
    ----------
    path : pathlib.Path, Database or Memory
        The source.
    layers : mapping of str to (pathlib.Path, Database or Memory, str)
        File, database or tables, and layer name in it, by lower-case layer name.
    faults : tuple of Fault
        Faults found on opening.
    ready : mapping of str to RawLayer
        Layers that have been read, through a mapping.
    also : mapping of str to str
        Other names of layers, in lower case: of tables in the search path, those with schema.
    """

    path: Path | Database | Memory
    layers: Mapping[str, tuple[Path | Database | Memory, str]]
    faults: tuple[Fault, ...] = ()
    ready: Mapping[str, RawLayer] = field(default_factory=dict)
    also: Mapping[str, str] = field(default_factory=dict)

    def key(self, name: str) -> str:
        """Return the key in `layers` of a layer that is named in any case, or with its schema.

        Examples
        --------
        >>> path = Path("job.gpkg")
        >>> opened = LayerSource(path, {"mains": (path, "Mains")}, also={"public.mains": "mains"})
        >>> opened.key("Mains"), opened.key("public.Mains"), opened.key("Stops")
        ('mains', 'mains', 'stops')
        """
        plain = name.casefold()
        return plain if plain in self.layers else self.also.get(plain, plain)


#: Longest column name of a dBASE file, such as the .dbf file of a Shapefile.
DBF_NAME_LENGTH = 10


@dataclass(frozen=True)
class RawLayer:
    """A layer as read.

    Parameters
    ----------
    table : pandas.DataFrame or geopandas.GeoDataFrame
        A layer with geometry has it in the column ``geometry``.
    crs : pyproj.CRS or None
    notes : tuple of Reason
        Notes of the reader.
    longest_name : int, optional
        Length that the format truncates column names to; None if it does not.
    numbers : sequence of int, optional
        Number of each row in the layer, from 1, of a part of it; negative for a row of which faults
        are reported with another part. None for all rows.
    """

    table: pd.DataFrame
    crs: CRS | None
    notes: tuple[Reason, ...] = ()
    longest_name: int | None = None
    numbers: Sequence[int] | None = None

    @property
    def has_geometry(self) -> bool:
        """Whether the layer has a geometry column."""
        return isinstance(self.table, gpd.GeoDataFrame)


def unreadable_layer(layer: str, error: Exception) -> JobError:
    """Return the error for a layer that can't be read.

    Examples
    --------
    >>> print(unreadable_layer("routes", ValueError("no such column")))
    routes: It can't be read (no such column). Open it in a GIS, and save it again.
    """
    return job_error(layer, Fault(layer, Reason("layer_unreadable", error=gdal.first_line(error))))


def without_ambiguous_columns(table: pd.DataFrame) -> tuple[pd.DataFrame, tuple[Reason, ...]]:
    """Drop columns that share a name, since they are ambiguous; return notes on them.

    Examples
    --------
    >>> table = pd.DataFrame([[1, 2, 3]], columns=["a", "b", "a"])
    >>> without_ambiguous_columns(table)[0].columns.tolist()
    ['b']
    """
    again = table.columns.duplicated(keep=False)
    if not again.any():
        return table, ()
    names = ", ".join(dict.fromkeys(map(str, table.columns[again])))
    return table.loc[:, ~again], (Reason("columns_of_one_name", columns=names[:200]),)


@dataclass(frozen=True, eq=False)
class Memory:
    """Tables in memory, as a source.

    Parameters
    ----------
    tables : mapping of str to geopandas.GeoDataFrame or pandas.DataFrame
        Tables by layer name; they are never changed.
    """

    tables: Mapping[str, pd.DataFrame]

    def read(self, name: str) -> RawLayer:
        """Return a copy of one layer, with rows numbered from 0 and geometry named ``geometry``.

        Raises
        ------
        JobError
            If it is not a DataFrame.

        Examples
        --------
        >>> table = pd.DataFrame({"line_id": pd.Categorical(["A"])}, index=["x"])
        >>> Memory({"meter_tests": table}).read("meter_tests").table.index.tolist()
        [0]
        """
        table = self.tables[name]
        if not isinstance(table, pd.DataFrame):
            reason = Reason("not_a_table", type=type(table).__name__)
            raise job_error(name, Fault(name, reason, effect="stops"))
        plain, notes = without_ambiguous_columns(table.reset_index(drop=True))
        shapes = [c for c in plain.columns if isinstance(plain[c].dtype, gpd.array.GeometryDtype)]
        own = plain.active_geometry_name if isinstance(plain, gpd.GeoDataFrame) else None
        codes = [c for c in plain.columns if isinstance(plain[c].dtype, pd.CategoricalDtype)]
        plain = plain.drop(columns=[c for c in shapes if c != own]).astype(
            dict.fromkeys(codes, object)
        )
        if own is None:
            return RawLayer(pd.DataFrame(plain).rename(columns=str), None, notes)
        named = plain.rename(columns={c: str(c) for c in plain.columns if c != own})
        placed = gpd.GeoDataFrame(named, geometry=own, crs=table.crs)
        placed = placed if own == "geometry" else placed.rename_geometry("geometry")
        return RawLayer(placed, placed.crs, notes)
