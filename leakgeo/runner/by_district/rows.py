"""Read and check rows of the large layers against the pipes of one district."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from leakgeo.arrays import texts
from leakgeo.job.checks import CheckedLayer, check_layer, link_rows, merge_parts, referred_layers
from leakgeo.job.in_local_crs import checked_in_place, layer_in_local_crs
from leakgeo.job.model import NOT_SELECTED
from leakgeo.job.schema import load_schema, readable_layers
from leakgeo.job.source_layers import ROW, Mapped, numbered

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pyarrow as pa
    from pyproj import CRS

    from leakgeo.arrays import Bools
    from leakgeo.faults import Fault
    from leakgeo.job.model import Job
    from leakgeo.job.source_layers import SourceLayer


@dataclass(frozen=True, eq=False)
class CheckedRows:
    """Rows of the large layers, checked, in the local CRS.

    Parameters
    ----------
    tables : dict of str to pandas.DataFrame
        By layer of the job.
    own : dict of str to ndarray of bool
        Whether each row is the district's own.
    faults : tuple of Fault
        Of own rows, and of whole layers.
    """

    tables: dict[str, pd.DataFrame]
    own: dict[str, Bools]
    faults: tuple[Fault, ...]

    def into(self, job: Job) -> Job:
        """Return a job with these rows."""
        tables: dict[str, Any] = dict(self.tables)
        return replace(job, **tables)


@dataclass(frozen=True, eq=False)
class RowReader:
    """What is known of the large layers before any of their rows is checked.

    Parameters
    ----------
    layers : tuple of SourceLayer
    parameters : mapping of str to object
        Those of the checks, complete.
    listed : frozenset of str
        Lines with a taped list of fittings.
    position : tuple of float or None
        Longitude and latitude of the job, degrees, by which datum shifts are selected.
    """

    layers: tuple[SourceLayer, ...]
    parameters: Mapping[str, object]
    listed: frozenset[str] = frozenset()
    position: tuple[float, float] | None = None

    def read(self, network: Job, rows: Mapping[int, pa.Table | None]) -> CheckedRows:
        """Return checked rows.

        Parameters
        ----------
        network : Job
            Pipes of the district and those around, with no rows in the large layers.
        rows : mapping of int to pyarrow.Table
            Rows by the number of the layer, as in a spool.
        """
        raws = {one.name: one.raw(rows.get(one.number)) for one in self.layers}
        mapped = Mapped.of(self.layers, raws)
        routes, contacts = (_checked(network, name) for name in ("routes", "contacts"))
        assert routes is not None  # a job has routes
        checked: list[CheckedLayer] = []
        own: dict[str, list[Bools]] = {}
        for name, raw in mapped.layers.items():
            schema = readable_layers()[name]
            mine = raw.table.get(ROW, pd.Series(dtype=int)).to_numpy(dtype=np.int64) > 0
            layer = check_layer(numbered(raw), schema, self.parameters, self.listed)
            layer = self._in_place(layer, raw.crs, network, routes, contacts)
            checked.append(layer)
            own.setdefault(schema.job_layer, []).append(mine)
        return CheckedRows(
            merge_parts(checked), {name: np.concatenate(parts) for name, parts in own.items()},
            (*mapped.faults, *(fault for layer in checked for fault in layer.faults)),
        )  # fmt: skip

    def _in_place(
        self, layer: CheckedLayer, raw_crs: CRS | None, network: Job, routes: CheckedLayer,
        contacts: CheckedLayer | None,
    ) -> CheckedLayer:  # fmt: skip
        """Bring a layer into the local CRS, and check it against the pipes."""
        crs, routes_crs = network.crs, network.output_crs
        own = getattr(layer.table, "crs", None) or routes_crs
        layer = layer_in_local_crs(layer, crs, own, routes_crs, self.position)
        layer = checked_in_place(layer, routes, contacts, None, self.parameters, crs, own,
                                 routes_crs)  # fmt: skip
        there = {"routes": routes, "contacts": contacts}
        if names := referred_layers(layer.schema):
            layer = link_rows(layer, *(there.get(name) for name in names))
        return layer


def _checked(network: Job, name: str) -> CheckedLayer | None:
    """Return a layer of the network as the checks know it; a selection of lines is no fault."""
    table = getattr(network, name)
    if table is None:
        return None
    reason = table["reason"].mask(table["reason"] == NOT_SELECTED, None)
    key = "line_id" if name == "routes" else "contact_id"
    return CheckedLayer(load_schema(name), table.assign(reason=reason), texts(table, key))
