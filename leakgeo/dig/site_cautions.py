"""Cautions of a dig that depend on its ground, its pipe, and what stands on the line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely

from leakgeo.job.schema import load_schema
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    import geopandas as gpd
    from numpy.typing import NDArray

    from leakgeo.job.model import Job

ROADS = ("asphalt", "concrete")
PAVED = (*ROADS, "paver", "tile")
# Fittings that often stand in a vault or a pit.
IN_VAULTS = ("main_valve", "pressure_reducing_valve", "pump", "backflow_preventer", "meter")
VALVES_IN_VAULTS = ("isolation", "pressure_reducing")
# Readings this close to the mark stand on its ground.
SAME_GROUND_M = 3.0
# A gain from which a knock on the sensor is loud in the ears; common practice.
HIGH_GAIN_DB = 40.0


def site_of(
    job: Job,
    readings: pd.DataFrame | None,
    digs: pd.DataFrame,
    holes: NDArray[np.object_],
) -> pd.DataFrame:
    """Look up ground, pipe and fittings of each dig.

    Parameters
    ----------
    job : Job
    readings : pandas.DataFrame or None
        ``readings_on_route``; its surfaces count where the layer ``surfaces`` has none.
    digs : (n,) pandas.DataFrame
        With line_id and chainage_m.
    holes : (n,) array of shapely Polygons or None

    Returns
    -------
    (n,) pandas.DataFrame
        Columns surfaces (a set of codes, empty where not known), material (``unknown`` where not
        known), vaults and high_gain; index of `digs`.
    """
    under = _surfaces_under(job.surfaces, holes)
    near = _surfaces_heard(readings, digs)
    gain = _of_lines(job.readings, ["gain_db"])
    loud = pd.to_numeric(gain["gain_db"], errors="coerce") >= HIGH_GAIN_DB
    fittings = _of_lines(job.contacts, ["kind"])
    valves = _of_lines(job.valves, ["kind"])
    vaults = {
        *fittings.loc[fittings["kind"].isin(IN_VAULTS), "line_id"],
        *valves.loc[valves["kind"].isin(VALVES_IN_VAULTS), "line_id"],
    }
    routes = _of_lines(job.routes, ["material"]).drop_duplicates("line_id").set_index("line_id")
    return pd.DataFrame(
        {
            "surfaces": pd.Series([a or b for a, b in zip(under, near, strict=True)],
                                  index=digs.index, dtype=object),
            "material": _text_of(digs["line_id"], routes["material"]),
            "vaults": digs["line_id"].isin(vaults),
            "high_gain": digs["line_id"].isin(gain.loc[loud, "line_id"]),
        },
        index=digs.index,
    )  # fmt: skip


def _of_lines(layer: pd.DataFrame | None, columns: list[str]) -> pd.DataFrame:
    """Return columns of the rows that name a line and passed the checks."""
    wanted = ["line_id", "reason", *columns]
    if layer is None:
        return pd.DataFrame(columns=wanted, dtype=object)
    table = pd.DataFrame(layer).reindex(columns=wanted)
    return table[table["line_id"].notna() & table["reason"].isna()]


def _text_of(names: pd.Series, texts: pd.Series) -> list[str]:
    """Return the text of each name; ``unknown`` where there is none."""
    known = {str(name): text for name, text in texts.items() if isinstance(text, str)}
    return [known.get(str(name), "unknown") for name in names]


def _surfaces_under(
    surfaces: gpd.GeoDataFrame | None, holes: NDArray[np.object_]
) -> list[set[str]]:
    """Return the surfaces that each hole cuts."""
    found: list[set[str]] = [set() for _ in holes]
    if surfaces is None:
        return found
    good = surfaces[surfaces["reason"].isna()] if "reason" in surfaces else surfaces
    hole, area = shapely.STRtree(good.geometry.to_numpy()).query(holes, predicate="intersects")
    codes = good.get("surface", pd.Series(index=good.index, dtype=object)).to_numpy(dtype=object)
    for at, code in zip(hole.tolist(), codes[area], strict=True):
        if _is_known(code):
            found[at].add(code)
    return found


def _surfaces_heard(readings: pd.DataFrame | None, digs: pd.DataFrame) -> list[set[str]]:
    """Return the surfaces of the readings close to each mark."""
    if readings is None or not {"surface", "line_id", "chainage_m"} <= set(readings):
        return [set() for _ in range(len(digs))]
    known = pd.DataFrame(readings[readings["surface"].map(_is_known).astype(bool)])
    known = known.dropna(subset="line_id")
    heard = pd.DataFrame({"line": known["line_id"].astype(str), "surface": known["surface"],
                          "heard_m": known["chainage_m"].astype(float)})  # fmt: skip
    marks = pd.DataFrame({"line": digs["line_id"].astype(str), "mark_m": digs["chainage_m"],
                          "dig": range(len(digs))})  # fmt: skip
    pairs = marks.merge(heard, on="line")
    close = pairs[(pairs["heard_m"] - pairs["mark_m"]).abs() <= SAME_GROUND_M]
    found: list[set[str]] = [set() for _ in range(len(digs))]
    for dig, surface in zip(close["dig"], close["surface"], strict=True):
        found[dig].add(surface)
    return found


def _is_known(code: object) -> bool:
    return isinstance(code, str) and code != "unknown"


def site_cautions(digs: pd.DataFrame) -> Iterator[tuple[int, Reason]]:
    """Yield the cautions that apply at each dig, with its row.

    Parameters
    ----------
    digs : (n,) pandas.DataFrame
        With drawn, air_on, located, and the columns of `site_of`.
    """
    group = digs["material"].map(dict(load_schema("routes").field("material").sound_groups))
    surfaces, hole = digs["surfaces"], digs["drawn"]
    masks: dict[str, pd.Series] = {
        "void_under_pavement": hole & surfaces.map(lambda s: not s.isdisjoint(PAVED)),
        "traffic": hole & surfaces.map(lambda s: not s.isdisjoint(ROADS)),
        "ground_cover_unknown": hole & surfaces.map(lambda s: not s),
        "water_logged": hole,
        "bond_metal": hole & (group == "metal"),
        "asbestos_cement": hole & (digs["material"] == "asbestos_cement"),
        "pipe_material_unknown": hole & (digs["material"] == "unknown"),
        "confined_space": digs["vaults"],
        "hearing": digs["air_on"] | (digs["high_gain"] & ~digs["located"]),
    }
    for code, mask in masks.items():
        yield from ((at, Reason(code)) for at in _rows(mask))


def _rows(mask: pd.Series) -> Iterable[int]:
    rows: list[int] = np.flatnonzero(mask.to_numpy(dtype=bool)).tolist()
    return rows
