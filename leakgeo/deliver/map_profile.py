"""The profile of a line, thinned for a plot: a few hundred points, no peak lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

MOST = 240
COLUMNS = ("chainage_m", "sound_level_db", "sound_level_sd_db", "leak_density_per_m")


def thin_profile(frame: pd.DataFrame | None, most: int = MOST) -> dict[str, np.ndarray]:
    """Thin a profile to `most` points: means of chainage and level, the highest density.

    Parameters
    ----------
    frame : pandas.DataFrame or None
        Rows of one line of the ``profile`` layer.
    most : int
        Points to keep at the most.

    Returns
    -------
    dict of str to numpy.ndarray
        The four columns by name, each of one length, in order of chainage; a column that the layer
        lacks is all NaN. Empty arrays where there is no profile.

    Examples
    --------
    >>> import pandas as pd
    >>> columns = {"chainage_m": [0.0, 1.0, 2.0, 3.0], "leak_density_per_m": [1, 9, 2, 3]}
    >>> table = pd.DataFrame(columns)
    >>> thin = thin_profile(table, most=2)
    >>> thin["chainage_m"].tolist(), thin["leak_density_per_m"].tolist()
    ([0.5, 2.5], [9.0, 3.0])
    """
    if frame is None or frame.empty or "chainage_m" not in frame:
        return {name: np.empty(0) for name in COLUMNS}
    table = frame.reindex(columns=list(COLUMNS)).astype(float)
    values = table.dropna(subset="chainage_m").sort_values("chainage_m").to_numpy().T
    count = values.shape[1]
    if count > most:
        starts = np.linspace(0, count, most, endpoint=False).astype(int)
        sizes = np.diff(np.r_[starts, count])
        peaks = np.maximum.reduceat(values[3], starts)
        values = np.add.reduceat(values, starts, axis=1) / sizes
        values[3] = peaks
    return dict(zip(COLUMNS, values, strict=True))
