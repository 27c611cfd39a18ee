"""KML: one file with a readable name for each placemark."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pandas as pd
import pyogrio

from leakgeo.deliver.formats.columns import times_as_text
from leakgeo.deliver.formats.format import (
    IN_WGS84,
    TABLES_BESIDE,
    WGS84,
    Format,
    with_places,
    with_shapes,
)
from leakgeo.job.schema import load_schemas

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import geopandas as gpd

    from leakgeo.result import Result


def _write(layers: Mapping[str, pd.DataFrame], _: Result, folder: Path) -> list[str]:
    path, lost = folder / "result.kml", []
    for name, frame in with_shapes(layers, folder):
        kept, left_out = with_places(name, frame)
        lost += left_out
        named = _for_xml(kept.assign(Name=_name_of(name, kept)).to_crs(WGS84))
        new = {} if path.exists() else {"dataset_options": {"NameField": "Name"}}
        pyogrio.write_dataframe(times_as_text(named), path, driver="KML", layer=name,
                                append=path.exists(), **new)  # fmt: skip
    return lost


def _for_xml(frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Remove what GDAL writes unescaped into KML although XML 1.0 does not allow it.

    These are U+FFFE and U+FFFF, and most characters in names of columns, which become attributes.
    Viewers would render a text with markup, so its angle brackets are replaced by quotes.
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
    """Return a name for each placemark; a likeliest place must not be called a mark."""
    if "line_id" not in frame:
        return frame.iloc[:, 0].astype("str")
    title = pd.Series(load_schemas()[name].title, index=frame.index)
    if name == "marks":
        title = frame["status"].eq("located").map({True: "Mark", False: "No mark yet"})
    named = title.astype("str") + " " + frame["line_id"].fillna("").astype("str")
    rank = frame.get("rank" if name == "marks" else "mark_rank")
    if rank is None:
        return named
    several = frame["line_id"].isin(frame["line_id"][rank > 1])
    return named.where(~several, named + ", mark " + rank.astype("str"))


FORMAT = Format("KML", _write, (
    IN_WGS84, TABLES_BESIDE, "Times are text; numbers and codes are plain data of each place.",
    "Symbols are the viewer's own: names show whether a place is a mark yet.",
))  # fmt: skip
