"""Readings of a job beside ``readings_on_route``, which has most of their columns: stored once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.job.results.stored_record import PREFIX
from leakgeo.job.schema import load_schemas

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Table of the readings as used.
JOB_READINGS = f"{PREFIX}readings"
#: Its columns that ``readings_on_route`` has as they were read, in the same order of rows.
AS_PLACED = ("walk_id", "seq", "time", "stop_id", "sensor", "band", "surface", "air", "sound_unit",
             "tap_open")  # fmt: skip
_PLACED = "readings_on_route"


def are_placed(readings: pd.DataFrame, layers: Mapping[str, pd.DataFrame]) -> bool:
    """Return whether ``readings_on_route`` has the same readings in the same order.

    Parameters
    ----------
    readings : pandas.DataFrame
        Readings of the job.
    layers : mapping of str to pandas.DataFrame
        Layers of the result.
    """
    placed = layers.get(_PLACED)
    if placed is None or len(placed) != len(readings) or not len(readings):
        return False
    ours, theirs = (texts(each, "reading_id") for each in (readings, placed))
    return bool(((ours == theirs) | (pd.isna(ours) & pd.isna(theirs))).all())


def only_as_entered(typed: pd.DataFrame) -> pd.DataFrame:
    """Return typed readings of a job without what ``readings_on_route`` has, as a table."""
    shape = [typed.geometry.name] if isinstance(typed, gpd.GeoDataFrame) else []
    known = [name for name in AS_PLACED if name in typed]
    return pd.DataFrame(typed.drop(columns=[*known, *shape]))


def with_columns_as_placed(tables: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Return the tables of a result with the readings of its job whole again.

    A file of an earlier version has them whole. Columns stay missing if rows of either table were
    deleted since the run, as no one knows which belong together.

    Parameters
    ----------
    tables : mapping of str to pandas.DataFrame
        As read.
    """
    readings, placed = tables.get(JOB_READINGS), tables.get(_PLACED)
    if readings is None or placed is None or isinstance(readings, gpd.GeoDataFrame):
        return dict(tables)
    if not are_placed(readings, tables):
        shapes = np.full(len(readings), None)
        lost = gpd.GeoDataFrame(readings, geometry=shapes, crs=getattr(placed, "crs", None))
        return {**tables, JOB_READINGS: lost}
    known = {n: placed[n].to_numpy() for n in AS_PLACED if n in placed and n not in readings}
    order = load_schemas("input")["readings"].columns
    whole = readings.assign(**{n: pd.Series(v, index=readings.index) for n, v in known.items()})
    names = [*(n for n in order if n in whole), *(n for n in whole if n not in order)]
    whole = whole[names]
    if isinstance(placed, gpd.GeoDataFrame):
        whole = gpd.GeoDataFrame(whole, geometry=placed.geometry.to_numpy(), crs=placed.crs)
    return {**tables, JOB_READINGS: whole}
