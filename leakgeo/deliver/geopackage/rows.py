"""The layers of a result as they are written into a GeoPackage: worded, typed, projected."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.deliver.folder.record import plain
from leakgeo.deliver.geopackage.order import in_order
from leakgeo.deliver.geopackage.typed import as_type, to_schema, type_of
from leakgeo.dig.order import ORDER
from leakgeo.job.placed import on_the_ground
from leakgeo.job.results.read_back import job_record
from leakgeo.job.results.stored_record import PREFIX
from leakgeo.job.schema import load_schemas
from leakgeo.wording.layers import texts_of, with_texts

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from leakgeo.arrays import Ints, Objects
    from leakgeo.job.schema import LayerSchema
    from leakgeo.result import Result
    from leakgeo.wording import Wording

#: Columns with one value for the whole result, or numbers over all lines.
OVER_ALL = ("run_id", "priority", *ORDER, "walk")
#: Layers of so many rows that those of a line have numbers of their own: after the rows of one line
#: have changed, the others keep theirs.
NUMBERED_BY_LINE = ("profile",)
#: Rows that a line may have then.
OF_LINE = 100_000
# Types of the contract by kinds of arrays; all others are texts.
_CONTRACT_TYPES = {"f": "number", "i": "integer", "b": "boolean", "M": "datetime"}


@dataclass(frozen=True, eq=False)
class LayerRows:
    """One layer, by the rows.

    Parameters
    ----------
    result : Result
    name : str
        In the file.
    schema : LayerSchema or None
    layer : pandas.DataFrame
        As computed; of a streamed layer the part that is held in memory.
    of_job : bool
        Whether it is a layer of the job.
    words : Wording or None
        Writes the text columns, if the layer does not have them.
    """

    result: Result
    name: str
    schema: LayerSchema | None
    layer: pd.DataFrame
    of_job: bool
    words: Wording | None

    @property
    def title(self) -> str:
        """Title of the layer in a GIS."""
        if self.schema is None:
            return self.name.replace("_", " ").capitalize()
        return f"{self.schema.title}, as used" if self.of_job else self.schema.title

    @property
    def description(self) -> str:
        """Description of the layer in a GIS."""
        if self.schema is None:
            return "A layer of the user's own."
        more = " As the run has read it; `reason` says why a row was not used."
        return self.schema.description + (more if self.of_job else "")

    @property
    def streamed(self) -> Any:
        """What gives the rows of a streamed layer; None for others."""
        return None if self.of_job else self.result.streamed.get(self.name)

    @property
    def is_empty(self) -> bool:
        """Whether it has no row."""
        # Of a streamed layer some lines are in memory.
        return not len(self.layer) and not any(map(len, self.streamed() if self.streamed else ()))

    def more_columns(self) -> dict[str, str]:
        """Return the columns that the schema lacks, with types as in the contract."""
        if self.has_only_columns_of_the_schema:  # as most have: typing takes time
            return {}
        typed = self.typed(self.layer)
        names = [name for name in typed if name not in (*self.kinds, "geometry")]
        return {str(name): _CONTRACT_TYPES.get(typed[name].dtype.kind, "string") for name in names}

    @property
    def has_only_columns_of_the_schema(self) -> bool:
        """Whether `typed` adds no column to those of the schema."""
        return {*self.layer.columns, *texts_of(self.layer)} <= {*self.kinds, "geometry"}

    @property
    def kinds(self) -> dict[str, str]:
        """Type of each column of the schema."""
        return {} if self.schema is None else {f.name: type_of(f) for f in self.schema.fields}

    def parts(self) -> Iterator[pd.DataFrame]:
        """Iterate over all rows, typed, in one or several parts."""
        parts = iter([self.layer]) if self.streamed is None else self.streamed()
        return (self.typed(part) for part in parts)

    def typed(self, rows: pd.DataFrame) -> pd.DataFrame:
        """Return some rows with their texts, typed and in the output CRS."""
        # A streamed layer has no texts before its rows are read.
        wordless = self.streamed is not None or not self.result.has_texts
        if self.words is not None and not self.of_job and wordless:
            rows = with_texts(rows, self.words)
        run_id = "" if self.of_job else self.result.run_id
        return to_schema(rows, self.schema, self.result.job.output_crs, run_id)

    @cached_property
    def is_numbered(self) -> bool:
        """Whether the rows have numbers by line; else they count from 1."""
        if self.name not in NUMBERED_BY_LINE or self.of_job or "line_id" not in self.layer:
            return False
        if self.streamed is not None:
            return max(self.streamed.counts().values(), default=0) < OF_LINE
        place = self._places(texts(self.layer, "line_id"))
        in_order = (np.diff(place) >= 0).all() and (place >= 0).all()
        return bool(in_order and np.bincount(place).max(initial=0) < OF_LINE)

    def numbers(self, names: Objects) -> Ints:
        """Return the number of each row, ascending.

        Parameters
        ----------
        names : ndarray of str, shape (n,)
            ``line_id`` of all rows of some lines, if they are numbered by line; else of all rows.
        """
        if not self.is_numbered:
            return np.arange(1, len(names) + 1)
        place = self._places(names)
        turn = pd.Series(place).groupby(place).cumcount().to_numpy()
        return np.asarray(place * OF_LINE + turn + 1)

    def _places(self, names: Objects) -> Ints:
        """Return the place of each line among the routes; -1 for none."""
        routes = pd.unique(texts(self.result.job.routes, "line_id").astype(str))
        line, distinct = pd.factorize(names)
        place = pd.Index(routes).get_indexer(distinct.astype(str))
        return np.append(place, -1)[line]

    def at(self, rows: Ints, names: np.ndarray[Any, Any]) -> pd.DataFrame:
        """Return rows by their place, typed.

        Parameters
        ----------
        rows : ndarray of int, shape (n,)
            Ascending.
        names : ndarray of str
            ``line_id`` of all rows of a streamed layer; not used for others.
        """
        if self.streamed is None:
            return self.typed(self.layer.iloc[rows])
        line, distinct = pd.factorize(names)
        chosen = np.unique(line[rows])
        lines, own = distinct[chosen], np.flatnonzero(np.isin(line, chosen))
        return self.typed(self.streamed.of_lines(lines).iloc[np.searchsorted(own, rows)])

    def over_all(self) -> pd.DataFrame:
        """Return the typed columns with numbers over all lines, of all rows; none if streamed."""
        if self.streamed is not None:
            return pd.DataFrame()
        columns = {n: as_type(self.layer[n].reset_index(drop=True), self.kinds.get(n))
                   for n in OVER_ALL if n in self.layer}  # fmt: skip
        return pd.DataFrame(columns, index=range(len(self.layer)))

    def run_id(self) -> pd.DataFrame:
        """Return the run id that all rows have, typed, in a row; no column if they have none."""
        ours = self.schema is not None and "run_id" in self.schema.columns
        if self.of_job or not ours or self.streamed is not None:
            return pd.DataFrame(index=[0])
        column = pd.Series([self.result.run_id], dtype=object)
        return pd.DataFrame({"run_id": as_type(column, self.kinds["run_id"])})


def layer_rows(result: Result, words: Wording | None) -> dict[str, LayerRows]:
    """Return the layers of a result, then those of its job, in the order of the file."""
    schemas, inputs = load_schemas("output"), load_schemas("input")
    names = [n for n in schemas if n in result.layers]
    names += [n for n in result.layers if n not in schemas]
    found = {
        name: LayerRows(result, name, schemas.get(name), result.layers[name], False, words)
        for name in in_order(names)
    }
    job = replace(on_the_ground(result).job, shown_in=None)
    for name, layer in job.items() if names else ():
        name = PREFIX + str(name)  # noqa: PLW2901
        found[name] = LayerRows(result, name, inputs[name.removeprefix(PREFIX)], layer, True, words)
    return found


def run_record_table(result: Result, empty: Iterable[LayerRows]) -> pd.DataFrame:
    """Return the record that `read_result` needs, as a table of one row.

    Parameters
    ----------
    result : Result
    empty : iterable of LayerRows
        Layers without rows, which the file lacks.
    """
    without_rows = {rows.name: rows.more_columns() for rows in empty}
    record = json.dumps(plain(job_record(on_the_ground(result), without_rows)))
    return pd.DataFrame({"record": [record]})
