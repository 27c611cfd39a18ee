"""Write a digging round: tables for the crew, and layers for a GIS."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pyproj

from leakgeo.deliver.folder.spreadsheets import in_units, rounded, write_csv
from leakgeo.deliver.geopackage.layers import append_layer
from leakgeo.deliver.geopackage.typed import to_schema
from leakgeo.errors import OutputError
from leakgeo.job.schema import load_schema
from leakgeo.staging import exclusive, staged

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd

    from leakgeo.deliver.round.plan import Round

#: Files of a round.
FILES = ("round.csv", "round_held.csv", "round.gpkg")
# For programs; the tables are for people.
_CODES = ("code", "values", "held_by_code", "held_by_values", "next_action_code",
          "next_action_values")  # fmt: skip


def write_round(found: Round, folder: Path) -> list[Path]:
    """Write ``round.csv``, ``round_held.csv`` and ``round.gpkg``, all at once.

    Parameters
    ----------
    found : Round
    folder : pathlib.Path
        Created if missing; files of an earlier round there are replaced.

    Raises
    ------
    OutputError
        If a file can't be written.
    """
    layers = {"round_stops": found.stops, "round_legs": found.legs, "round_held": found.held}
    with exclusive(folder):
        if not folder.is_dir():
            raise OutputError(f"{folder} is a file, not a folder. Name a folder to write into.")
        with staged(folder) as staging:
            for file, name in zip(FILES, ("round_stops", "round_held"), strict=False):
                write_csv(_table(layers[name], found.units), staging.path / file)
            for name, table in layers.items():
                schema = load_schema(name)
                kind = schema.geometry_types[0] if schema.geometry_types else None
                options = {"DESCRIPTION": schema.description, "IDENTIFIER": schema.title}
                typed = to_schema(table, schema, pyproj.CRS(found.stops.crs))
                append_layer(staging.path / FILES[2], name, typed, kind, options)
            return staging.commit()


def _table(layer: pd.DataFrame, units: str) -> pd.DataFrame:
    """Return a layer as a table for people: in their units, without geometry and codes."""
    plain = layer.drop(columns=["geometry", *_CODES], errors="ignore")
    return rounded(in_units(plain, units))
