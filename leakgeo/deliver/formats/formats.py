"""The layers of a result in other formats, and what each of them loses."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd
import pyogrio
from pyproj import CRS

from leakgeo.deliver.formats import shapes as export_shapes
from leakgeo.deliver.formats.columns import dbf_columns, short_names, times_as_text
from leakgeo.deliver.geopackage.layers import shaped
from leakgeo.deliver.spreadsheets import write_csv
from leakgeo.errors import OutputError, ParameterError
from leakgeo.faults import Fault
from leakgeo.job.schema import load_schemas

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from leakgeo.result import Result

FOLDER = "exported"
LOSES = "what_is_lost.txt"
WGS84 = CRS.from_epsg(4326)
_ALL = ("Styles, what columns mean, codes and metadata are not in it: result.gpkg has them.",)
_WGS84 = "Coordinates are in WGS 84; no shift of datum is told with its accuracy."
_TABLES = "Layers without shapes are CSV files beside it."


@dataclass(frozen=True)
class Format:
    """One format that results can be handed over in.

    Parameters
    ----------
    name, title : str
        Its name in the command, and the one that people know it by.
    write : callable
        Takes the named layers in the output CRS, the result, and a folder; gives what else was
        lost of these layers.
    loses : tuple of str
        What it always loses, as sentences.
    """

    name: str
    title: str
    write: Callable[[Mapping[str, pd.DataFrame], Result, Path], list[str]]
    loses: tuple[str, ...]


def export_formats(result: Result, folder: Path, names: str) -> list[Fault]:
    """Write a result in other formats, each in its own folder of `folder`.

    Parameters
    ----------
    result : Result
    folder : pathlib.Path
        Made where it is missing.
    names : str
        Formats, with commas between; ``all`` for every one.

    Returns
    -------
    list of Fault
        What each format lost, as ``what_is_lost.txt`` in its folder says.

    Raises
    ------
    ParameterError
        If a format is not known.
    OutputError
        If it can't be written.
    """
    faults = []
    layers = dict(_layers(result))
    for wanted in chosen(names):
        path = folder / wanted.name
        try:
            path.mkdir(parents=True)
            lost = [*wanted.loses, *wanted.write(layers, result, path), *_ALL]
            text = "\n".join(f"- {said}" for said in lost)
            head = f"What {wanted.title} loses of run {result.run_id}:"
            (path / LOSES).write_text(f"{head}\n{text}\n", encoding="utf-8")
        except (OSError, RuntimeError) as error:
            raise OutputError(f"{path}: {wanted.title} can't be written ({error}).") from error
        faults.append(Fault(wanted.name, " ".join(lost), "Use result.gpkg where that matters.",
                            effect="noted"))  # fmt: skip
    return faults


def chosen(names: str) -> list[Format]:
    """Give formats by their names, with commas between.

    Raises
    ------
    ParameterError
        If one is not known.

    Examples
    --------
    >>> [f.title for f in chosen("dxf, KML")]
    ['DXF', 'KML']
    """
    asked = [name.strip().lower() for name in names.split(",") if name.strip()]
    if unknown := [name for name in asked if name not in {*FORMATS, "all"}]:
        raise ParameterError(
            f"format: {', '.join(unknown)} is not known; use {', '.join(FORMATS)} or all."
        )
    return [FORMATS[name] for name in (FORMATS if "all" in asked else dict.fromkeys(asked))]


def _layers(result: Result) -> Iterator[tuple[str, pd.DataFrame]]:
    """Give every layer that has rows, typed as in the GeoPackage, in the output CRS."""
    for name, schema in load_schemas("output").items():
        if name in result.layers and len(result.layers[name]):
            yield name, shaped(result.whole(name), schema, result.job.output_crs, result.run_id)


def _put(frame: pd.DataFrame, path: Path, driver: str, **options: object) -> None:
    pyogrio.write_dataframe(frame, path, driver=driver, **options)


def _split(
    layers: Mapping[str, pd.DataFrame], folder: Path
) -> Iterator[tuple[str, gpd.GeoDataFrame]]:
    """Write tables as CSV; give what has shapes, without the rows that have none."""
    for name, frame in layers.items():
        if isinstance(frame, gpd.GeoDataFrame):
            yield name, frame
        else:
            write_csv(frame, folder / f"{name}.csv")


def _geojson(layers: Mapping[str, pd.DataFrame], _: Result, folder: Path) -> list[str]:
    """Write a file a layer by RFC 7946: degrees of WGS 84, outer rings counterclockwise."""
    for name, frame in _split(layers, folder):
        there = times_as_text(frame).to_crs(WGS84)
        _put(there, folder / f"{name}.geojson", "GeoJSON", RFC7946="YES", COORDINATE_PRECISION="8")
    return []


def _kml(layers: Mapping[str, pd.DataFrame], _: Result, folder: Path) -> list[str]:
    lost = []
    for name, frame in _split(layers, folder):
        kept = frame.loc[frame.geometry.notna() & ~frame.geometry.is_empty]
        if len(kept) < len(frame):
            lost.append(f"{name}: {len(frame) - len(kept)} rows without a place are not in it.")
        named = _for_xml(kept.assign(Name=_name_of(name, kept)).to_crs(WGS84))
        path = folder / "result.kml"
        _put(times_as_text(named), path, "KML", layer=name, append=path.exists(),
             **({} if path.exists() else {"dataset_options": {"NameField": "Name"}}))  # fmt: skip
    return lost


def _for_xml(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Leave out what GDAL writes into KML as it is, and XML 1.0 can't hold there.

    It has neither U+FFFE nor U+FFFF, and names of columns stand in attributes. A text with markup
    would stand as markup, which viewers show as such, so its angles are written as quotes.
    """
    texts = frame.select_dtypes(["object", "string"]).columns.difference([frame.geometry.name])
    plain = {c: frame[c].map(_plain_text, na_action="ignore") for c in texts}
    names = {c: _NO_NAME.sub("_", str(c)) for c in frame.columns}
    return frame.assign(**plain).rename(columns=names)


_NO_NAME = re.compile(r"[^\w .-]")
_QUOTES = str.maketrans("<>", "\u2039\u203a")
_NO_TEXT = re.compile("[\ufffe\uffff]")


def _plain_text(value: object) -> object:
    return _NO_TEXT.sub("", value).translate(_QUOTES) if isinstance(value, str) else value


def _name_of(name: str, frame: pd.DataFrame) -> pd.Series:
    """Name each place; a likeliest place must not go by the name of a mark."""
    if "line_id" not in frame:
        return frame.iloc[:, 0].astype("str")
    title = pd.Series(load_schemas()[name].title, index=frame.index)
    if name == "marks":
        title = frame["status"].eq("located").map({True: "Mark", False: "No mark yet"})
    return title.astype("str") + " " + frame["line_id"].fillna("").astype("str")


def _flatgeobuf(layers: Mapping[str, pd.DataFrame], _: Result, folder: Path) -> list[str]:
    lost = []
    for name, frame in _split(layers, folder):
        kept = frame.loc[frame.geometry.notna()]
        if len(kept) < len(frame):
            lost.append(f"{name}: {len(frame) - len(kept)} rows without a place are not in it.")
        _put(kept, folder / f"{name}.fgb", "FlatGeobuf")
    return lost


def _geoparquet(layers: Mapping[str, pd.DataFrame], _: Result, folder: Path) -> list[str]:
    try:
        import pyarrow  # noqa: F401
    except ImportError as error:
        raise ParameterError(
            "format: GeoParquet needs pyarrow, which isn't installed: "
            "pip install 'leakgeo[parquet]'."
        ) from error
    for name, frame in layers.items():
        frame.to_parquet(folder / f"{name}.parquet", index=False)
    return []


def _shapefile(layers: Mapping[str, pd.DataFrame], _: Result, folder: Path) -> list[str]:
    lost, columns = [], []
    for name, frame in layers.items():
        columns += [(name, old, new) for old, new in short_names(_plain_names(frame)).items()]
        narrow, said = dbf_columns(frame)
        lost += [f"{name}: {text}" for text in said]
        kind = {"geometry_type": _shp_type(frame)} if isinstance(frame, gpd.GeoDataFrame) else {}
        path = folder / f"{name}.{'shp' if kind else 'dbf'}"
        _put(narrow, path, "ESRI Shapefile", encoding="UTF-8", **kind)
    table = pd.DataFrame(columns, columns=["layer", "column", "in_shapefile"])
    write_csv(table, folder / "columns.csv")
    return lost


def _plain_names(frame: pd.DataFrame) -> list[str]:
    shapes = getattr(frame, "_geometry_column_name", None)
    return [str(name) for name in frame if name != shapes]


def _shp_type(frame: gpd.GeoDataFrame) -> str:
    kinds = frame.geometry.geom_type.dropna()
    return str(kinds.iloc[0]) if kinds.size else "Point"


def _dxf(layers: Mapping[str, pd.DataFrame], result: Result, folder: Path) -> list[str]:
    """Write one drawing, a layer of it each, in the output CRS, or the job's if that is degrees."""
    crs = result.job.output_crs if result.job.output_crs.is_projected else result.job.crs
    drawing = export_shapes.drawing(dict(_split(layers, folder)), crs)
    _put(drawing, folder / "result.dxf", "DXF")
    unit = crs.axis_info[0].unit_name if crs.axis_info else "unknown"
    (folder / "result.prj").write_text(crs.to_wkt("WKT1_ESRI") + "\n", encoding="utf-8")
    return [f"It knows no CRS: coordinates are {crs.name}, in {unit} (result.prj says so to GIS)."]


FORMATS: Mapping[str, Format] = MappingProxyType({
    f.name: f for f in (
        Format("geojson", "GeoJSON (RFC 7946)", _geojson, (_WGS84, _TABLES, "Times are text.")),
        Format("kml", "KML", _kml, (
            _WGS84, _TABLES, "Times are text; numbers and codes are plain data of each place.",
            "Symbols are the viewer's own: names tell a mark from a place that is no mark yet.")),
        Format("flatgeobuf", "FlatGeobuf", _flatgeobuf,
               (_TABLES, "The order of rows is not kept.")),
        Format("geoparquet", "GeoParquet", _geoparquet, ()),
        Format("shapefile", "Shapefile", _shapefile, (
            "Names of columns are cut to ten characters (columns.csv says which is which).",
            "What is empty can't be told from 0 in some programs.",
            "Times are text; text is cut to 254 bytes, and says so at its end.")),
        Format("dxf", "DXF", _dxf, (
            _TABLES, "Columns are not in it: shapes, and the name of their layer, are all.",
            "Areas are outlines; a mark is a cross, a likeliest place a ring.")),
    )
})  # fmt: skip
