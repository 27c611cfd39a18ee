"""What every world hands over: the layers of a job, and the truth behind them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd


@dataclass(frozen=True)
class World:
    """Surveys of many lines, and what made their sound.

    Parameters
    ----------
    layers : dict of str to GeoDataFrame
        `routes` and `readings`, as in the schemas.
    truth : DataFrame
        Indexed by `line_id`: `leak_chainage_m` (nan: no leak), `over_floor_db` (level of the leak
        above the background where the leak is loudest, without noise; nan: no leak), `other`
        (another source of sound, ``""``: none).
    """

    layers: dict[str, gpd.GeoDataFrame]
    truth: pd.DataFrame
