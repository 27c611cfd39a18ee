"""Write a large result into a database part by part, each part in a transaction of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from leakgeo.arrays import texts
from leakgeo.checkpoint import checkpoint
from leakgeo.deliver.geopackage.typed import to_schema
from leakgeo.deliver.postgis.tables import TargetSchema, columns_of, extend, find_srid
from leakgeo.deliver.postgis.upsert import (
    delete_lines,
    delete_of_no_line,
    delete_old_runs,
    delete_other_runs,
    rank_lines,
)
from leakgeo.deliver.postgis.write import copy_rows, of_run, run_tables, transaction, write_lines
from leakgeo.job.guards import gdal
from leakgeo.job.results.stored_record import PREFIX
from leakgeo.job.schema import load_schemas

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from leakgeo.deliver.postgis.write import Frames
    from leakgeo.result import Result


@dataclass(frozen=True)
class PartsTarget:
    """A schema that a result is written into part by part.

    Parameters
    ----------
    url, schema : str
    upsert : bool
        Whether rows of lines that are not in the job stay.
    units : {"si", "us"}
    language : str
    """

    url: str
    schema: str
    upsert: bool
    units: str
    language: str

    def write(self, parts: Iterable[Path], top: Result, layers: Mapping[str, pd.DataFrame]) -> None:
        """Write the parts; then what is of all lines, the ranks, and last the record of the run.

        A writing that was broken off is done again from the first part on, with the same result.

        Parameters
        ----------
        parts : iterable of pathlib.Path
            GeoPackages of the parts, with the lines of each and their layers.
        top : Result
            Of the whole job, with the first lines and all layers, also those without rows.
        layers : mapping of str to pandas.DataFrame
            Layers of the whole job that are in no part, with texts.
        """
        with transaction(self.url, self.schema) as connection:
            target = TargetSchema.find(connection, self.schema)
            target.create()
            target.lock()
            srid = find_srid(target, top.job.output_crs)
            if "lines" in target.own_tables:
                delete_of_no_line(target, top.run_id)
        for path in parts:
            checkpoint()
            self._write_part(path, top, srid)
        self._finish(top, layers, srid)

    def _write_part(self, path: Path, top: Result, srid: int) -> None:
        frames = _frames_of(path, top)
        lines = (
            [str(name) for name in texts(frames["lines"][0], "line_id")]
            if "lines" in frames
            else []
        )
        with transaction(self.url, self.schema) as connection:
            target = TargetSchema.find(connection, self.schema)
            target.lock()
            write_lines(target, frames, lines, (), srid, top.run_id)

    def _finish(self, top: Result, layers: Mapping[str, pd.DataFrame], srid: int) -> None:
        """Write what is no part, rank all lines, and delete what is left of other runs."""
        schemas, crs = load_schemas("output"), top.job.output_crs
        own: Frames = {
            name: (of_run(to_schema(f, schemas.get(name), crs, top.run_id), top.run_id),
                   schemas.get(name))
            for name, f in layers.items()
        }  # fmt: skip
        empty: Frames = {
            name: (of_run(to_schema(f.iloc[:0], schemas.get(name), crs, top.run_id), top.run_id),
                   schemas.get(name))
            for name, f in top.layers.items() if name not in own
        }  # fmt: skip
        own |= run_tables(top, self.units, self.language)
        names = [str(name) for name in texts(top.job.routes, "line_id") if name is not None]
        with transaction(self.url, self.schema) as connection:
            target = TargetSchema.find(connection, self.schema)
            target.lock()
            for name, (frame, layer) in {**empty, **own}.items():
                if name in own or name not in target.tables:
                    extend(target, name, columns_of(frame, layer, srid), layer)
            target = TargetSchema.find(connection, self.schema)
            if self.upsert:
                delete_old_runs(target)
            else:
                delete_other_runs(target, top.run_id)
            delete_lines(target, names, only=own)
            delete_of_no_line(target, top.run_id, only=own)
            rank_lines(target)
            for name, (frame, _) in own.items():  # the record of the run is the last
                copy_rows(target, name, frame, srid)


def _frames_of(path: Path, top: Result) -> Frames:
    """Read the layers of a part as tables."""
    schemas, crs, run_id = load_schemas("output"), top.job.output_crs, top.run_id
    frames: Frames = {}
    for name in _layers_of(path):
        table = gdal.read_table(path, name)
        frame = to_schema(table, schemas.get(name), crs, run_id)
        frames[name] = of_run(frame, run_id), schemas.get(name)
    return frames


def _layers_of(path: Path) -> Sequence[str]:
    return [name for name in gdal.layer_names(path) if not name.startswith(PREFIX)]
