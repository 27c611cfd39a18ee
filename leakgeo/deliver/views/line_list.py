"""The lines of a written result as a list in the order of the digs."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import geopandas as gpd

from leakgeo.deliver.views.rows import number, records, text
from leakgeo.dig.order import HOLD
from leakgeo.errors import JobError, ParameterError
from leakgeo.job.checks import mostly_in_feet
from leakgeo.job.crs import units_of
from leakgeo.job.results.earlier import changed_since_run
from leakgeo.job.results.read_back import is_result, result_file, stored_crs
from leakgeo.job.results.stored_record import PREFIX, stored_record
from leakgeo.job.results.which_run import which_run
from leakgeo.job.sources import open_source, read_columns
from leakgeo.reason import Reason
from leakgeo.selection import lines_near
from leakgeo.wording.layers import with_texts

if TYPE_CHECKING:
    import pandas as pd

    from leakgeo.faults import Fault
    from leakgeo.job.results.which_run import WhichRun
    from leakgeo.job.sources import LayerSource
    from leakgeo.selection import Selection
    from leakgeo.wording import Wording

#: Columns of ``lines`` that the list reads.
COLUMNS = (
    "line_id", "status", "dig_status", "dig_rank", "hold_rank", "priority", "leak_probability",
    "chainage_m", "probability_within_1ft", "hole_probability", "loss_l_per_day",
    "expected_loss_l_per_day", "expected_loss_from", "dig_water_l_per_day", "held_by_code",
    "held_by_values", "next_action_code", "next_action_values",
)  # fmt: skip
_OF_MARKS = ("line_id", "rank", "from_fitting_code", "from_fitting_values", "from_fitting_m")
_TAPES = {"readings": ("tape", "tape_unit"), "contacts": ("tape_from_previous", "tape_unit")}


class LineList(NamedTuple):
    """Lines in the order of the digs.

    Parameters
    ----------
    rows : pandas.DataFrame
        `COLUMNS` of ``lines`` without texts, and code and values of ``from_fitting``, and
        ``from_fitting_m``, of the first mark.
    units : {"si", "us"}
        Of the job.
    run : WhichRun
        The run of the result.
    faults : tuple of Fault
        Layers of the list that were changed since the run.
    """

    rows: pd.DataFrame
    units: str
    run: WhichRun
    faults: tuple[Fault, ...] = ()


def list_of(source: str | Path, selection: Selection, *, held: bool = False) -> LineList:
    """Read the lines of a written result, and sort them by the order of the digs.

    Parameters
    ----------
    source : str or pathlib.Path
        Folder of the result, or its ``result.gpkg``.
    selection : Selection
    held : bool
        Only located lines whose dig is held, instead of a status; default False.

    Raises
    ------
    ParameterError
        If the source is no result, or no line is selected.
    """
    path = result_file(source)
    if path is None or not is_result(source):
        # A name that is no file is where a result was looked for, not the job.
        job = Path(source).name if Path(source).is_file() else "JOB"
        raise ParameterError(
            f"{source}: this is no result. The list is of a result: run the job first (leakgeo run "
            f"{job} --out OUT), then list OUT."
        )
    try:
        with open_source(path, in_part=True) as opened:
            lines = read_columns(opened, "lines", COLUMNS)
            marks = read_columns(opened, "marks", _OF_MARKS)
            units, run = _units(opened), which_run(opened, path.parent)
            faults = changed_since_run(opened, path, ("lines", "marks"))
            near = _lines_near(opened, selection.near, units) if selection.near else None
    except JobError as error:
        raise ParameterError(f"{path}: {error}") from error
    if held:
        selection = replace(selection, status=HOLD)
    none_held = held and lines["hold_rank"].isna().all()
    names = [] if none_held else selection.names(lines, near)
    first = marks[marks["rank"] == 1].drop(columns="rank")
    rows = lines.set_index("line_id").loc[names].reset_index().merge(first, "left", "line_id")
    return LineList(rows, units, run, faults)


def _units(opened: LayerSource) -> str:
    """Return the units of the job, as `leakgeo.job.model.Job.units`."""
    crs = stored_crs(stored_record(opened).get("written_in"))
    if crs is None or not crs.is_geographic:
        return units_of(crs)
    tapes = {n: read_columns(opened, PREFIX + n, columns) for n, columns in _TAPES.items()}
    return "us" if mostly_in_feet(tapes) else units_of(crs)


def _lines_near(opened: LayerSource, near: str, units: str) -> list[str]:
    """Return the lines near a place, by the routes in the result."""
    record = stored_record(opened)
    routes = read_columns(opened, f"{PREFIX}routes", ("line_id", "geometry"))
    written, computed = (stored_crs(record.get(key)) for key in ("written_in", "computed_in"))
    if written is None or computed is None or not isinstance(routes, gpd.GeoDataFrame):
        raise ParameterError.of("near", "the result has no routes on the ground.")
    return lines_near(routes.to_crs(computed), near, written, units)


def shown_rows(
    found: LineList, words: Wording, *, held: bool = False
) -> tuple[list[str], list[list[str]]]:
    """Return heads and rows of the list as texts.

    Parameters
    ----------
    found : LineList
    words : Wording
        Units and language of the texts.
    held : bool
        Say what to do first about each held dig; default False.
    """
    heads = [words.term(code, "list") for code in ("rank", "line", "status", "mark", "odds")]
    heads += [words.text(Reason("list_water", units=words.units)), words.term("holds", "list")]
    rows = records(with_texts(found.rows, words))
    return heads, [_row(row, words, held=held) for row in rows]


def _row(row: dict[str, Any], words: Wording, *, held: bool) -> list[str]:
    near = number(row, "probability_within_1ft")
    odds = "" if near is None else words.quantities.percent(near)
    return [
        _rank(row, words), text(row, "line_id"), words.term(text(row, "status"), "status"),
        _mark(row, words), odds, _water(row, words),
        _holds(row, words, held=held),
    ]  # fmt: skip


def _rank(row: dict[str, Any], words: Wording) -> str:
    dig, hold = number(row, "dig_rank"), number(row, "hold_rank")
    if dig is not None:
        return f"{dig:.0f}"
    return "-" if hold is None else words.text(Reason("list_held", rank=f"{hold:.0f}"))


def _mark(row: dict[str, Any], words: Wording) -> str:
    fitting, by_m, along_m = (
        text(row, "from_fitting"), number(row, "from_fitting_m"), number(row, "chainage_m")
    )  # fmt: skip
    if along_m is None:
        return ""
    if fitting and by_m is not None:
        return words.text(Reason("list_from_fitting", by_m=by_m, fitting=fitting))
    return words.text(Reason("list_from_start", by_m=along_m))


def _water(row: dict[str, Any], words: Wording) -> str:
    water, origin = number(row, "dig_water_l_per_day"), text(row, "expected_loss_from")
    if water is None:
        return ""
    shown = words.quantities.volume(water)
    return shown if origin == "meter" else f"{shown} ({words.term(origin, 'list')})"


def _holds(row: dict[str, Any], words: Wording, *, held: bool) -> str:
    if number(row, "dig_rank") is not None:
        return words.term("no_hold", "dig_text")
    if number(row, "hold_rank") is None:
        return ""
    frees = text(row, "next_action") if held else ""
    parts = [text(row, "held_by"), f"{words.term('next', 'card')}: {frees}" if frees else ""]
    return ". ".join(part for part in parts if part)
