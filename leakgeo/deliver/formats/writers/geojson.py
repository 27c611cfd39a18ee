"""GeoJSON (RFC 7946): WGS 84 degrees, outer rings counterclockwise."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pyogrio

from leakgeo.deliver.formats.columns import times_as_text
from leakgeo.deliver.formats.format import IN_WGS84, TABLES_BESIDE, WGS84, Format, with_shapes

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd

    from leakgeo.result import Result


def _write(layers: Mapping[str, pd.DataFrame], _: Result, folder: Path) -> list[str]:
    for name, frame in with_shapes(layers, folder):
        degrees = times_as_text(frame).to_crs(WGS84)
        pyogrio.write_dataframe(degrees, folder / f"{name}.geojson", driver="GeoJSON",
                                RFC7946="YES", COORDINATE_PRECISION="8")  # fmt: skip
    return []


FORMAT = Format("GeoJSON (RFC 7946)", _write, (IN_WGS84, TABLES_BESIDE, "Times are text."))
