"""Rows of the large layers on disk, by the district that reads them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa

from leakgeo.job.source_layers import ROW

if TYPE_CHECKING:
    from pathlib import Path

    from leakgeo.arrays import Bools, Ints

# Rows are written when they take more memory than this.
_MOST_BYTES = 96 * 2**20


@dataclass(eq=False)
class Spool:
    """Rows of layers, sorted into districts; the rows of a district keep their order.

    Parameters
    ----------
    folder : pathlib.Path
        Existing folder, for the files.
    """

    folder: Path
    _parts: dict[tuple[int, int], list[pa.Table]] = field(default_factory=dict)
    _bytes: int = 0

    def add(
        self, layer: int, rows: pa.Table, row: Ints, district: Ints, own: Bools, first: int = 1
    ) -> None:
        """Add rows of a layer to districts.

        Parameters
        ----------
        layer : int
            Number of the layer.
        rows : pyarrow.Table
        row, district : ndarray of int, shape (n,)
            Rows, ascending, and the district that each is for; a row may be for several.
        own : ndarray of bool, shape (n,)
            Whether the row is the district's own.
        first : int
            Number of the first of the rows in its layer.
        """
        order = np.argsort(district, kind="stable")
        number = (row + first) * np.where(own, 1, -1)
        taken = rows.take(row[order]).append_column(ROW, pa.array(number[order]))
        found, at = np.unique(district[order], return_index=True)
        for number, begin, end in zip(found, at, [*at[1:], len(order)], strict=True):
            part = taken.slice(begin, end - begin)
            self._parts.setdefault((int(number), layer), []).append(part)
        self._bytes += taken.nbytes
        if self._bytes > _MOST_BYTES:
            self.flush()

    def flush(self) -> None:
        """Write what is in memory."""
        for (number, layer), parts in self._parts.items():
            table = pa.concat_tables(parts, promote_options="permissive")
            with (
                self._file(number, layer).open("ab") as file,
                pa.ipc.new_stream(file, table.schema) as out,
            ):
                out.write_table(table)
        self._parts, self._bytes = {}, 0

    def _file(self, number: int, layer: int) -> Path:
        return self.folder / f"{number:06d}-{layer}.arrows"

    def read(self, number: int, layer: int) -> pa.Table | None:
        """Return the rows of a layer for a district, with the column `ROW`; None if it has none.

        Examples
        --------
        >>> import tempfile
        >>> from pathlib import Path
        >>> spool = Spool(Path(tempfile.mkdtemp()))
        >>> rows = pa.table({"line_id": ["A", "B"]})
        >>> own = np.array([True, False, True])
        >>> spool.add(0, rows, np.array([0, 1, 1]), np.array([4, 4, 7]), own)
        >>> spool.flush()
        >>> spool.read(4, 0).to_pylist()[1], spool.read(5, 0)
        ({'line_id': 'B', 'leakgeo_row': -2}, None)
        """
        path, tables = self._file(number, layer), []
        if not path.is_file():
            return None
        with pa.memory_map(str(path)) as file:
            while file.tell() < file.size():
                tables.append(pa.ipc.open_stream(file).read_all())
        return pa.concat_tables(tables, promote_options="permissive")
