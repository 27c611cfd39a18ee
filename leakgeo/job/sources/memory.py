"""A job of GeoDataFrames: its layers as they would come from a file, in copy."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd

from leakgeo.errors import JobError
from leakgeo.faults import Fault
from leakgeo.job.sources.layers import RawLayer, of_one_name_each

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, eq=False)
class Memory:
    """Tables by the name of their layer.

    Parameters
    ----------
    tables : mapping of str to geopandas.GeoDataFrame or pandas.DataFrame
        They are never changed.
    """

    tables: Mapping[str, pd.DataFrame]

    def read(self, name: str) -> RawLayer:
        """Give one layer in copy, its rows numbered from 0, its geometry under that name.

        Raises
        ------
        JobError
            If it is no table.

        Examples
        --------
        >>> table = pd.DataFrame({"line_id": pd.Categorical(["A"])}, index=["x"])
        >>> Memory({"meter_tests": table}).read("meter_tests").table.index.tolist()
        [0]
        """
        table = self.tables[name]
        if not isinstance(table, pd.DataFrame):
            problem = f"It is of the kind {type(table).__name__}, not a table."
            raise JobError(problem, [Fault(name, problem, "Give a GeoDataFrame.", effect="stops")])
        plain, notes = of_one_name_each(table.reset_index(drop=True))
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
