"""GeoParquet: one file per layer; layers without geometry are plain Parquet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.deliver.formats.format import Format

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd

    from leakgeo.result import Result


def _write(layers: Mapping[str, pd.DataFrame], _: Result, folder: Path) -> list[str]:
    for name, frame in layers.items():
        frame.to_parquet(folder / f"{name}.parquet", index=False)
    return []


FORMAT = Format("GeoParquet", _write)
