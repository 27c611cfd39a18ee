"""``records.csv``: a row for each record of a dig; a corrected one stays, and says by which."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.deliver.folder.atomic import write_atomic
from leakgeo.deliver.folder.spreadsheets import write_csv
from leakgeo.errors import OutputError

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.deliver.records.facts import DigRecord
    from leakgeo.dig.closed_line import MeterShown

FILE = "records.csv"
COLUMNS = (
    "job", "dig_id", "line_id", "address", "work_order", "time", "crew", "found",
    "leak_chainage_m", "exposed_from_m", "exposed_to_m", "repaired", "cause",
    "meter_before_l_per_day", "meter_after_l_per_day", "mark_chainage_m", "leak_off_mark_m",
    "run_id", "photos", "note", "supersedes", "superseded_by", "page",
)  # fmt: skip


def add_row(record: DigRecord, folder: Path, page: str) -> Path:
    """Add the row of a record to the table of a folder, which is replaced in one operation.

    Parameters
    ----------
    record : DigRecord
        The record that it corrects, if any, gets its name in ``superseded_by``.
    folder : pathlib.Path
        Existing folder.
    page : str
        Name of the file of its page.

    Returns
    -------
    pathlib.Path
        The table.

    Raises
    ------
    OutputError
        If there is a table with other columns, or it can't be written.
    """
    path = folder / FILE
    table = read_table(path)
    corrected = (table["job"] == record.job) & (table["dig_id"] == record.dig["supersedes"])
    table.loc[corrected, "superseded_by"] = record.dig_id
    row = pd.DataFrame([_row(record, page)], columns=list(COLUMNS)).astype(object)
    whole = pd.concat([table, row], ignore_index=True)
    write_atomic(path, lambda draft: write_csv(whole, draft))
    return path


def page_of(folder: Path, job: str, dig_id: object) -> str:
    """Return the name of the file with the page of a record; ``""`` if the table has none."""
    table = read_table(folder / FILE)
    own = table[(table["job"] == job) & (table["dig_id"] == dig_id)]
    return str(own["page"].iloc[-1]) if len(own) else ""


def read_table(path: Path) -> pd.DataFrame:
    """Return the table of records as text; empty if there is none.

    Raises
    ------
    OutputError
        If the file is not a table of records.
    """
    if not path.exists():
        return pd.DataFrame(columns=list(COLUMNS), dtype=object)
    try:
        table = pd.read_csv(path, dtype=str, encoding="utf-8-sig", keep_default_na=False)
    except (OSError, ValueError) as error:
        raise OutputError(f"{path}: it can't be read ({error}). Move it, and try again.") from error
    if list(table.columns) != list(COLUMNS):
        raise OutputError(
            f"{path}: it has other columns than those of records. Move it, or name another folder."
        )
    return table.astype(object)


def _row(record: DigRecord, page: str) -> dict[str, Any]:
    own = {name: record.dig[name] for name in COLUMNS if name in record.dig}
    mark = record.mark
    more = {
        "job": record.job, "address": record.address, "work_order": record.work_order,
        "time": "" if pd.isna(own["time"]) else f"{own['time']:%Y-%m-%dT%H:%M:%SZ}",
        "repaired": "" if pd.isna(own["repaired"]) else str(bool(own["repaired"])).lower(),
        "meter_before_l_per_day": _loss(record.before),
        "meter_after_l_per_day": _loss(record.after),
        "mark_chainage_m": _number(np.nan if mark is None else mark.chainage_m),
        "leak_off_mark_m": _number(record.off_mark_m),
        "run_id": "" if mark is None else mark.run_id,
        "superseded_by": record.superseded_by, "page": page,
        **{name: _number(record.chainage_m(name))
           for name in ("leak_chainage_m", "exposed_from_m", "exposed_to_m")},
    }  # fmt: skip
    return {name: "" if pd.isna(value) else value for name, value in {**own, **more}.items()}


def _loss(shown: MeterShown | None) -> str:
    return "" if shown is None else f"{shown.litres_per_day:.4g}"


def _number(value: float) -> float | str:
    # Not as text: a negative one would be escaped like a formula.
    return round(float(value), 3) if np.isfinite(value) else ""
