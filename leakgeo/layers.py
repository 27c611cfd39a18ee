"""A mapping of layers by name, the base class of `Job` and `Result`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from importlib import import_module
from typing import TYPE_CHECKING, Any, Literal, Self, overload

if TYPE_CHECKING:
    from collections.abc import Iterator

    import folium
    import geopandas as gpd
    import pandas as pd
    from pyproj import CRS

#: Layers of a job or a result that have a geometry; the others are tables.
WithGeometry = Literal[
    "air_tests", "conflicts", "contact_ranking", "contacts", "dig_alternatives", "dig_outcomes",
    "dig_zones", "district_segments", "history", "learned_cases", "locate_requests", "marks",
    "next_readings", "profile", "readings", "readings_on_route", "routes", "search_zones",
    "surfaces", "survey_bracket", "ties", "utilities", "valves",
]  # fmt: skip


class Layers(Mapping[str, "pd.DataFrame"]):
    """A mapping of layers by their name in the data contract.

    A layer with a geometry is a GeoDataFrame, a table a DataFrame. Each access returns a copy,
    which may be changed. Two objects are equal only if they are the same object, because comparing
    tables gives no single answer.
    """

    # CRS of the layers returned by name; None for the local metre CRS.
    shown_in: CRS | None
    __hash__ = object.__hash__

    def __eq__(self, other: object) -> bool:
        return self is other

    def _stored(self) -> Mapping[str, pd.DataFrame]:
        """Layers as stored, in the local metre CRS."""
        raise NotImplementedError

    def __iter__(self) -> Iterator[str]:
        return iter(self._stored())

    def __len__(self) -> int:
        return len(self._stored())

    def __bool__(self) -> bool:
        # A job or a result without layers is not false.
        return True

    def __contains__(self, name: object) -> bool:
        return name in self._stored()

    @overload
    def __getitem__(self, name: WithGeometry) -> gpd.GeoDataFrame: ...
    @overload
    def __getitem__(self, name: str) -> pd.DataFrame: ...
    def __getitem__(self, name: str) -> pd.DataFrame:
        """Return a copy of a layer, by its name in the data contract.

        Raises
        ------
        KeyError
            If there is no such layer; the message lists those that there are.
        """
        if name not in self:
            raise KeyError(
                f"There is no layer {name}; the layers are: {', '.join(self) or 'none'}."
            )
        return self._copy_of(name)

    def _copy_of(self, name: str) -> pd.DataFrame:
        """Return a copy of a layer in the CRS set by `to_crs`."""
        import geopandas as gpd

        # With copy-on-write, data are copied only when they are changed.
        layer = self._stored()[name].copy(deep=False)
        if self.shown_in is None or not isinstance(layer, gpd.GeoDataFrame) or layer.crs is None:
            return layer
        return layer.to_crs(self.shown_in)

    def to_crs(self, crs: object = None) -> Self:
        """Return the same job or result, with its layers in another CRS.

        Parameters
        ----------
        crs : object, optional
            Anything that `pyproj.CRS` accepts, such as ``4326``; the CRS of the input routes if
            None.

        Returns
        -------
        Job or Result
            Of the same class. Columns in metres stay metres on the ground, and steps still compute
            in the local metre CRS.

        Raises
        ------
        pyproj.exceptions.CRSError
            If `crs` is not a CRS.
        """
        from pyproj import CRS

        one: Any = self
        there = one._output_crs() if crs is None else CRS.from_user_input(crs)
        return replace(one, shown_in=there)  # type: ignore[no-any-return]

    def _output_crs(self) -> CRS:
        raise NotImplementedError

    def explore(
        self, line_id: str | None = None, *, tiles: str | None = None,
        units: Literal["si", "us"] | None = None,
    ) -> folium.Map:  # fmt: skip
        """Draw the layers on an interactive map that needs no network.

        Parameters
        ----------
        line_id : str, optional
            Only this line; all if None.
        tiles : str, optional
            Address of background tiles, such as ``https://HOST/{z}/{x}/{y}.png``: the open map
            loads them from that host, and from no other. No background if None.
        units : {"si", "us"} or None
            Units of the texts; those of the job's CRS if None, the default.

        Returns
        -------
        folium.Map
            Shown by a notebook; ``save`` writes it to a file.

        Raises
        ------
        ParameterError
            If there is no such line, or `tiles` is not an address of tiles.
        """
        made: folium.Map = deliver_function("plot", "explore")(self, line_id, tiles, units)
        return made


def deliver_function(module: str, name: str) -> Any:
    """Import a function of `leakgeo.deliver` on use: the package imports this module."""
    return getattr(import_module(f"leakgeo.deliver.{module}"), name)
