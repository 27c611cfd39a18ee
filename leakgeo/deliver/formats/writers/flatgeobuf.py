"""FlatGeobuf: one file per layer, with a spatial index."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pyogrio

from leakgeo.deliver.formats.format import TABLES_BESIDE, Format, with_places, with_shapes

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd

    from leakgeo.result import Result


def _write(layers: Mapping[str, pd.DataFrame], _: Result, folder: Path) -> list[str]:
    lost = []
    for name, frame in with_shapes(layers, folder):
        kept, left_out = with_places(name, frame)
        lost += left_out
        pyogrio.write_dataframe(kept, folder / f"{name}.fgb", driver="FlatGeobuf")
    return lost


FORMAT = Format("FlatGeobuf", _write, (TABLES_BESIDE, "The order of rows is not kept."))
