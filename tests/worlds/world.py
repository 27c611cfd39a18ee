"""What a world hands over: the layers of a job, and the truth that no crew sees."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd


@dataclass(frozen=True)
class World:
    """Simulated listening surveys of some lines, and where their leaks are.

    Parameters
    ----------
    layers : dict of str to GeoDataFrame
        ``routes`` and ``readings`` as the schemas describe them, in a projected CRS in metres.
    truth : DataFrame
        One row a line, with index ``line_id``: ``leak_chainage_m`` (nan: no leak),
        ``over_floor_db`` (level of the leak above the background, other sources included, at the
        stop where the leak is loudest, without noise; nan: no leak) and ``other`` (kind of the
        other source, or None); a world may add more.
    """

    layers: dict[str, gpd.GeoDataFrame]
    truth: pd.DataFrame
