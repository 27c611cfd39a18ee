"""Plan a digging round: the first digs of a result, in the order that a van drives."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import shapely

from leakgeo.deliver.round.streets import read_streets
from leakgeo.deliver.views.locate_request import Tie, ties_text
from leakgeo.deliver.views.places import WGS84, in_degrees
from leakgeo.deliver.views.rows import records
from leakgeo.dig.driving import driving_order, ways
from leakgeo.dig.order import NO_HOLD
from leakgeo.errors import JobError, ParameterError
from leakgeo.job.crs import ground_scale, transformer, units_of
from leakgeo.job.results.earlier import changed_since_run
from leakgeo.job.results.read_back import is_result, result_file
from leakgeo.job.results.stored_record import PREFIX, stored_record
from leakgeo.job.results.which_run import WhichRun, which_run
from leakgeo.job.schema import load_schema
from leakgeo.job.sources import open_source, read_columns
from leakgeo.reason import Reason
from leakgeo.wording import wording
from leakgeo.wording.layers import with_texts

if TYPE_CHECKING:
    from leakgeo.arrays import Floats, Objects
    from leakgeo.dig.driving import Ways
    from leakgeo.faults import Fault
    from leakgeo.job.sources import LayerSource
    from leakgeo.wording import Wording

# What is read of each layer of the result: a few columns, as results may be large.
_LINES = ("line_id", "dig_rank", "hold_rank", "dig_status", "dig_water_l_per_day", "held_by_code",
          "held_by_values", "next_action_code", "next_action_values", "run_id")  # fmt: skip
_READ = {
    "marks": ("line_id", "rank", "chainage_m", "along_95_m", "probability_within_1ft", "status",
              "code", "values", "geometry"),
    "dig_zones": ("line_id", "mark_rank", "dig_status"),
    "cautions": ("line_id", "mark_rank", "order", "code", "values"),
    "conflicts": ("line_id", "mark_rank"),
    "ties": ("line_id", "mark_rank", "order", "fixed_point_code", "fixed_point_values",
             "fixed_kind", "distance_m", "bearing_deg"),
    f"{PREFIX}routes": ("line_id", "address", "work_order"),
}  # fmt: skip
_KEY = ["line_id", "mark_rank"]
# Beyond this a place is far from the streets, which may lack some.
_FAR_M = 50.0
# A start farther from every mark is in another CRS, or has X and Y exchanged.
_FARTHEST_START_M = 200_000.0


class Round(NamedTuple):
    """A digging round.

    Parameters
    ----------
    stops : geopandas.GeoDataFrame
        ``round_stops`` of the contract, in the CRS of the routes; no row where every dig is held.
    legs : geopandas.GeoDataFrame
        ``round_legs``, in the same CRS.
    held : pandas.DataFrame
        ``round_held``: the held digs, which no round has.
    notes : tuple of Reason
        What the order does not know.
    units : {"si", "us"}
    files : tuple of pathlib.Path
        Files written.
    run : WhichRun
        The run of the result.
    faults : tuple of Fault
        Layers that the round is made from and that were changed since the run.
    """

    stops: gpd.GeoDataFrame
    legs: gpd.GeoDataFrame
    held: pd.DataFrame
    notes: tuple[Reason, ...]
    units: str
    files: tuple[Path, ...] = ()
    run: WhichRun = WhichRun()
    faults: tuple[Fault, ...] = ()


def plan_round(
    result: str | Path,
    *,
    top: int = 5,
    start: tuple[float, float] | None = None,
    lonlat: bool = False,
    streets: str | Path | None = None,
    streets_layer: str = "",
    out: str | Path | None = None,
    units: str | None = None,
    language: str = "en",
) -> Round:
    """Put the first digs of a result into an order that a van drives, and write the list.

    Only marks are taken whose dig has no hold on record, by the water that each dig is expected to
    stop. That clears no dig: local law, the one-call centre and licensed people decide. Held digs
    are listed apart, with what to do first to free each.

    Parameters
    ----------
    result : str or pathlib.Path
        Folder of a result, or its ``result.gpkg``.
    top : int
        Number of places; default 5.
    start : (float, float), optional
        Where the van starts, in the CRS of the routes; at the first dig of the ranking if None.
    lonlat : bool
        Whether `start` is longitude and latitude (WGS 84); default False.
    streets : str or pathlib.Path, optional
        File of street lines in any CRS; ways are straight without, and where streets do not
        connect two places. One-way streets, turns and traffic are not considered.
    streets_layer : str
        Layer of that file; by default the only one with lines.
    out : str or pathlib.Path, optional
        Folder to write ``round.csv``, ``round_held.csv`` and ``round.gpkg`` into; those of an
        earlier round are replaced. Nothing is written if None.
    units : {"si", "us"}, optional
        Units of texts and of the columns in the CSV files; by the CRS of the routes if None.
    language : str
        Language of the texts; default English.

    Returns
    -------
    Round
        Stops in order, ways, held digs, and what the order does not know.

    Raises
    ------
    ParameterError
        If there is no such result, it was superseded, or start or streets can't be used.
    OutputError
        If a file can't be written.

    Examples
    --------
    >>> import leakgeo
    >>> leakgeo.plan_round("out", top=8, streets="streets.gpkg", out="out")  # doctest: +SKIP
    """
    path = result_file(result)
    if path is None or not is_result(result):
        raise ParameterError(f"{result}: this is no result. Run the job first, then plan a round "
                             "of the folder that it wrote.")  # fmt: skip
    if top < 1:
        raise ParameterError.of("top", f"{top} is not allowed; give 1 or more.")
    try:
        with open_source(path, in_part=True) as opened:
            lines = read_columns(opened, "lines", _LINES)
            read = {name: read_columns(opened, name, columns) for name, columns in _READ.items()}
            local, run = _local_crs(opened, path), which_run(opened, path.parent)
            faults = changed_since_run(opened, path, ("lines", *_READ))
    except JobError as error:
        raise ParameterError(f"{path}: {error}") from error
    if run.superseded is not None:
        raise ParameterError(f"{path}: {wording('si', language).text(run.superseded.reason)}")
    marks = _placed(read["marks"], path)
    written = pyproj.CRS(marks.crs)
    units = units_of(written, units)
    words = wording(units, language)
    chosen = _chosen(lines, marks, read["dig_zones"], top)
    begin = None if start is None else _start(start, WGS84 if lonlat else written, local, marks)
    drawn = None if streets is None else read_streets(Path(streets), streets_layer, local)
    stops, legs, far = _driven(chosen.to_crs(local), begin, drawn)
    stops = _described(stops.to_crs(written), read, words)
    found = Round(
        gpd.GeoDataFrame(_as_declared(stops, "round_stops", words)),
        gpd.GeoDataFrame(_as_declared(legs.to_crs(written), "round_legs", words)),
        _as_declared(_held(lines), "round_held", words),
        _notes(stops, lines, top, begin is not None, drawn is not None, far), units, run=run,
        faults=faults,
    )  # fmt: skip
    if out is None:
        return found
    from leakgeo.deliver.round.write import write_round

    return found._replace(files=tuple(write_round(found, Path(out))))


def _local_crs(opened: LayerSource, path: Path) -> pyproj.CRS:
    """Return the metre CRS that the result was computed in."""
    try:
        return pyproj.CRS.from_wkt(str(stored_record(opened).get("computed_in")))
    except pyproj.exceptions.CRSError:
        raise ParameterError(f"{path}: it is of an earlier version; run the job again.") from None


def _placed(marks: pd.DataFrame, path: Path) -> gpd.GeoDataFrame:
    """Return the marks that are on the ground."""
    if not isinstance(marks, gpd.GeoDataFrame) or marks.crs is None:
        raise ParameterError(f"{path}: it has no mark that is placed on the ground, so there is no "
                             "round to drive.")  # fmt: skip
    return marks[marks.geometry.notna() & ~marks.geometry.is_empty]


def _chosen(
    lines: pd.DataFrame, marks: gpd.GeoDataFrame, zones: pd.DataFrame, top: int
) -> gpd.GeoDataFrame:
    """Return the first marks by rank whose line and whose own dig have no hold on record."""
    free = lines[lines["dig_rank"].notna() & lines["dig_status"].eq(NO_HOLD)]
    own = zones.loc[zones["dig_status"].eq(NO_HOLD), _KEY]
    ranked = marks[marks["status"] == "located"].rename(columns={"rank": "mark_rank"})
    wanted = ["line_id", "dig_rank", "dig_status", "dig_water_l_per_day", "run_id"]
    found = ranked.merge(own, on=_KEY).merge(free[wanted], on="line_id")
    return gpd.GeoDataFrame(found.sort_values(["dig_rank", "mark_rank"]).head(top))


def _start(
    start: tuple[float, float], crs: pyproj.CRS, local: pyproj.CRS, marks: gpd.GeoDataFrame
) -> Floats:
    """Return the start in the local CRS, if a van may drive from there to the marks."""
    place = np.array(transformer(crs, local).transform(*start), dtype=float)
    away = np.abs(place - shapely.get_coordinates(marks.to_crs(local).geometry.to_numpy()))
    if not (away.size and away.max(axis=1).min() <= _FARTHEST_START_M):
        given = " ".join(f"{value:g}" for value in start)
        raise ParameterError.of(
            "start", f"{given} is farther than {_FARTHEST_START_M / 1000:.0f} km from every mark. "
            "Give X Y in the CRS of the routes, or longitude and latitude with lonlat."
        )  # fmt: skip
    return place


def _driven(
    chosen: gpd.GeoDataFrame, begin: Floats | None, streets: Objects | None
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame, int]:
    """Return the stops in the order of the van, the ways to them, and how many are off streets."""
    places = shapely.get_coordinates(chosen.geometry.to_numpy())
    ahead = 0 if begin is None else 1
    if begin is not None:
        places = np.vstack([begin[None], places])
    if not len(chosen):
        empty = gpd.GeoDataFrame({"sequence": []}, geometry=[], crs=chosen.crs)
        return chosen.assign(sequence=0, leg_m=np.nan, driven_m=np.nan), empty, 0
    found = ways(places, streets)
    order = driving_order(found.length_m)
    scale = float(
        ground_scale(pyproj.CRS(chosen.crs), places[:, :1].mean(0), places[:, 1:].mean(0))[0]
    )
    pairs = list(zip([None, *order[:-1]], order, strict=True))[ahead:]
    stops = chosen.iloc[[k - ahead for k in order[ahead:]]].assign(
        sequence=range(1, len(chosen) + 1),
        leg_m=[0.0 if a is None else found.length_m[a, b] / scale for a, b in pairs],
        leg_by=pd.array([None if a is None else _by(found, a, b) for a, b in pairs], dtype=object),
        off_street_m=found.off_street_m[order[ahead:]] / scale,
    )
    stops["driven_m"] = stops["leg_m"].cumsum()
    legs = stops.loc[[a is not None for a, _ in pairs],
                     ["sequence", "line_id", "leg_m", "leg_by", "run_id"]]  # fmt: skip
    lines = [found.line(a, b) for a, b in pairs if a is not None]
    drawn = gpd.GeoDataFrame(pd.DataFrame(legs), geometry=lines, crs=chosen.crs)
    return stops, drawn, int((stops["off_street_m"] > _FAR_M).sum())


def _by(found: Ways, one: int, other: int) -> str:
    return "streets" if found.along_streets[one, other] else "straight"


def _described(
    stops: gpd.GeoDataFrame, read: dict[str, pd.DataFrame], words: Wording
) -> gpd.GeoDataFrame:
    """Add to each stop what is written about its dig: address, ties, cautions, conflicts."""
    keys = pd.MultiIndex.from_frame(stops[_KEY])
    own = {
        name: table[pd.MultiIndex.from_frame(table[_KEY]).isin(keys)]
        for name, table in read.items() if "mark_rank" in table
    }  # fmt: skip
    cautions = with_texts(own["cautions"].sort_values("order"), words).groupby(_KEY)["message"]
    in_turn = with_texts(own["ties"].sort_values("order"), words).groupby(_KEY)
    ties = {key: ties_text(map(_tie, records(rows)), words) for key, rows in in_turn}
    degrees = in_degrees(stops).reindex(stops.index)
    return gpd.GeoDataFrame(
        stops.assign(
            cautions=cautions.agg("; ".join).reindex(keys).to_numpy(),
            ties=pd.Series(ties, dtype=object).reindex(keys).to_numpy(),
            conflicts=own["conflicts"].groupby(_KEY).size().reindex(keys, fill_value=0).to_numpy(),
            longitude_deg=degrees["longitude"], latitude_deg=degrees["latitude"],
        ).merge(read[f"{PREFIX}routes"].drop_duplicates("line_id"), "left", "line_id")
    )  # fmt: skip


def _tie(row: dict[str, object]) -> Tie:
    return Tie(str(row["fixed_point"]), row["fixed_kind"] == "route",
               float(str(row["distance_m"])), float(str(row["bearing_deg"])))  # fmt: skip


def _held(lines: pd.DataFrame) -> pd.DataFrame:
    held = lines[lines["hold_rank"].notna()].sort_values("hold_rank")
    return held.drop(columns=["dig_rank", "dig_status"])


def _as_declared(table: pd.DataFrame, name: str, words: Wording) -> pd.DataFrame:
    """Return a table with its texts and the columns of the contract, in their order."""
    shown = with_texts(table, words)
    columns = list(load_schema(name).columns)
    shapes = ["geometry"] if isinstance(shown, gpd.GeoDataFrame) else []
    return shown.reindex(columns=[*columns, *shapes]).reset_index(drop=True)


def _notes(
    stops: pd.DataFrame, lines: pd.DataFrame, top: int, has_start: bool, has_streets: bool, far: int
) -> tuple[Reason, ...]:
    """Return what limits the round."""
    notes = []
    if len(stops) < top:
        held = int(lines["hold_rank"].notna().sum())
        notes.append(Reason("round_fewer", stops=len(stops), top=top, held=held))
    if not has_start and len(stops) > 1:
        notes.append(Reason("round_no_start", line=str(stops["line_id"].iloc[0])))
    if not has_streets and len(stops) > 1:
        notes.append(Reason("round_no_streets"))
    if has_streets:
        straight = stops["leg_by"].eq("straight") if "leg_by" in stops else pd.Series(dtype=bool)
        if straight.any():
            names = ", ".join(stops.loc[straight, "line_id"].astype(str))
            notes.append(Reason("round_straight", legs=int(straight.sum()), lines=names))
        if far:
            notes.append(Reason("round_far", stops=far, far_m=_FAR_M))
        notes.append(Reason("round_streets_assumed"))
    return tuple(notes)
