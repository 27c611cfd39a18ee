"""Sites on which a crew can do every action of the advice: what is true there, and what it records.

Two worlds build on it: streets of the physics of waves, and lines of the simulator. Rates of what
is no listening stand in `RATES`; they are assumed, and differ from those of the shipped tables on
purpose, because a crew does not know how its meter and its valves behave.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import Point

from leakgeo.find.advise.action_costs import action_costs
from tests.benchmarks.estimate import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    Array = np.ndarray

LINE, METER, OUTLET, FITTING = "S-1", "M-1", "H-1", "F-1"
CURB, MIDDLE, HOUSE = "CS-1", "V-1", "HV-1"
# Share of each truth; the streets have a neighbour's line, and the simulator has none.
KINDS = {
    "leak": 0.50, "none": 0.10, "beyond_start": 0.05, "beyond_end": 0.06, "inside": 0.08,
    "fitting": 0.08, "machine": 0.07, "neighbour": 0.06,
}  # fmt: skip
# About as often as the locator assumes, by which its expected gains are to be judged.
ASSUMED_KINDS = {
    "leak": 0.825, "none": 0.07, "beyond_start": 0.035, "beyond_end": 0.02, "inside": 0.02,
    "fitting": 0.01, "machine": 0.02, "neighbour": 0.0,
}  # fmt: skip
# Kinds with which a leak is on the pipe of the customer, behind the meter and the curb stop.
BEHIND_METER = ("leak", "beyond_end", "inside")
RATES = {
    "flow_l_per_day": 1100.0, "flow_factor": 3.0,
    "first_meter_test": 0.5, "use_valve_open": 0.12, "use_valve_shut": 0.03,
    "house_lets_by": 0.07, "meter_stuck": 0.01,
    "valve_known_tight": 0.3, "known_tight": 0.97, "not_known_tight": 0.88,
    "isolated_shows_leak": 0.95, "isolated_shows_none": 0.05, "not_isolated_shows": 0.35,
    "fitting_there": 0.4, "middle_valve": 0.35, "beside_line": 0.1,
}  # fmt: skip


@dataclass(frozen=True)
class Outcome:
    """What an action looks for that is no reading, and how often it finds it.

    Parameters
    ----------
    truths : tuple of str
        Kinds of truth that it looks for.
    right, wrong : float
        Probability that it finds something if one of them is true, and if none is.
    """

    truths: tuple[str, ...]
    right: float
    wrong: float


OUTCOMES = {
    "look_inside": Outcome(("inside",), 0.8, 0.03),
    "find_source": Outcome(("machine", "neighbour"), 0.7, 0.06),
    "shut_fitting": Outcome(("fitting",), 0.93, 0.03),
    "listen_beyond": Outcome(("beyond_start", "beyond_end", "inside"), 0.85, 0.1),
}
# Actions that leave readings or tests.
RECORDED = (
    "listen", "walk_on", "sweep", "air", "night", "probe", "tape", "read_meter", "close_valve",
)  # fmt: skip
STEPS_L = (0.1, 1.0, 10.0)
# Distance of the control of an air test, and of the stops at night or with a probe.
CONTROL_M, ABOUT_M = 9.0, 0.6
# Actions so near to one another are at one place.
SAME_PLACE_M = 2.0
# Places of a sweep to each side of the line; and the step where it goes further out, m.
TO_EACH_SIDE, FURTHER_M = 3, 1.0
NO_GEOMETRY = ("meter_tests", "isolation_tests", "closed_valves", "action_results")
_IDS = (
    "line_id", "contact_id", "valve_id", "walk_id", "reading_id", "test_id", "measured_at",
    "stop_id", "utility_id", "chainage_from", "chainage_toward",
)  # fmt: skip


@dataclass(frozen=True)
class Truth:
    """What is true of a line.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    place_m : float
        Chainage of what sounds, outside the line for what is beyond an end; NaN for silence.
    flow_l_h : float
        Water lost or used.
    beyond : str
        Explanation that names the end which the source is beyond; empty for the other kinds.
    """

    kind: str
    place_m: float = np.nan
    flow_l_h: float = 0.0

    @property
    def explanation(self) -> tuple[str, str]:
        """Kind of the true explanation, as in the layer, and the fitting or line that it names."""
        named = {
            "none": ("silence", ""), "inside": ("beyond_end", ""), "fitting": ("fitting", FITTING),
            "machine": ("unknown", ""), "neighbour": ("nearby_line", "S-2"),
        }  # fmt: skip
        return named.get(self.kind, (self.kind, ""))


@dataclass(frozen=True)
class Action:
    """An action on a line: its kind, and where.

    Parameters
    ----------
    kind : str
        As in the layer of actions.
    at_m : float
        NaN where it has no place along the line.
    contact, valve : str
    stops_m : tuple of float
        Stops to listen at.
    """

    kind: str
    at_m: float = np.nan
    contact: str = ""
    valve: str = ""
    stops_m: tuple[float, ...] = ()

    @property
    def key(self) -> tuple[str, str]:
        """What tells it from other actions of which no layer holds that they were done."""
        return self.kind, self.contact or self.valve or ("" if np.isnan(self.at_m) else
                                                         str(round(self.at_m)))  # fmt: skip


def draw_kind(rng: np.random.Generator, kinds: Mapping[str, float] = KINDS) -> str:
    """Draw what is true of a line."""
    share = np.array(list(kinds.values()))
    return str(rng.choice(list(kinds), p=share / share.sum()))


def draw_truth(rng: np.random.Generator, kind: str, length_m: float) -> Truth:
    """Draw where what is true of a line is, and how much water it takes."""
    places = {
        "none": (np.nan, np.nan), "beyond_start": (-4.0, -1.0),
        "beyond_end": (length_m + 1.0, length_m + 4.0), "inside": (length_m + 1.0, length_m + 5.0),
        "fitting": (4.0, length_m - 4.0),
    }  # fmt: skip
    low, high = places.get(kind, (1.5, length_m - 1.5))
    flow = RATES["flow_l_per_day"] / 24 * RATES["flow_factor"] ** rng.standard_normal()
    place = float(np.round(rng.uniform(low, high), 2)) if np.isfinite(low) else np.nan
    return Truth(kind, place, flow if kind in BEHIND_METER else 0.0)


@dataclass
class Spent:
    """What a crew has spent on a line."""

    readings: int = 0
    minutes: float = 0.0
    actions: list[str] = field(default_factory=list)
    minutes_of: dict[str, float] = field(default_factory=dict)

    def add(self, kind: str, minutes: float) -> None:
        """Spend minutes on an action."""
        self.minutes += minutes
        self.minutes_of[kind] = self.minutes_of.get(kind, 0.0) + minutes


class Site(ABC):
    """A line, what is true of it, and what a crew has recorded there so far.

    Parameters
    ----------
    rng : numpy.random.Generator
        Of the outcomes that are drawn from rates.
    truth : Truth
    length_m : float

    Attributes
    ----------
    sweep_step_m : float
        Between the places of a first sweep; as the advice says if nobody changes it.
    """

    sweep_step_m = 2 * FOOT_M

    def __init__(self, rng: np.random.Generator, truth: Truth, length_m: float) -> None:
        self.rng, self.truth, self.length_m = rng, truth, length_m
        self.spent, self.done, self.closed = Spent(), set[tuple[str, str]](), ""
        self.did: list[Action] = []
        self.rows: dict[str, list[dict[str, Any]]] = defaultdict(list)
        self._tight: dict[str, bool] = {}
        self._stuck = bool(rng.random() < RATES["meter_stuck"])
        self._step_l = float(rng.choice(STEPS_L))
        self._fittings()
        if rng.random() < RATES["first_meter_test"]:
            self._read_meter("open")

    # What a world has to know

    @abstractmethod
    def point(self, along_m: float) -> Point:
        """Give a place of the trace in the plane of the site."""

    @abstractmethod
    def now(self) -> pd.Timestamp:
        """Give the time."""

    @abstractmethod
    def at_fitting(self, along_m: float) -> float:
        """Give the level on a fitting, dB."""

    @abstractmethod
    def walk(self, stops_m: Array) -> Array:
        """Listen along the line; gives the levels shown."""

    @abstractmethod
    def sweep(self, at_m: float, across_m: Array) -> int:
        """Listen across the line; gives the number of readings."""

    @abstractmethod
    def air(self, at_m: float, control_m: float) -> int:
        """Read with compressed air off and on at a place and at a control."""

    @abstractmethod
    def night(self, stops_m: Array) -> int:
        """Listen again at night."""

    @abstractmethod
    def probe(self, stops_m: Array) -> int:
        """Listen with a probe pushed into the ground."""

    @abstractmethod
    def tape(self) -> int:
        """Tape the stops that were placed by satellite."""

    @abstractmethod
    def world_layers(self) -> dict[str, pd.DataFrame]:
        """Give routes, readings and further layers of the world."""

    # What is recorded

    def layers(self) -> dict[str, pd.DataFrame]:
        """Give the job of the line as recorded so far."""
        own = self.world_layers()
        crs = own["routes"].crs
        for name, rows in self.rows.items():
            table = pd.DataFrame(rows)
            own[name] = table if name in NO_GEOMETRY else gpd.GeoDataFrame(table, crs=crs)
        return own

    def _fittings(self) -> None:
        rng, length = self.rng, self.length_m
        self._contact(METER, "meter", 0.0)
        self._contact(OUTLET, "hose_bib", length - 0.5)
        there = self.truth.kind == "fitting" or rng.random() < RATES["fitting_there"]
        if there:
            own = self.truth.place_m if self.truth.kind == "fitting" else rng.uniform(3, length - 3)
            kinds = ("pressure_reducing_valve", "backflow_preventer", "stop_valve", "hydrant")
            chance = (
                (0.55, 0.2, 0.15, 0.1) if self.truth.kind == "fitting" else (0.2, 0.2, 0.4, 0.2)
            )
            self._contact(FITTING, str(rng.choice(kinds, p=chance)), float(own))
        self._valve(CURB, "curb_stop", 0.3)
        if rng.random() < RATES["middle_valve"]:
            self._valve(MIDDLE, "isolation", float(rng.uniform(0.35, 0.65) * length))
        self._valve(HOUSE, "house", length)

    def _contact(self, name: str, kind: str, at_m: float) -> None:
        self.rows["contacts"].append({
            "contact_id": name, "line_id": LINE, "kind": kind, "side": None,
            "sound_level": round(self.at_fitting(at_m)), "sound_unit": "db", "gain_db": 0.0,
            "time": self.now(), "geometry": self.point(at_m),
        })  # fmt: skip

    def _valve(self, name: str, kind: str, at_m: float) -> None:
        known = self.rng.random() < RATES["valve_known_tight"]
        tight = RATES["known_tight" if known else "not_known_tight"]
        self._tight[name] = bool(self.rng.random() < tight)
        self.rows["valves"].append({
            "valve_id": name, "line_id": LINE, "kind": kind, "normally_closed": False,
            "leaks_by": False if known else None, "geometry": self.point(at_m),
        })  # fmt: skip

    def _read_meter(self, valve: str, hours: float = 2.0) -> None:
        rng, truth = self.rng, self.truth
        passes = valve == "open" or truth.kind == "leak" or (
            rng.random() < RATES["house_lets_by"])  # fmt: skip
        flow = truth.flow_l_h * passes * np.exp(0.2 * rng.standard_normal())
        if rng.random() < RATES[f"use_valve_{valve}"]:
            flow += 10 * 3.0 ** rng.standard_normal()
        first = rng.uniform(200_000, 900_000)
        last = first + (0 if self._stuck else flow * hours)
        read = np.floor(np.array([first, last]) / self._step_l) * self._step_l
        begin = self.now()
        self.rows["meter_tests"].append({
            "line_id": LINE, "start_reading": round(read[0], 3), "end_reading": round(read[1], 3),
            "volume_unit": "l", "start_time": begin, "end_time": begin + pd.Timedelta(hours=hours),
            "water_used": False, "house_valve": valve, "resolution": self._step_l,
        })  # fmt: skip

    def _close(self, shut: list[str]) -> None:
        """Shut valves: the meter is read before them, or the pressure between them."""
        name = f"T{1 + len(self.rows['isolation_tests'])}"
        behind = CURB not in shut
        tight = all(self._tight[one] for one in shut)
        truth = self.truth
        places = [self.valve_m(one) for one in shut]
        low, high = (0.0, min(places)) if behind else (min(places), max(places))
        if not behind and len(shut) == 1:
            high = np.inf
        inside = truth.flow_l_h > 0 and bool(low <= truth.place_m <= high)
        chance = RATES["isolated_shows_leak" if inside else "isolated_shows_none"]
        if not tight:
            chance = RATES["not_isolated_shows"]
            chance = max(chance, RATES["isolated_shows_leak"]) if truth.flow_l_h > 0 else chance
        shows = self.rng.random() < chance
        begin = self.now()
        row = {"test_id": name, "start_time": begin, "settled": True}
        if behind:
            turned = max(truth.flow_l_h / 3, 3 * self._step_l) * shows
            row |= {"measured_at": METER, "measure": "meter", "before": 1000.0,
                    "after": round(1000.0 + np.ceil(turned / self._step_l) * self._step_l, 3),
                    "unit": "l", "end_time": begin + pd.Timedelta(minutes=20)}  # fmt: skip
        else:
            left = self.rng.uniform(0.1, 0.6) if shows else self.rng.uniform(0.97, 1.0)
            row |= {"measured_at": OUTLET, "measure": "pressure", "before": 400.0,
                    "after": round(400.0 * left), "unit": "kpa",
                    "end_time": begin + pd.Timedelta(minutes=20)}  # fmt: skip
        self.rows["isolation_tests"].append(row)
        self.rows["closed_valves"] += [{"test_id": name, "valve_id": one} for one in shut]

    def valve_m(self, valve: str) -> float:
        """Give the chainage of a valve."""
        [row] = [row for row in self.rows["valves"] if row["valve_id"] == valve]
        return self.chainage_m(row["geometry"])

    @abstractmethod
    def chainage_m(self, point: Point) -> float:
        """Give the chainage of a place."""

    # What a crew does

    def times(self, action: Action) -> int:
        """Give how often an action was done at about its place."""
        same = [one for one in self.did if (one.kind, one.contact, one.valve) ==
                (action.kind, action.contact, action.valve)]  # fmt: skip
        far = np.array([one.at_m - action.at_m for one in same])
        return int((~(np.abs(far) > SAME_PLACE_M)).sum())

    def across_m(self, action: Action) -> Array:
        """Give the places of a sweep: further out each time at one place."""
        times = self.times(action)
        step = self.sweep_step_m if times == 0 else FURTHER_M
        sides = TO_EACH_SIDE * max(times, 1)
        return step * np.arange(-sides, sides + 1)

    def do(self, action: Action) -> None:
        """Do an action, and record what it shows; `closed` says what ends the job."""
        self.spent.actions.append(action.kind)
        self.spent.readings += self._did(action)
        self.did.append(action)
        if action.kind in OUTCOMES:
            self.closed = self._outcome(action)
        elif action.kind not in RECORDED:
            self.done.add(action.key)

    def _did(self, action: Action) -> int:
        """Do an action; gives the number of readings."""
        ways: dict[str, Callable[[Action], int]] = {
            "listen": self._listened, "walk_on": self._listened,
            "sweep": lambda one: self.sweep(one.at_m, self.across_m(one)), "air": self._with_air,
            "night": lambda one: self.night(self._stops_of(one)),
            "probe": lambda one: self.probe(self._stops_of(one)),
            "tape": lambda _: self.tape(), "read_meter": self._metered,
            "close_valve": self._closed,
        }  # fmt: skip
        return ways[action.kind](action) if action.kind in ways else 0

    def _listened(self, action: Action) -> int:
        return len(self.walk(np.array(action.stops_m)))

    def _with_air(self, action: Action) -> int:
        away = CONTROL_M if action.at_m < self.length_m / 2 else -CONTROL_M
        return self.air(action.at_m, float(np.clip(action.at_m + away, 0.5, self.length_m - 0.5)))

    def _stops_of(self, action: Action) -> Array:
        """Give the stops of an action, or some about its place."""
        about = action.at_m + ABOUT_M * np.arange(-4, 5)
        return np.array(action.stops_m or about[(about >= 0) & (about <= self.length_m)])

    def _metered(self, _: Action) -> int:
        if not self.rows["meter_tests"]:
            self._read_meter("open", action_costs().table["read_meter"]["wait_minutes"] / 60)
        self._read_meter("shut", action_costs().table["read_meter"]["wait_minutes"] / 60)
        return 0

    def _closed(self, action: Action) -> int:
        self._close(action.valve.split(","))
        return 0

    def _outcome(self, action: Action) -> str:
        """Draw and record what an action shows: a verdict that ends the job, or none."""
        there = self.is_found_by(action)
        rate = OUTCOMES[action.kind].right if there else OUTCOMES[action.kind].wrong
        found = bool(self.rng.random() < rate)
        end = "start" if action.at_m < self.length_m / 2 else "end"
        self.rows["action_results"].append({
            "line_id": LINE, "action": action.kind, "result": "found" if found else "not_found",
            "contact_id": action.contact if action.kind == "shut_fitting" else None,
            "beyond": end if action.kind == "listen_beyond" else None, "time": self.now(),
        })  # fmt: skip
        return ("not_this_pipe" if there else "mistaken") if found else ""

    def is_found_by(self, action: Action) -> bool:
        """Whether an action looks for what is true."""
        truth = self.truth
        if truth.kind not in OUTCOMES[action.kind].truths:
            return False
        if action.kind == "shut_fitting":
            return action.contact in ("", FITTING)
        if action.kind == "listen_beyond" and np.isfinite(action.at_m):
            return (action.at_m < self.length_m / 2) == (truth.place_m < 0)
        return True


def prefixed(layers: Mapping[str, pd.DataFrame], prefix: str, shift_m: tuple[float, float]
             ) -> dict[str, pd.DataFrame]:  # fmt: skip
    """Rename what is in a job and move it, so that several make one job."""
    made = {}
    for name, table in layers.items():
        ids = {c: table[c].map(lambda name: f"{prefix}{name}", na_action="ignore").astype(object)
               for c in _IDS if c in table.columns}  # fmt: skip
        own = table.assign(**ids)
        if isinstance(own, gpd.GeoDataFrame):
            own = own.set_geometry(own.geometry.translate(*shift_m), crs=table.crs)
        made[name] = own
    return made


def joined(sites: Mapping[str, Site], apart_m: float = 300.0) -> dict[str, pd.DataFrame]:
    """Put the jobs of several sites into one, each with its name before its ids."""
    side = int(np.ceil(np.sqrt(max(len(sites), 1))))
    parts = defaultdict(list)
    for i, (prefix, site) in enumerate(sites.items()):
        shift = apart_m * (i // side), apart_m * (i % side)
        for name, table in prefixed(site.layers(), prefix, shift).items():
            parts[name].append(table)
    return {name: _concatenated(tables) for name, tables in parts.items()}


def _concatenated(tables: list[pd.DataFrame]) -> pd.DataFrame:
    filled = [table for table in tables if len(table)]
    return pd.concat(filled or tables[:1], ignore_index=True)
