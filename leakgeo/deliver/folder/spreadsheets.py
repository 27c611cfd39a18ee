"""summary.csv and faults.csv, written so that spreadsheets read them right and run no formula."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd

from leakgeo.conversion import conversion
from leakgeo.deliver.views.places import FINE, degrees_text, in_degrees
from leakgeo.dig.order import in_dig_order
from leakgeo.faults import faults_table
from leakgeo.job.schema import load_schema
from leakgeo.reason import Reason
from leakgeo.wording import wording
from leakgeo.wording.locales import ENGLISH
from leakgeo.wording.quantities import two_figures

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from leakgeo.result import Result
    from leakgeo.wording import Wording

# Suffix of a column in SI: suffix in US units, unit to convert from, unit to convert to.
US_UNITS: Mapping[str, tuple[str, str, str]] = {
    "_per_m": ("_per_ft", "ft", "m"),
    "_l_per_day": ("_gal_per_day", "l", "gal"),
    "_m2": ("_ft2", "m2", "ft2"),
    "_m": ("_ft", "m", "ft"),
    "_mm": ("_in", "mm", "in"),
    "_kpa": ("_psi", "kpa", "psi"),
}
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
# `in_degrees` has rounded degrees by the error of each mark.
_DECIMALS = {"longitude": FINE, "latitude": FINE}


def summary_table(result: Result, units: str = "si", language: str = ENGLISH) -> pd.DataFrame:
    """Return one row per line: status, mark, zones and holds.

    Parameters
    ----------
    result : Result
    units : {"si", "us"}
        Default SI. US: feet, gallons, inches and psi, with matching suffixes of column names.
    language : str
        Language of the texts that are put together here; default English.

    Returns
    -------
    pandas.DataFrame
        The columns of ``lines``; then longitude and latitude of the mark (WGS84 degrees),
        probability_within_1ft, along_95_m and across_95_m of the mark, the number of marks, those
        after the first as a text (chainage, latitude and longitude), the number of search zones,
        their total zone_length_m and the probability of a leak in them, and the holds of the dig.
        First are the digs that no hold is recorded for, by ``dig_rank``; then the held ones, by
        ``hold_rank``; then all other lines, by ``priority``.
    """
    wanted = list(load_schema("lines").columns)
    lines = pd.DataFrame(result.layers.get("lines", pd.DataFrame(columns=wanted)))
    lines = lines.reindex(columns=[*wanted, *(c for c in lines.columns if c not in wanted)])
    table = in_dig_order(lines).reset_index(drop=True).assign(run_id=result.run_id)
    words = wording(units, language)
    marks = _marks(result, words)
    # The column of the lines is filled by clearance, which may not have run.
    table["probability_within_1ft"] = table["line_id"].map(marks.pop("probability_within_1ft"))
    for more in (marks, _zones(result), _holds(result)):
        table = table.join(more, on="line_id")
    table["holds"] = (
        table["holds"].astype(object).where(table["holds"].notna(), _no_dig(result, words))
    )
    table["zones"] = table["zones"].astype("Int64")
    table["marks"] = table["marks"].astype("Int64")
    return rounded(in_units(table, units))


def _marks(result: Result, words: Wording) -> pd.DataFrame:
    wanted = ["probability_within_1ft", "along_95_m", "across_95_m"]
    marks = result.layers.get("marks")
    if not isinstance(marks, gpd.GeoDataFrame):
        columns = ["longitude", "latitude", *wanted, "marks"]
        return pd.DataFrame(columns=columns, dtype=float).assign(further_marks=None)
    where = in_degrees(marks)[["longitude", "latitude"]]
    table = where.reindex(marks.index).join(pd.DataFrame(marks)).sort_values("rank")
    by_line, several = table.groupby("line_id"), table[table["line_id"].duplicated(keep=False)]
    first = by_line[["longitude", "latitude", *wanted]].first()
    further = {line: _further_marks(own, words) for line, own in several.groupby("line_id")}
    return first.assign(
        marks=by_line.size(), further_marks=pd.Series(further, dtype=object).reindex(first.index)
    )


def _further_marks(own: pd.DataFrame, words: Wording) -> str:
    """Return rank, chainage and place of the marks of a line after the first as a text."""
    texts = (
        Reason(
            "summary_mark", rank=str(row["rank"]), chainage_m=row["chainage_m"],
            place=degrees_text((row["latitude"], row["longitude"]), FINE),
        )
        for row in own[1:].to_dict("records")
    )  # fmt: skip
    return "; ".join(map(words.text, texts))


def _zones(result: Result) -> pd.DataFrame:
    zones = result.layers.get("search_zones")
    if zones is None or "length_m" not in zones:
        return pd.DataFrame(columns=["zones", "zone_length_m", "probability_in_zones"], dtype=float)
    wanted = ["line_id", "length_m", "probability_leak_here"]
    of_line = pd.DataFrame(zones).reindex(columns=wanted).groupby("line_id")
    return pd.DataFrame({
        "zones": of_line.size(), "zone_length_m": of_line["length_m"].sum(),
        "probability_in_zones": of_line["probability_leak_here"].sum(min_count=1),
    })  # fmt: skip


def _no_dig(result: Result, words: Wording) -> str:
    """Return why a line has no dig zone: an empty cell would look like a dig without holds."""
    worked_out = "dig_zones" in result.layers
    return words.term("no_mark" if worked_out else "not_checked", "summary")


def _holds(result: Result) -> pd.DataFrame:
    """Join the holds of each dig into one text; ``""`` for a dig without recorded holds."""
    digs = result.layers.get("dig_zones", pd.DataFrame(columns=["line_id"]))
    holds = result.layers.get("holds", pd.DataFrame(columns=["line_id", "message"]))
    if "mark_rank" in holds:  # what holds every dig of a line is given once
        again = holds.duplicated(["line_id", "message"]) & (holds["mark_rank"] > 1)
        holds = holds[~again]
    texts = holds.groupby("line_id")["message"].agg("; ".join)
    names = pd.Index(digs["line_id"].drop_duplicates())
    return pd.DataFrame({"holds": texts.reindex(names, fill_value="").to_numpy()}, index=names)


def rounded(table: pd.DataFrame) -> pd.DataFrame:
    """Round numbers: losses to two significant figures, others to three decimals.

    Probabilities are kept between 0.001 and 0.999.

    Examples
    --------
    >>> rounded(pd.DataFrame({"leak_probability": [0.9998, 0.5004, 1e-9]})).squeeze().tolist()
    [0.999, 0.5, 0.001]
    """
    floats = [c for c in table.columns if pd.api.types.is_float_dtype(table[c])]
    table = table.round({name: _DECIMALS.get(name, 3) for name in floats})
    odds = [name for name in floats if "probability" in name]
    losses = [name for name in floats if str(name).endswith(("_l_per_day", "_gal_per_day"))]
    return table.assign(
        **{name: table[name].clip(0.001, 0.999) for name in odds},
        **{name: table[name].map(two_figures, "ignore") for name in losses},
    )


def in_units(table: pd.DataFrame, units: str) -> pd.DataFrame:
    """Convert a table to the wanted units; suffixes of column names follow.

    Examples
    --------
    >>> us = in_units(pd.DataFrame({"chainage_m": [3.048], "loss_l_per_day": [3785.411784]}), "us")
    >>> us.round(6).to_dict("list")
    {'chainage_ft': [10.0], 'loss_gal_per_day': [1000.0]}
    """
    if units == "si":
        return table
    out = {}
    for name in table.columns:
        end = next((e for e in US_UNITS if str(name).endswith(e)), None)
        if end is None or not pd.api.types.is_numeric_dtype(table[name]):
            out[name] = table[name]
        else:
            us_end, unit, target = US_UNITS[end]
            out[name.removesuffix(end) + us_end] = table[name] * conversion(unit, target)
    return pd.DataFrame(out, index=table.index)


def faults_list(result: Result, units: str = "si", language: str = "en") -> pd.DataFrame:
    """Return one row per fault of the job and of the steps, in the order found."""
    table = faults_table([*result.job.faults, *result.faults], wording(units, language))
    return table.assign(run_id=result.run_id)


def write_csv(table: pd.DataFrame, path: Path) -> None:
    """Write a table as CSV for spreadsheets and scripts.

    Notes
    -----
    UTF-8 with a byte order mark: without it, a spreadsheet on Windows reads names in the local code
    page; pandas, R and GIS hosts skip it. Lines end in CR LF (RFC 4180).
    """
    # Without a translation of line ends; the encoding writes the mark.
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        file.write(csv_text(table))


def csv_text(table: pd.DataFrame) -> str:
    """Return the text that `write_csv` writes, without the byte order mark."""
    text: str = escape_formulas(table).to_csv(
        index=False, lineterminator="\r\n", date_format="%Y-%m-%dT%H:%M:%S%z"
    )
    return text


def escape_formulas(table: pd.DataFrame) -> pd.DataFrame:
    """Put an apostrophe before texts that a spreadsheet would run as a formula.

    Examples
    --------
    >>> escape_formulas(pd.DataFrame({"a": ["=1+1", "L-1", None], "b": [-1, 0, 1]})).to_dict("list")
    {'a': ["'=1+1", 'L-1', nan], 'b': [-1, 0, 1]}
    """
    texts = table.select_dtypes(["object", "string", "category"]).columns
    changed = {name: table[name].astype(object).map(_escape) for name in texts}
    return table.assign(**changed).rename(columns=_escape)


def _escape(value: object) -> object:
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return f"'{value}"
    return value
