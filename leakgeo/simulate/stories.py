"""What sounds and what is recorded on each line of the town that shows a kind of evidence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from leakgeo.simulate.plan import HERON, Street

if TYPE_CHECKING:
    from leakgeo.simulate.spread import Floats

# Every line of the street has the same length, cover and pressure.
LENGTH_M, DEPTH_M, PRESSURE_KPA = 14.0, 0.75, 410.0
COURT = Street("Alewife Court", "A", (32.0, -54.0), HERON.heading_deg, 80.0)


@dataclass(frozen=True)
class Source:
    """Something that sounds.

    Parameters
    ----------
    at_m : float
        Chainage, below 0 or past the length for one beyond an end of the line.
    over_db : float
        Level at the place of the line nearest to it, over the ambient floor.
    aside_m : float
        Distance of its pipe from the trace, positive to the left.
    piped : bool
        Whether it is on a pipe, which carries its sound.
    walks : tuple of int
        Walks that hear it; all if empty.
    """

    at_m: float
    over_db: float
    aside_m: float = 0.0
    piped: bool = True
    walks: tuple[int, ...] = ()


@dataclass(frozen=True)
class Meter:
    """A meter test: loss, hours from the first walk to its start, duration, and the house valve."""

    loss_l_h: float
    start_h: float = -16.0
    hours: float = 3.0
    house_valve: str | None = "shut"


@dataclass(frozen=True)
class Story:
    """A line, what sounds there, and what the crew records besides a walk along it.

    Parameters
    ----------
    number : int
        Number of the house.
    along_m, side : float and int
        Place along the street, and its side.
    sources : tuple of Source
    leak_m : float
        Chainage of the leak on the line, nan where there is none.
    material : str
    walks : int
    fine_m : tuple of float
        Chainages about which each walk goes on in fine steps.
    sweeps_m : tuple of float
        Chainages of sweeps across.
    air_m : tuple of float
        Places with air off and on in turn, which changes nothing there.
    stop_valve_m : float
        Chainage of a stop valve, nan where there is none.
    meters : tuple of Meter
    isolated_kpa : tuple of float
        Pressure between the closed valves at both ends, before and after.
    hole : tuple of (float, str, float)
        Chainage, finding and hours from the first walk of a hole; a leak found is repaired.
    neighbour_m : float
        Distance to a neighbour's mapped water pipe, nan where there is none.
    """

    number: int
    along_m: float
    side: int
    sources: tuple[Source, ...]
    leak_m: float = np.nan
    material: str = "copper"
    walks: int = 1
    fine_m: tuple[float, ...] = ()
    sweeps_m: tuple[float, ...] = ()
    air_m: tuple[float, ...] = ()
    stop_valve_m: float = np.nan
    meters: tuple[Meter, ...] = ()
    isolated_kpa: tuple[float, ...] = ()
    hole: tuple[tuple[float, str, float], ...] = ()
    neighbour_m: float = np.nan

    @property
    def line_id(self) -> str:
        """Name of the line."""
        return f"{COURT.prefix}-{self.number}"

    def at(self, along_m: Floats, across_m: Floats) -> Floats:
        """Return points along and across the line (left positive) in the plane, shape (n, 2)."""
        along, across = np.broadcast_arrays(along_m, across_m)
        # Facing a house on the left side of the street, its left is back along the street.
        pairs = np.column_stack([self.along_m - self.side * across, self.side * (2.0 + along)])
        return COURT.path(*map(tuple, pairs))


_TURNS, _STILL = Meter(90.0), Meter(0.0)
STORIES = (
    # The house valve is shut and the meter turns; over the pipe it is loudest; pressure falls.
    Story(201, 8.0, 1, (Source(6.2, 22.0),), 6.2, fine_m=(6.2,), sweeps_m=(6.2,), meters=(_TURNS,),
          isolated_kpa=(PRESSURE_KPA, 95.0)),
    # Runs 2.5 m beside 201 and hears its leak.
    Story(202, 10.5, 1, (Source(6.2, 11.0, 2.5),), fine_m=(6.2,)),
    # A stop valve hisses, and the meter stands still.
    Story(203, 15.0, -1, (Source(7.0, 16.0),), fine_m=(7.0,), stop_valve_m=7.0, meters=(_STILL,)),
    # Water runs inside: the meter turns with the house valve open, and not with it shut.
    Story(204, 24.0, 1, (Source(17.0, 12.0),), material="pe", fine_m=(13.0,),
          meters=(Meter(110.0, -20.0, 1.5, "open"), Meter(0.0, -18.0))),
    # A neighbour's mapped pipe leaks: it is louder toward it, and air changes nothing.
    Story(205, 31.0, -1, (Source(6.6, 13.0, 3.0),), fine_m=(6.6,), sweeps_m=(6.1, 7.1),
          air_m=(6.6, 12.0), neighbour_m=3.0),
    # A hole at the old mark saw dry pipe; the leak is 1.2 m on.
    Story(206, 38.0, 1, (Source(7.0, 18.0),), 7.0, fine_m=(6.6,), hole=((5.8, "dry", -20.0),)),
    # Repaired the day after the walk; the meter has stood still since.
    Story(207, 45.0, -1, (Source(5.5, 20.0),), fine_m=(5.5,), hole=((5.5, "leak", 24.0),),
          meters=(_TURNS, Meter(0.0, 30.0, 4.0))),
    # Repaired the day after the walk; the meter turns on, so there is another leak.
    Story(208, 52.0, 1, (Source(4.0, 22.0), Source(11.0, 6.0)), 11.0, fine_m=(4.0,),
          hole=((4.0, "leak", 24.0),), meters=(Meter(240.0), Meter(100.0, 30.0, 4.0))),
    # The trace is wrong: the pipe lies 1.6 m to the left of it everywhere.
    Story(209, 59.0, -1, (Source(7.4, 18.0, 1.6),), 7.4, fine_m=(7.4,),
          sweeps_m=(5.4, 7.4, 9.4)),
    # The leak is before the meter, at the start: the level rises to it, and the meter stands still.
    Story(210, 66.0, 1, (Source(-3.0, 12.0),), material="pe", fine_m=(1.5,), meters=(_STILL,)),
    # An engine ran at the kerb during the first walk, and was gone on the second.
    Story(211, 73.0, -1, (Source(7.0, 14.0, -2.5, piped=False, walks=(0,)),), walks=2,
          fine_m=(7.0,)),
)  # fmt: skip
