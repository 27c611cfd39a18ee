"""What goes along the chain: the job, and the layers made of it so far."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal, overload

from leakgeo.layers import Layers, deliver_function
from leakgeo.notebook import collapsible, table
from leakgeo.provenance import run_id
from leakgeo.wording import with_texts, worded, wording

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    import geopandas as gpd
    import numpy as np
    import pandas as pd
    from matplotlib.axes import Axes
    from pyproj import CRS

    from leakgeo.faults import Fault
    from leakgeo.job.model import Job
    from leakgeo.provenance import StepRun

# Layers with a geometry; the others are tables.
Shaped = Literal[
    "air_tests", "conflicts", "contact_ranking", "dig_alternatives", "dig_zones",
    "learned_cases", "locate_requests", "marks", "next_readings", "profile",
    "readings_on_route", "search_zones", "survey_bracket", "ties",
]  # fmt: skip
_NOTHING: Mapping[str, object] = MappingProxyType({})


@dataclass(frozen=True, eq=False, repr=False)
class Result(Layers):
    """The job and every layer made of it so far; a step takes one and gives a fuller one.

    It is a mapping of the layers: ``result["marks"]``, ``result.items()``, ``len(result)``.

    Parameters
    ----------
    job : Job
        What the layers were made from.
    layers : mapping of str to geopandas.GeoDataFrame or pandas.DataFrame
        Result layers by their name in the data contract, in the job's local metre CRS.
    faults : tuple of Fault
        What the steps found wrong, beyond ``job.faults``.
    parameters : mapping
        Parameters in force, by step.
    timings : mapping of str to float
        Seconds spent, by step.
    streamed : mapping of str to callable
        Layers of a large job that are too long to hold: each gives its parts anew, in order. In
        `layers` is what of them the lines have that come first by priority.
    made : tuple of leakgeo.provenance.StepRun
        What each step made, in the order in which they ran.
    run_id_read : str
        The run id, of a result that was read back.
    shown_in : pyproj.CRS or None
        CRS that layers are handed out in, by name; None for the local metre CRS. See `to_crs`.
    text_options : tuple of str
        Units and language of the texts of layers that are handed out by name. See `worded`.

    Examples
    --------
    >>> import leakgeo
    >>> result = leakgeo.locate("examples/town/job.gpkg")  # doctest: +SKIP
    >>> result["marks"].to_crs(result.job.output_crs)  # doctest: +SKIP
    """

    job: Job
    layers: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    parameters: Mapping[str, Mapping[str, object]] = field(default_factory=dict)
    timings: Mapping[str, float] = field(default_factory=dict)
    streamed: Mapping[str, Callable[[], Iterator[pd.DataFrame]]] = field(default_factory=dict)
    made: tuple[StepRun, ...] = ()
    run_id_read: str = ""
    shown_in: CRS | None = None
    text_options: tuple[str, str] = ("si", "en")

    @property
    def run_id(self) -> str:
        """What every file made from this result shows; see `leakgeo.provenance.run_id`."""
        return run_id(self)

    def adding(self, layers: Mapping[str, pd.DataFrame], faults: Iterable[Fault] = ()) -> Result:
        """Give a copy with more layers (replacing those of the same name) and more faults."""
        return replace(self, layers={**self.layers, **layers}, faults=(*self.faults, *faults))

    def worded(self, units: str = "si", language: str = "en") -> Result:
        """Give a copy whose layers have their texts, said anew of the codes and values in them.

        Parameters
        ----------
        units : {"si", "us"}
            Units that people see.
        language : str
            One of `leakgeo.wording.languages`.
        """
        layers, streamed = worded(self.layers, self.streamed, wording(units, language))
        return replace(self, layers=layers, streamed=streamed, text_options=(units, language))

    @property
    def read_back(self) -> bool:
        """Whether it was read from its file: then it can be handed on, not worked on."""
        return bool(self.run_id_read) or bool(self.job.routes.empty)

    def parts(self, name: str) -> Iterator[pd.DataFrame]:
        """Give a layer of all lines part by part: one part, unless it is too long to hold."""
        return self.streamed[name]() if name in self.streamed else iter([self.layers[name]])

    def whole(self, name: str) -> pd.DataFrame:
        """Give a layer of all lines, however long."""
        return joined(list(self.parts(name))) if name in self.streamed else self.layers[name]

    def _stored(self) -> Mapping[str, pd.DataFrame]:
        return self.layers

    def _output_crs(self) -> CRS:
        return self.job.output_crs

    @overload
    def plot(self, line_id: None = None, *, ax: Axes | None = None) -> Axes: ...
    @overload
    def plot(self, line_id: str, *, ax: None = None) -> np.ndarray[Any, Any]: ...
    def plot(
        self, line_id: str | None = None, *, ax: Axes | None = None
    ) -> Axes | np.ndarray[Any, Any]:
        """Draw it with matplotlib: a plan of all lines, or one line.

        Parameters
        ----------
        line_id : str, optional
            Line to draw: the level along it, the density of the leak along it, and its plan. A
            plan of all lines if None.
        ax : matplotlib.axes.Axes, optional
            Axes to draw the plan of all lines into; those of a new figure if None.

        Returns
        -------
        matplotlib.axes.Axes or ndarray of Axes, shape (3,)
            The plan; of one line, level, density and plan. The plan is in metres of the local CRS,
            or in the CRS that `to_crs` was asked for.

        Raises
        ------
        ParameterError
            If there is no such line.
        LeakgeoError
            If matplotlib is not installed.
        """
        drawn: Axes | np.ndarray[Any, Any] = deliver_function("plot", "plot_result")(
            self, line_id, ax
        )
        return drawn

    def summary(self, units: Literal["si", "us"] = "si", language: str = "en") -> pd.DataFrame:
        """Give one row a line, the first by priority first: what was found, and what holds the dig.

        Parameters
        ----------
        units : {"si", "us"}
            The ends of the column names say which.
        language : str
            Language of the messages.

        Returns
        -------
        pandas.DataFrame
            As in ``summary.csv``, indexed by ``line_id``; without rows where nothing was located.
        """
        lined: pd.DataFrame = deliver_function("folder.spreadsheets", "summary_table")(
            self.worded(units, language), units
        )
        return lined.sort_values("priority", kind="stable").set_index("line_id")

    @overload
    def __getitem__(self, name: Shaped) -> gpd.GeoDataFrame: ...
    @overload
    def __getitem__(self, name: str) -> pd.DataFrame: ...
    def __getitem__(self, name: str) -> pd.DataFrame:
        """Give a layer by its name in the data contract, as a table that is yours to change.

        Raises
        ------
        KeyError
            If it was not made; the message names those that were.
        """
        if name not in self.layers:
            made = ", ".join(self.layers) or "none"
            raise KeyError(f"No layer {name} was made yet; those made: {made}.")
        return with_texts(self._copy_of(name), wording(*self.text_options))

    def __repr__(self) -> str:
        made = [f"  {name}: {len(layer)} rows" for name, layer in self.layers.items()]
        told = f"  {len(self.faults)} faults of the steps, beyond those of the job"
        return "\n".join([f"Result of {self.job!r}", *made, *([told] if self.faults else [])])

    def _repr_html_(self) -> str:
        """Give what a notebook shows: layers with their rows, how the lines stand, faults."""
        rows = [(name, len(layer)) for name, layer in self.layers.items()]
        title = f"Result of {self.job!r}"
        if "lines" in self.layers:
            stands = self.layers["lines"]["status"].value_counts()
            title += f"; lines: {', '.join(f'{n} {status}' for status, n in stands.items())}"
        told = collapsible(f"{len(self.faults)} faults of the steps", self.faults)
        return table(title, ("layer", "rows"), rows) + told


def joined(parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Put parts of one layer together; those without rows have no say in the types.

    Parameters
    ----------
    parts : sequence of pandas.DataFrame
        At least one.

    Examples
    --------
    >>> import pandas as pd
    >>> joined([pd.DataFrame({"line_id": ["L1"]}), pd.DataFrame({"line_id": ["L2"]})]).index.size
    2
    """
    import pandas as pd

    return pd.concat([part for part in parts if len(part)] or parts[:1], ignore_index=True)
