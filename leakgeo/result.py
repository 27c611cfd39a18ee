"""The result of steps: the job and the layers computed from it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal, overload

from leakgeo.layers import Layers, deliver_function
from leakgeo.notebook import collapsible, table
from leakgeo.provenance import now_utc, run_id, with_layers_instead
from leakgeo.wording import streamed_worded, with_texts, worded, wording

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence, Set

    import numpy as np
    import pandas as pd
    from matplotlib.axes import Axes
    from pyproj import CRS

    from leakgeo.faults import Fault
    from leakgeo.job.model import Job
    from leakgeo.kept_pieces import Kept
    from leakgeo.provenance import StepRun


@dataclass(frozen=True)
class Counted:
    """What is known of all lines of a job that is too large for memory.

    Parameters
    ----------
    status : mapping of str to int
        Number of lines by status.
    held : int
        Number of located lines whose dig is held.
    digs : mapping of str to int
        Number of located lines by the status of their dig.
    marks : int
        Number of marks to dig at.
    with_place : int
        Number of lines with a mark or a search zone.
    rows : mapping of str to int
        Number of rows of each layer in the file.
    readings : mapping of str to object
        Readings that came in, were used, and were rejected by reason.
    """

    status: Mapping[str, int]
    held: int
    digs: Mapping[str, int]
    marks: int
    with_place: int
    rows: Mapping[str, int]
    readings: Mapping[str, object]


@dataclass(frozen=True, eq=False, repr=False)
class Result(Layers):
    """A job and the layers computed from it; each step takes a result and returns one with more.

    It is a mapping of the layers: ``result["marks"]``, ``result.items()``, ``len(result)``.

    Parameters
    ----------
    job : Job
        The job that the layers were computed from.
    layers : mapping of str to geopandas.GeoDataFrame or pandas.DataFrame
        Result layers by name in the data contract, in the job's local metre CRS.
    faults : tuple of Fault
        Faults found by the steps, in addition to ``job.faults``.
    parameters : mapping
        Parameters used, by step.
    timings : mapping of str to float
        Run time in seconds, by step.
    streamed : mapping of str to callable
        Layers of a large job that do not fit in memory: each call returns an iterator over the
        parts, in order. `layers` has their rows of the lines that come first by priority.
    made : tuple
        Record of each step that ran, in order: its name, parameters, the layers it read and those
        it made. Steps fill it in.
    run_id_read : str
        Run id of a result that was read from a file; ``""`` otherwise.
    shown_in : pyproj.CRS or None
        CRS of the layers returned by name; None for the local metre CRS. See `to_crs`.
    text_options : tuple of (str or None, str)
        Units (None for those of the job's CRS) and language of the texts in layers returned by
        name. See `worded`.
    has_texts : bool
        Whether `layers` and `streamed` have the text columns of `text_options`.
    kept : object or None
        What writers keep of each line for the next run; None, the default, for nothing. It changes
        no byte of what they write, and is no part of the provenance.
    counted : object or None
        Counts of all lines of a job that was run by district: ``status``, ``held``, ``digs``,
        ``marks``, ``with_place``, ``rows`` and ``readings``; `layers` then has the rows of the
        lines that come first by priority. None, the default, if it has those of all lines.
    written : str
        Time in UTC (ISO 8601) that all of its files state; of a result that was read from a file,
        when that was written, ``""`` if it does not say. A run sets it when its layers are
        computed. It changes no layer.

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
    text_options: tuple[str | None, str] = (None, "en")
    has_texts: bool = False
    kept: Kept | None = None
    counted: Counted | None = None
    written: str = field(default_factory=now_utc)

    @property
    def run_id(self) -> str:
        """Identifier in every file of this result, twelve hexadecimal digits.

        It is a hash of the job, the version of leakgeo, and the parameters that differ from their
        defaults, so the same job run again with the same parameters has the same id.
        """
        return run_id(self)

    def adding(self, layers: Mapping[str, pd.DataFrame], faults: Iterable[Fault] = ()) -> Result:
        """Return a copy with layers added (or replaced, by name) and faults added."""
        return replace(
            self, layers={**self.layers, **layers}, faults=(*self.faults, *faults),
            has_texts=self.has_texts and not layers,
        )  # fmt: skip

    def worded(self, units: str | None = None, language: str = "en") -> Result:
        """Return a copy with the text columns written from the codes and values of its layers.

        Parameters
        ----------
        units : {"si", "us"} or None
            Units in the texts; those of the job's CRS if None, the default.
        language : str
            One of `leakgeo.wording.languages`.
        """
        units = self.units(units)
        if self.has_texts and self.text_options == (units, language):
            return self
        words = wording(units, language)
        if self.kept is None:
            layers = worded(self.layers, words)
        else:
            from leakgeo.wording.kept_texts import with_kept_texts

            layers = with_kept_texts(self.layers, words, self.kept)
        streamed = streamed_worded(self.streamed, words)
        return replace(
            self, layers=layers, streamed=streamed, text_options=(units, language), has_texts=True,
            made=with_layers_instead(self.made, self.layers, layers),
        )  # fmt: skip

    def units(self, selected: str | None = None) -> str:
        """Return the units of texts: `selected`, or by the job's CRS if it is None."""
        return self.job.units(selected)

    @property
    def read_back(self) -> bool:
        """Whether the result was read from a file: it can be written, not computed on."""
        return bool(self.run_id_read) or bool(self.job.routes.empty)

    def parts(self, name: str) -> Iterator[pd.DataFrame]:
        """Return an iterator over the parts of a layer: one part, unless it is streamed."""
        return self.streamed[name]() if name in self.streamed else iter([self.layers[name]])

    def whole(self, name: str) -> pd.DataFrame:
        """Return a layer with the rows of all lines, even if it is streamed."""
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
        """Plot a plan of all lines, or one line, with matplotlib.

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
            or in the CRS set by `to_crs`.

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

    def summary(
        self, units: Literal["si", "us"] | None = None, language: str = "en"
    ) -> pd.DataFrame:
        """Return a table with one row per line: what was found, and the holds.

        Parameters
        ----------
        units : {"si", "us"} or None
            Units of the columns, whose names end in the unit; those of the job's CRS if None, the
            default.
        language : str
            Language of the messages.

        Returns
        -------
        pandas.DataFrame
            As in ``summary.csv``, and in its order: digs that no hold is recorded for, held digs,
            other lines. Indexed by ``line_id``; empty if `locate` has not run.
        """
        lined: pd.DataFrame = deliver_function("folder.spreadsheets", "summary_table")(
            self.worded(units, language), self.units(units), language
        )
        return lined.set_index("line_id")

    def _copy_of(self, name: str) -> pd.DataFrame:
        units, language = self.text_options
        return with_texts(super()._copy_of(name), wording(self.units(units), language))

    def __repr__(self) -> str:
        rows = [f"  {name}: {len(layer)} rows" for name, layer in self.layers.items()]
        if self.faults:
            rows.append(
                f"  {len(self.faults)} faults of the steps, in addition to those of the job"
            )
        return "\n".join([f"Result of {self.job!r}", *rows])

    def _repr_html_(self) -> str:
        """Return HTML for a notebook: rows of each layer, lines by status, and faults."""
        rows = [(name, len(layer)) for name, layer in self.layers.items()]
        title = f"Result of {self.job!r}"
        if "lines" in self.layers:
            counts = self.layers["lines"]["status"].value_counts()
            title += f"; lines: {', '.join(f'{n} {status}' for status, n in counts.items())}"
        faults = collapsible(f"{len(self.faults)} faults of the steps", self.faults)
        return table(title, ("layer", "rows"), rows) + faults


def joined(parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Concatenate the parts of a layer; empty parts and columns do not change the types.

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

    full = [part for part in parts if len(part)]
    # A column of texts is one of objects in a part that has none of them.
    texts = {
        name for part in full
        for name, kind in part.dtypes.items() if isinstance(kind, pd.StringDtype)
    }  # fmt: skip
    alike = [_with_texts_alike(part, texts) for part in full]
    return pd.concat(alike or parts[:1], ignore_index=True)


def _with_texts_alike(part: pd.DataFrame, texts: Set[Hashable]) -> pd.DataFrame:
    """Return a part of a layer with its empty columns of texts of the type of texts."""
    other = [n for n, kind in part.dtypes.items() if n in texts and kind != "str"]
    empty = {n: "str" for n in other if part[n].isna().all()}
    return part.astype(empty) if empty else part
