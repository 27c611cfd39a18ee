"""Layers by their name: what a job and a result have in common for the people who use them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from importlib import import_module
from typing import TYPE_CHECKING, Any, Literal, Self

if TYPE_CHECKING:
    from collections.abc import Iterator

    import folium
    import pandas as pd
    from pyproj import CRS


class Layers(Mapping[str, "pd.DataFrame"]):
    """A mapping of layers by their name in the data contract.

    A layer with a geometry is a GeoDataFrame, a table a DataFrame; what is handed out is yours to
    change. Two of these are equal only where they are the same object, as comparing tables gives
    no single answer.
    """

    #: CRS that layers are handed out in; None for the local metre CRS.
    shown_in: CRS | None
    __hash__ = object.__hash__

    def __eq__(self, other: object) -> bool:
        return self is other

    def _stored(self) -> Mapping[str, pd.DataFrame]:
        """Layers as they are held, in the local metre CRS."""
        raise NotImplementedError

    def __iter__(self) -> Iterator[str]:
        return iter(self._stored())

    def __len__(self) -> int:
        return len(self._stored())

    def __bool__(self) -> bool:
        # Without a layer it is a job or a result all the same.
        return True

    def __contains__(self, name: object) -> bool:
        return name in self._stored()

    def _copy_of(self, name: str) -> pd.DataFrame:
        """Hand out a layer: a copy, in the CRS that was asked for."""
        import geopandas as gpd

        # Nothing is copied until it is written to.
        layer = self._stored()[name].copy(deep=False)
        if self.shown_in is None or not isinstance(layer, gpd.GeoDataFrame) or layer.crs is None:
            return layer
        return layer.to_crs(self.shown_in)

    def to_crs(self, crs: object = None) -> Self:
        """Give the same with every layer handed out in another CRS.

        Parameters
        ----------
        crs : object, optional
            Anything that `pyproj.CRS` takes, such as ``4326``; the CRS of the routes as they came,
            if None.

        Returns
        -------
        Job or Result
            Of the same kind. Columns in metres are on the ground, whatever the CRS; steps go on
            working in the local metre CRS.

        Raises
        ------
        pyproj.exceptions.CRSError
            If it is no CRS.
        """
        from pyproj import CRS

        one: Any = self
        there = one._output_crs() if crs is None else CRS.from_user_input(crs)
        return replace(one, shown_in=there)  # type: ignore[no-any-return]

    def _output_crs(self) -> CRS:
        raise NotImplementedError

    def explore(
        self, line_id: str | None = None, *, tiles: str | None = None,
        units: Literal["si", "us"] = "si",
    ) -> folium.Map:  # fmt: skip
        """Show it on an interactive map, which asks no network for anything.

        Parameters
        ----------
        line_id : str, optional
            Only this line; all if None.
        tiles : str, optional
            Address of background tiles, such as ``https://HOST/{z}/{x}/{y}.png``; the open map
            then asks that host, and no other. No background if None.
        units : {"si", "us"}
            Units of the texts.

        Returns
        -------
        folium.Map
            A notebook shows it; ``save`` writes it.

        Raises
        ------
        ParameterError
            If there is no such line, or `tiles` is no address of tiles.
        """
        made: folium.Map = deliver_function("plot", "explore")(self, line_id, tiles, units)
        return made


def deliver_function(module: str, name: str) -> Any:
    """Import a function that draws when it is first asked for: it is heavy, and imports these."""
    return getattr(import_module(f"leakgeo.deliver.{module}"), name)
