"""Listening surveys with rough noise: steps, drifts, dropouts and cars instead of a smooth law.

A world of services of 15 to 40 m, in copper, galvanised steel, iron, PVC and PE, 0.4 to 1.5 m
deep. About 70 % of the lines leak, a quarter of these faintly. A crew walks each line with a
ground microphone in steps of about 1.5 m, then in steps of a foot around the loudest stop, and
further where the loudest is at the edge. A quarter of the lines has another sound: traffic that
rises toward the street, a machine beside the line, or one at an end of the pipe. On one line in
eight the gain of one walk is not recorded, and on one in eight the display is linear.

The mean levels are those of `tests.worlds.underground`. The noise, of `tests.worlds.field_noise`,
is what this world is for; it is no Gaussian process:

- Ground in patches of random lengths, each with a level of its own, and a step at each change of
  surface.
- A scatter of contact with its long tail below, and a background that flickers with its long tail
  above. Its size varies from line to line (lognormal); one line in seven is quiet and smooth.
- Dropouts by bad contact of 6 to 20 dB, sometimes two or three running.
- Slow drifts of the instrument and of the background with time.
- Cars that pass, over several stops.
- Rounding to 1 dB.

The figures are a judgement of what a field is like, made before any locator saw the world. It only
judges the locator of the package: neither is tuned to the other, and it shares no code with the
package's own simulator. The least gain of an advised stop alone was chosen with lines of it, of
seeds 1 to 3. All of it is simulated; no place is real.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd

from tests.worlds.crew import survey
from tests.worlds.line import draw_line
from tests.worlds.world import World

if TYPE_CHECKING:
    from tests.worlds.line import Line

CRS = "EPSG:32633"
# 180 km from the central meridian, where a metre of the grid is one on the ground.
ORIGIN_M = (320_000.0, 5_400_000.0)
APART_M = 120.0


def draw(lines: int, seed: int) -> World:
    """Draw a world.

    Parameters
    ----------
    lines : int
        How many. Each has a seed of its own, so that more lines leave the first as they are.
    seed : int
        Not negative.

    Returns
    -------
    World
        In UTM zone 33N; `truth` also gives the place of the other source and the sizes of the
        noise.
    """
    routes: list[dict[str, Any]] = []
    readings: list[pd.DataFrame] = []
    truth: list[dict[str, Any]] = []
    for k in range(lines):
        rng = np.random.default_rng([seed, k])
        place = (ORIGIN_M[0] + APART_M * (k % 10), ORIGIN_M[1] + APART_M * (k // 10))
        line = draw_line(f"line-{k + 1:04d}", place, rng)
        walked = survey(
            line, pd.Timestamp("2024-04-08 07:00", tz="UTC") + pd.Timedelta(k, "h"), rng
        )
        routes.append(line.known)
        readings.append(walked.readings)
        truth.append(truth_of(line, walked.stops_m))
    return World(
        {
            "routes": gpd.GeoDataFrame(routes, geometry="geometry", crs=CRS),
            "readings": gpd.GeoDataFrame(
                pd.concat(readings, ignore_index=True), geometry="geometry", crs=CRS
            ),
        },
        pd.DataFrame(truth).set_index("line_id"),
    )


def truth_of(line: Line, stops_m: np.ndarray) -> dict[str, Any]:
    """Return the row of a line in `World.truth`."""
    over = np.nan
    if line.leaks:
        leak = line.leak_db(stops_m)
        loudest = int(np.argmax(leak))
        over = float(leak[loudest] - line.background_db(stops_m)[loudest])
    return {
        "line_id": line.line_id,
        "leak_chainage_m": line.leak_m,
        "over_floor_db": over,
        "other": None if line.other is None else line.other.kind,
        "other_chainage_m": np.nan if line.other is None else line.other.at_m,
        "smooth": line.noise.smooth,
        "contact_sd_db": line.noise.contact_sd_db,
        "patch_sd_db": line.noise.patch_sd_db,
        "dropout_chance": line.noise.dropout_chance,
    }
