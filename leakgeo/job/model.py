"""The job that every step takes: checked layers in one local metre CRS."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.layers import Layers, deliver_function
from leakgeo.notebook import collapsible, table
from leakgeo.reason import Reason

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    import pandas as pd
    from matplotlib.axes import Axes
    from pyproj import CRS

    from leakgeo.faults import Fault
    from leakgeo.find.advise.valve_tests import ValveClosures
    from leakgeo.find.evidence.isolation_lines import IsolationFindings
    from leakgeo.job.rasters.ground import GroundModel

#: Layers that a job may have, in the order of the contract.
LAYERS = ("routes", "readings", "contacts", "meter_tests", "valves", "isolation_tests",
          "closed_valves", "action_results", "utilities", "surfaces", "history",
          "dig_outcomes")  # fmt: skip
#: ``reason`` of rows that are good, but of a line that was not selected.
NOT_SELECTED = Reason("line_not_selected")


def without_fault(reason: pd.Series[str]) -> pd.Series[bool]:
    """Return which rows have no fault; rows of lines that are not selected have none.

    So a selection of lines changes no result.

    Parameters
    ----------
    reason : pandas.Series
        Column ``reason`` of a layer.
    """
    return reason.isna() | (reason == NOT_SELECTED)


@dataclass(frozen=True, eq=False, repr=False)
class Job(Layers):
    """A checked job, every layer in one local metre CRS.

    A job is a mapping of layer names to layers: ``job["routes"]``, ``job.items()``, ``len(job)``.

    Each layer keeps every row that was read, so that counts always add up. The column ``reason``
    states why a row failed a check, as a `leakgeo.reason.Reason`; it is null for good rows.

    Parameters
    ----------
    routes : geopandas.GeoDataFrame
        Lines in `crs`; columns as in the data contract, plus ``reason``.
    readings : geopandas.GeoDataFrame
        Points in `crs`; a reading without position has a null geometry and a ``reason``.
    crs : pyproj.CRS
        Local projected CRS, in metres, of all computations.
    output_crs : pyproj.CRS
        CRS that the routes were read in; results are written in it.
    contacts, valves, utilities, surfaces, history, dig_outcomes : geopandas.GeoDataFrame or None
        Optional layers in `crs`; None if the job does not have the layer.
    meter_tests, isolation_tests, closed_valves, action_results : pandas.DataFrame or None
        Optional tables.
    ground : object or None
        Optional elevation model of the ground, clipped to the surroundings of the routes:
        ``elevation_m`` with shape (rows, columns), the affine ``transform`` of its cells, ``crs``,
        and ``z_unit_m``, the unit of the routes' Z in metres.
    faults : tuple of Fault
        Errors and notes that the checks reported.
    counts : mapping of str to int
        Rows read, by layer.
    source : str
        Path or address of the source.
    digest : str
        SHA-256 of the source file; ``""`` if the source is not a single file.
    layers_digest : str
        SHA-256 of all layers after reading and checking.
    latest_month : float or None
        Begin of the latest month of the whole job, in days since 1970, if this job is a chunk or a
        window of it; else None.
    where : str
        Condition that selected its lines, if it is a window of a job; else ``""``.
    mapping, mapping_digest : str
        Name and SHA-256 of the file that mapped the source to the contract; ``""`` without one.
    isolation : IsolationFindings or None
        Isolation tests of the whole job by line, if this job is a chunk of it; else None.
    valve_closures : ValveClosures or None
        Isolation tests that may be made in the whole job, of its own lines, if this job is a chunk
        of it; else None.
    simulated : str
        Statement in the source that it is simulated; ``""`` if there is none.
    works_in_feet : bool
        Whether most of its taped lengths are in feet; see `units`.
    shown_in : pyproj.CRS or None
        CRS of the layers returned by name; None for `crs`. See `to_crs`.

    Examples
    --------
    >>> import leakgeo
    >>> job = leakgeo.read_job("examples/town/job.gpkg")
    >>> list(job)[:2], len(job["routes"])
    (['routes', 'readings'], 29)
    >>> job.to_crs(4326)["routes"].crs.name
    'WGS 84'
    >>> job.summary().loc["readings"].to_dict()
    {'rows': 1111, 'left_out': 1, 'not_asked_for': 0}
    """

    routes: gpd.GeoDataFrame
    readings: gpd.GeoDataFrame
    crs: CRS
    output_crs: CRS
    contacts: gpd.GeoDataFrame | None = None
    meter_tests: pd.DataFrame | None = None
    valves: gpd.GeoDataFrame | None = None
    isolation_tests: pd.DataFrame | None = None
    closed_valves: pd.DataFrame | None = None
    action_results: pd.DataFrame | None = None
    utilities: gpd.GeoDataFrame | None = None
    surfaces: gpd.GeoDataFrame | None = None
    history: gpd.GeoDataFrame | None = None
    dig_outcomes: gpd.GeoDataFrame | None = None
    faults: tuple[Fault, ...] = ()
    counts: Mapping[str, int] = field(default_factory=dict)
    source: str = ""
    digest: str = ""
    layers_digest: str = ""
    ground: GroundModel | None = None
    mapping: str = ""
    mapping_digest: str = ""
    latest_month: float | None = None
    where: str = ""
    isolation: IsolationFindings | None = None
    valve_closures: ValveClosures | None = None
    simulated: str = ""
    works_in_feet: bool = False
    shown_in: CRS | None = None

    def units(self, selected: str | None = None) -> str:
        """Return the units of texts: `selected`, or those of the CRS of the results if None.

        Degrees are neither: there most of the tapes decide.
        """
        from leakgeo.job.crs import units_of

        if selected is None and self.works_in_feet and self.output_crs.is_geographic:
            return "us"
        return units_of(self.output_crs, selected)

    def _stored(self) -> Mapping[str, pd.DataFrame]:
        return {n: layer for n in LAYERS if (layer := getattr(self, n)) is not None}

    def _copy_of(self, name: str) -> pd.DataFrame:
        from leakgeo.job.placed import job_on_the_ground

        return super(Job, job_on_the_ground(self))._copy_of(name)

    def _output_crs(self) -> CRS:
        return self.output_crs

    def plot(self, line_id: str | None = None, *, ax: Axes | None = None) -> Axes:
        """Draw a plan with matplotlib: routes, readings and utilities.

        Parameters
        ----------
        line_id : str, optional
            Line to draw with its surroundings; all lines if None.
        ax : matplotlib.axes.Axes, optional
            Axes to draw into; those of a new figure if None.

        Returns
        -------
        matplotlib.axes.Axes
            In metres of the local CRS, or in the CRS selected with `to_crs`.

        Raises
        ------
        ParameterError
            If the job has no such line.
        LeakgeoError
            If matplotlib is not installed.
        """
        drawn: Axes = deliver_function("plot", "plot_job")(self, line_id, ax)
        return drawn

    def summary(self) -> pd.DataFrame:
        """Return rows read, rejected and not selected, one row per layer.

        Returns
        -------
        pandas.DataFrame
            Indexed by layer; columns ``rows``, ``left_out`` (rejected for a fault) and
            ``not_asked_for`` (of lines that were not selected).
        """
        import pandas as pd

        rows = [(name, count, self._left_out(name), self._not_selected(name))
                for name, count in self.counts.items()]  # fmt: skip
        table = pd.DataFrame(rows, columns=["layer", "rows", "left_out", "not_asked_for"])
        return table.set_index("layer")

    def __repr__(self) -> str:
        rows = ", ".join(f"{name} {count}" for name, count in self.counts.items())
        name = Path(self.source).name or "not named"
        return f"Job {name}: {rows or 'no rows'}; {len(self.faults)} faults; in {self.crs.name}"

    def _repr_html_(self) -> str:
        """Return HTML for a notebook: rows read and left out by layer, and the faults."""
        rows = [(name, count, self._left_out(name)) for name, count in self.counts.items()]
        title = f"Job {Path(self.source).name or 'not named'}, in {self.crs.name}"
        faults = collapsible(
            f"{len(self.faults)} faults", [f"{f.effect}: {f}" for f in self.faults]
        )
        return table(title, ("layer", "rows", "left out"), rows) + faults

    def _left_out(self, name: str) -> int:
        layer = getattr(self, name, None)
        if layer is None:
            return self.counts[name]
        return int((layer["reason"].notna() & (layer["reason"] != NOT_SELECTED)).sum())

    def _not_selected(self, name: str) -> int:
        layer = getattr(self, name, None)
        return 0 if layer is None else int((layer["reason"] == NOT_SELECTED).sum())
