"""The GeoPackage of an update: a copy of the earlier one, with only the changed rows written."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.checkpoint import checkpoint
from leakgeo.deliver.geopackage.layer_styles import add_styles
from leakgeo.deliver.geopackage.metadata import describe_geopackage
from leakgeo.deliver.geopackage.patch import NotPatchable, TablePatch, copied
from leakgeo.deliver.geopackage.row_changes import RowChanges
from leakgeo.deliver.geopackage.rows import OVER_ALL
from leakgeo.deliver.geopackage.written import Written, made_with
from leakgeo.job.digest import LayerDigest, column_types
from leakgeo.job.results.stored_record import RUN_RECORD

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd

    from leakgeo.deliver.geopackage.rows import LayerRows
    from leakgeo.result import Result


def updated_geopackage(
    result: Result, layers: Mapping[str, LayerRows], record: pd.DataFrame, old: Path, path: Path
) -> Written | None:
    """Write the GeoPackage of a result from that of an earlier run.

    Parameters
    ----------
    result : Result
    layers : mapping of str to LayerRows
        Those with rows, as `leakgeo.deliver.geopackage.rows.layer_rows` returns them.
    record : pandas.DataFrame
        Table of one row that `run_record_table` there returns.
    old, path : pathlib.Path
        The earlier file, and the one to write.

    Returns
    -------
    Written or None
        None if nothing is kept of the earlier file, or its tables differ, as those of layers that
        have rows only before or only now; nothing is left then.
    """
    before = Written.of(result, old)
    made = made_with(layers)
    if before is None or before.made_with != made or [*before.keys] != [*layers]:
        return None
    try:
        with copied(old, path) as base:
            after = Written(made_with=made)
            for rows in layers.values():
                checkpoint()
                _update(base, rows, before, after)
            base.execute(f"UPDATE {RUN_RECORD} SET record = ?", (record["record"].iloc[0],))
            add_styles(base, result, layers)
            describe_geopackage(base, result, list(layers))
    except (NotPatchable, sqlite3.Error):
        path.unlink(missing_ok=True)
        return None
    return after


def _update(base: sqlite3.Connection, rows: LayerRows, before: Written, after: Written) -> None:
    """Write the rows of one layer that changed, and note the keys and sums of all of them."""
    name, digest = rows.name, LayerDigest(column_types(rows.schema))
    keys, lines = Written.keys_of(rows)
    changes = RowChanges.of(before.keys[name], keys)
    numbers = rows.numbers(lines)
    patch = TablePatch(base, name, changes, before.numbers[name], numbers)
    over_all, run_id = rows.over_all(), rows.run_id()
    sums = np.zeros(len(keys), dtype=np.uint64)
    stays = changes.place >= 0
    sums[stays] = before.sums[name][changes.place[stays]]
    if not changes.none or len(numbers) != len(before.numbers[name]) or (
        numbers != before.numbers[name]
    ).any():  # fmt: skip
        typed = rows.at(changes.new, lines)
        if rows.streamed is None:
            patch.check_types(rows.layer, rows.kinds)
        plain = typed.drop(columns=[n for n in OVER_ALL if n in typed])
        sums[changes.new] = digest.rows(plain)
        patch.apply(typed)
    patch.set_over_all(over_all)
    patch.set_of_run(run_id)
    whole = sums + digest.rows(run_id)
    if not over_all.empty:
        whole = whole + digest.rows(over_all)
    if len(whole):
        digest.add_rows(whole)
    after.note(name, keys, sums, numbers, digest.value)
