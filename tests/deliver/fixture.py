"""A hand-built result on an invented street, to write maps and reports of."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import CRS
from shapely import LineString, Point
from shapely.ops import substring

from leakgeo.job.model import Job
from leakgeo.reason import Reason, columns_of
from leakgeo.result import Result

METRE = CRS.from_epsg(32616)
FEET = CRS.from_epsg(6461)  # Indiana West, US survey feet
X0, Y0 = 500_000.0, 4_440_000.0
HOSTILE = (
    "</script><script>window.hit=1</script><img src=x onerror=window.hit=1>"
    "{{7*7}}{% raw %}{# &amp;<b>"
)
# status, priority, true leak (m), dig_status of each invented line
STREET = {
    "Alder 12": ("located", 1, 14.2, "hold"),
    "Alder 14": ("located", 2, 21.7, "no_hold_recorded"),
    "Ulica Źródlana 3": ("ambiguous", 3, 9.0, None),
    "شارع النخيل ١٢": ("keep_listening", 4, 18.0, None),
    "Οδός Ερμού 7": ("no_leak_heard", 5, None, None),
    "улица Садовая 9": ("rejected", 6, None, None),
}


def street_route(row: int) -> LineString:
    """Give a service line 30 m long with a bend, the `row`-th along the street."""
    x, y = X0 + 22.0 * (row % 40), Y0 + 60.0 * (row // 40)
    return LineString([(x, y), (x, y + 18.0), (x + 12.0, y + 18.0)])


def street(names: dict[str, tuple] | None = None) -> Result:
    """Build the result of `names` (default `STREET`), every layer filled."""
    names = STREET if names is None else names
    routes = gpd.GeoDataFrame(
        {
            "line_id": list(names),
            "material": "copper",
            "diameter_mm": 19.05,
            "depth_m": 0.9,
            "pressure_kpa": 413.7,
            "position_sd_m": 0.3,
            "reason": None,
        },
        geometry=[street_route(i) for i in range(len(names))],
        crs=METRE,
    )
    lines = list(zip(names, names.values(), routes.geometry, strict=True))
    readings = pd.concat([_readings(*line) for line in lines], ignore_index=True)
    located = [line for line in lines if line[1][0] == "located"]
    layers = {
        "readings_on_route": readings,
        "profile": pd.concat([_profile(*line) for line in lines if line[1][0] != "rejected"]),
        "search_zones": _zones([line for line in lines if line[1][2]]),
        "marks": _marks(located),
        "next_readings": _next([line for line in lines if line[1][2]]),
        "dig_zones": _dig_zones(located),
        "holds": _holds(located),
        "cautions": _cautions(located),
        "conflicts": _conflicts(located),
        "contact_ranking": _contacts(lines),
        "survey_bracket": gpd.GeoDataFrame(
            {"line_id": [n for n, *_ in lines]},
            geometry=[substring(r, 2, 28) for *_, r in lines],
            crs=METRE,
        ),
        "lines": _lines(names),
    }
    job = Job(
        routes=routes,
        readings=readings.drop(columns=["chainage_m", "used"]),
        crs=METRE,
        output_crs=FEET,
        contacts=layers["contact_ranking"],
        utilities=_utilities(lines),
        counts={"routes": len(routes), "readings": len(readings)},
        source="simulated_street.gpkg",
        digest="3f" * 32,
    )
    settings = {"locate": {"leak_prior": 0.9}, "clearance": {"rule": "generic"}}
    return Result(job, layers, parameters=settings)


def hostile_street() -> Result:
    """Give the street with markup and script in every text of every layer."""
    result = street({HOSTILE + str(k): line for k, line in enumerate(STREET.values())})

    def poison(frame: pd.DataFrame) -> pd.DataFrame:
        keep = {"line_id", "status", "dig_status", "severity", "limited_by"}
        texts = [c for c in frame if frame[c].map(lambda v: isinstance(v, str)).any()]
        text = {c: HOSTILE + "; more" for c in texts if c not in keep}
        for column in text:
            if column.endswith("values"):
                text |= columns_of(column.removesuffix("values").rstrip("_") or "message",
                                   [as_given(HOSTILE + "; more")] * len(frame))  # fmt: skip
        return frame.assign(**text)

    job = replace(
        result.job,
        source=HOSTILE,
        routes=poison(result.job.routes),
        utilities=poison(result.job.utilities),
    )
    layers = {name: poison(frame) for name, frame in result.layers.items()}
    return replace(result, job=job, layers=layers)


def many_lines(count: int) -> Result:
    """Give a street of `count` lines (an even number): located and ambiguous by turns."""
    pair = street({"0": ("located", 1, 10.0, "hold"), "1": ("ambiguous", 2, 10.0, None)})

    def repeated(frame: pd.DataFrame) -> pd.DataFrame:
        turn = np.repeat(np.arange(count // 2), len(frame))
        many = frame.iloc[np.tile(np.arange(len(frame)), count // 2)].reset_index(drop=True)
        number = 2 * turn + many["line_id"].astype(int)
        many["line_id"] = number.map("L-{:05d}".format)
        if "priority" in many:
            many["priority"] = number + 1
        if isinstance(many, gpd.GeoDataFrame):
            step = np.column_stack([44.0 * (turn % 20), 60.0 * (turn // 20)])
            each = shapely.get_num_coordinates(many.geometry.to_numpy())
            moved = shapely.get_coordinates(many.geometry.to_numpy()) + np.repeat(
                step, each, axis=0
            )
            many = many.set_geometry(
                shapely.set_coordinates(many.geometry.to_numpy().copy(), moved)
            )
            many = many.set_crs(METRE)
        return many

    job = replace(pair.job, routes=repeated(pair.job.routes), readings=repeated(pair.job.readings))
    return Result(job, {name: repeated(frame) for name, frame in pair.layers.items()})


def _hump(chainage: np.ndarray, leak: float | None) -> np.ndarray:
    rise = 0.0 if leak is None else 22.0 * np.exp(-np.abs(chainage - leak) / 3.0)
    return 38.0 + rise


def _readings(name: str, line: tuple, route: LineString) -> gpd.GeoDataFrame:
    leak = line[2]
    coarse = np.arange(0.5, 30.0, 1.5)
    at = np.sort(np.r_[coarse, [] if leak is None else leak + np.arange(-1.5, 1.6, 0.3048)])
    noise = np.random.default_rng(7).normal(0, 0.8, at.size)
    used = np.ones(at.size, bool)
    used[3] = False
    return gpd.GeoDataFrame(
        {
            "reading_id": [f"R{k}" for k in range(at.size)],
            "line_id": name,
            "walk_id": "w1",
            "chainage_m": at,
            "chainage_sd_m": 0.1,
            "offset_m": 0.2,
            "level_comparable_db": np.round(_hump(at, leak) + noise, 1),
            "used": used,
            **columns_of("reason", [None if k else Reason("set_aside") for k in used]),
            "time": pd.Timestamp("2031-05-12 08:10", tz="UTC") + pd.to_timedelta(at, unit="min"),
        },
        geometry=[route.interpolate(a) for a in at],
        crs=METRE,
    )


def _profile(name: str, line: tuple, route: LineString) -> gpd.GeoDataFrame:
    at = np.arange(0.0, 30.01, 0.25)
    leak = line[2]
    spread = 0.35 if line[0] == "located" else 2.0
    density = np.full(at.size, 0.001)
    if leak is not None:
        density += np.exp(-0.5 * ((at - leak) / spread) ** 2) / (spread * 2.5)
    return gpd.GeoDataFrame(
        {
            "line_id": name,
            "chainage_m": at,
            "level_comparable_db": _hump(at, leak),
            "level_comparable_sd_db": 1.0 + 0.3 * np.abs(np.sin(at)),
            "leak_density_per_m": density,
        },
        geometry=[route.interpolate(a) for a in at],
        crs=METRE,
    )


def _zones(lines: list[tuple]) -> gpd.GeoDataFrame:
    rows = []
    for name, line, route in lines:
        shares = (
            [(-0.4, 0.7112, 0.9)] if line[0] == "located" else [(-1.5, 2.5, 0.61), (7, 1.5, 0.3)]
        )
        total = 0.0
        for rank, (start, length, p) in enumerate(shares, 1):
            a, total = line[2] + start, total + p
            piece = substring(route, a, a + length).buffer(0.8, cap_style="flat")
            rows.append((name, rank, p, 0.97 * p, total, a, a + length, length, 0.8, piece))
    columns = ["line_id", "rank", "probability", "probability_leak_here",
               "cumulative_probability", "from_chainage_m", "to_chainage_m", "length_m",
               "half_width_m", "geometry"]  # fmt: skip
    return gpd.GeoDataFrame(pd.DataFrame(rows, columns=columns), crs=METRE)


def _marks(lines: list[tuple]) -> gpd.GeoDataFrame:
    at = [line[2] for _, line, _ in lines]
    return gpd.GeoDataFrame(
        {
            "line_id": [name for name, *_ in lines],
            "rank": 1,
            "chainage_m": at,
            "along_sd_m": 0.18,
            "along_95_m": 0.35,
            "across_95_m": 0.75,
            "probability_within_1ft": 0.81,
            "limited_by": "position",
            "azimuth_deg": [0.0 if a < 18 else 90.0 for a in at],
        },
        geometry=[route.interpolate(a) for (*_, route), a in zip(lines, at, strict=True)],
        crs=METRE,
    )


def _next(lines: list[tuple]) -> gpd.GeoDataFrame:
    rows = [
        (name, k + 1, line[2] + step, 0.4 / (k + 1), route.interpolate(line[2] + step))
        for name, line, route in lines
        for k, step in enumerate((0.6, -0.9, 1.8))
    ]
    columns = ["line_id", "order", "chainage_m", "expected_gain_bits", "geometry"]
    why = columns_of("reason", [Reason("beside_stretch")] * len(rows))
    return gpd.GeoDataFrame(pd.DataFrame(rows, columns=columns).assign(**why), crs=METRE)


def _dig_zones(lines: list[tuple]) -> gpd.GeoDataFrame:
    held = [line[3] == "hold" for _, line, _ in lines]
    worst = [HOLDS[0] if h else None for h in held]
    return gpd.GeoDataFrame(
        {
            "line_id": [name for name, *_ in lines],
            "depth_m": 1.6,
            "dig_status": [line[3] for _, line, _ in lines],
            "holds": [len(HOLDS) if h else 0 for h in held],
            **columns_of("worst_hold", worst),
            "rule": "generic",
        },
        geometry=[route.interpolate(line[2]).buffer(1.3, cap_style="square")
                  for _, line, route in lines],
        crs=METRE,
    )  # fmt: skip


def as_given(text: str) -> Reason:
    """Return a reason whose message is a text of the test."""
    return Reason("as_given", text=text, remedy="")


def utility(kind: str, name: str, owner: str) -> Reason:
    """Name a utility as the clearance does."""
    return Reason("utility_name", kind=kind, utility=name, owner=owner)


HOLDS = (
    Reason("no_answer", utility=utility("electric", "U-E1", "Northlight Power")),
    Reason("inside_tolerance_zone", utility=utility("gas", "U-G1", "Northlight Gas")),
)


def holds_of(line_id: str, holds: list[Reason] | tuple[Reason, ...]) -> pd.DataFrame:
    """Give the holds of one line as a table."""
    return _numbered([(line_id, hold) for hold in holds])


def _numbered(rows: list[tuple[str, Reason]]) -> pd.DataFrame:
    table = pd.DataFrame({"line_id": pd.Series([name for name, _ in rows], dtype=object)})
    order = table.groupby("line_id").cumcount() + 1
    return table.assign(order=order, **columns_of("message", [said for _, said in rows]))


def _holds(lines: list[tuple]) -> pd.DataFrame:
    table = _numbered([(n, hold) for n, line, _ in lines if line[3] == "hold" for hold in HOLDS])
    return table.assign(utility_id=np.resize(["U-E1", "U-G1"], len(table)))


def _cautions(lines: list[tuple]) -> pd.DataFrame:
    said = (Reason("dig_deep", depth_m=1.6), Reason("spoil", back_m=0.61))
    return _numbered([(name, each) for name, *_ in lines for each in said])


def _conflicts(lines: list[tuple]) -> gpd.GeoDataFrame:
    rows = []
    for name, line, route in lines:
        if line[3] != "hold":
            continue
        spot = route.interpolate(line[2])
        west, east = Point(spot.x - 0.7, spot.y), Point(spot.x + 1.1, spot.y)
        rows += [
            (name, "U-G1", "gas_oil_steam", 0.31, "inside_tolerance", "marked", west.buffer(0.5)),
            (name, "U-E1", "electric", 0.9, "unknown_position", "none", east.buffer(0.5)),
        ]
    columns = ["line_id", "utility_id", "kind", "clearance_m", "severity", "response", "geometry"]
    table = pd.DataFrame(rows, columns=columns)
    do = columns_of("action", [Reason(f"action_{severity}") for severity in table["severity"]])
    return gpd.GeoDataFrame(table.assign(**do), crs=METRE)


def _utilities(lines: list[tuple]) -> gpd.GeoDataFrame:
    kinds = ["gas_oil_steam", "electric", "communications", "potable_water", "reclaimed_water",
             "sewer_drain", "unknown"]  # fmt: skip
    y = [14.2, 15.1, 2.0, 4.0, 6.0, 24.0, 26.0]
    end = X0 + 22.0 * min(len(lines), 40)
    return gpd.GeoDataFrame(
        {
            "utility_id": [f"U-{k}" for k in kinds],
            "kind": kinds,
            "owner": "Northlight Utilities (invented)",
            "quality_level": "D",
            "response": [None, "none", "marked", "clear", None, "marked", None],
        },
        geometry=[LineString([(X0 - 5, Y0 + v), (end, Y0 + v)]) for v in y],
        crs=METRE,
    )


def _contacts(lines: list[tuple]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {
            "contact_id": [f"C{i}" for i in range(len(lines))],
            "line_id": [name for name, *_ in lines],
            "kind": "meter",
            "rank": range(1, len(lines) + 1),
            "level_db": 44.0,
        },
        geometry=[route.interpolate(0.0) for *_, route in lines],
        crs=METRE,
    )


def _taped(by_m: float) -> Reason:
    ends = [Reason("fitting", kind=kind, contact="C-1") for kind in ("meter", "hydrant")]
    return Reason("taped_place", by_m=by_m, fitting=ends[0], toward=ends[1])


def _lines(names: dict[str, tuple]) -> pd.DataFrame:
    why = {
        "located": Reason("mark", place=_taped(14.2), chainage_m=14.2, within_foot=0.81),
        "ambiguous": Reason("likeliest", Reason("limited_by_position"), place=_taped(9.0),
                            chainage_m=9.0, within_foot=0.3),
        "keep_listening": Reason("likeliest", Reason("limited_by_spacing"), place=_taped(18.0),
                                 chainage_m=18.0, within_foot=0.2),
        "no_leak_heard": Reason("no_leak_heard"),
        "rejected": as_given("Only two usable readings; at least four are needed."),
    }  # fmt: skip
    status = [line[0] for line in names.values()]
    return pd.DataFrame(
        {
            "line_id": list(names),
            "status": status,
            "leak_probability": [0.97 if line[2] else 0.04 for line in names.values()],
            "chainage_m": [line[2] if line[0] == "located" else None for line in names.values()],
            "loss_l_per_day": [4321.0 if line[2] else None for line in names.values()],
            "priority": [line[1] for line in names.values()],
            "conflicts": [2 if line[3] == "hold" else 0 for line in names.values()],
            "dig_status": [line[3] for line in names.values()],
            **columns_of("message", [why[s] for s in status]),
        }
    )


def surveyed_street() -> Result:
    """Return the street with a survey, a meter test, an air test and a way to improve."""
    result = street()
    route = result.job.routes.geometry.iloc[0]
    stretches = [(4.0, 16.0, 0.2, 2), (16.0, 28.0, 0.7, 1)]
    bracket = gpd.GeoDataFrame(
        {
            "line_id": "Alder 12",
            "order": [order for *_, order in stretches],
            "from_chainage_m": [a for a, *_ in stretches],
            "to_chainage_m": [b for _, b, *_ in stretches],
            "probability": [p for _, _, p, _ in stretches],
            **columns_of("message", [as_given("Between two fittings.")] * 2),
        },
        geometry=[substring(route, a, b) for a, b, *_ in stretches],
        crs=METRE,
    )
    bracket.loc[1, "from_chainage_m"] = 4.0
    air = gpd.GeoDataFrame(
        {
            "line_id": ["Alder 12"], "role": ["mark"], "chainage_m": [14.2],
            "verdict": ["confirmed"],
            **columns_of("message", [Reason("air_change", change_db=11.2, pairs=3)]),
        },
        geometry=[route.interpolate(14.2)], crs=METRE,
    )  # fmt: skip
    meter = pd.DataFrame({"line_id": ["Alder 12"], "verdict": ["loss_shown"],
                          "loss_l_per_day": [4321.0], **columns_of("message", [Reason(
                              "loss", loss_l=4321.0, low_l=4321.0, high_l=4321.0)])})  # fmt: skip
    effect = Reason("effect_less", before_m=0.5, after_m=0.2)
    improvements = pd.DataFrame({"line_id": ["Alder 12"], "order": [1],
                           **columns_of("why", [Reason("because_deep")]),
                           **columns_of("message", [
                               Reason("improvement_night", quieter_db=10.0, effect=effect)]),
                           "expected_sd_before_m": [0.5], "expected_sd_after_m": [0.2],
                           })  # fmt: skip
    return result.adding({"survey_bracket": bracket, "air_tests": air, "meter_results": meter,
                          "improvements": improvements})  # fmt: skip


def advised_street() -> Result:
    """Return the street with actions and explanations of the line with several places."""
    result = street()
    line = next(name for name, (status, *_) in STREET.items() if status == "ambiguous")
    other, fitting = "Alder 12", Reason("fitting", kind="meter", contact="C2")
    place = Reason("taped_place", by_m=1.0, fitting=fitting, toward=Reason("end_of_route"))
    actions = pd.DataFrame({
        "line_id": line, "order": [2, 1, 3, 4, 5],
        "action": ["listen", "sweep", "shut_fitting", "trickle", "night"],
        "chainage_m": [np.nan, 9.0, 4.0, np.nan, np.nan],
        "contact_id": [None, None, "C2", "C2", None],
        "expected_gain_bits": [0.5, 1.0, 0.001, np.nan, 0.2],
        "minutes": [4.2, 7.0, 25.0, 8.0, 90.0],
        "basis": ["model", "assumed", "assumed", "common_practice", "model"],
        **columns_of("message", [
            Reason("listen_to_decide", stops=3), Reason("sweep_across", place=place),
            Reason("shut_fitting", fitting=fitting), as_given("Open a tap."),
            Reason("next_action", action="night")]),
    })  # fmt: skip
    may_be = pd.DataFrame({
        "line_id": line,
        "kind": ["leak", "silence", "nearby_line", "fitting", "unknown"],
        "other_line_id": [None, None, other, None, None],
        "contact_id": [None, None, None, "C2", None],
        "chainage_m": [9.0, np.nan, 14.2, 4.0, np.nan],
        "probability": [0.5, 0.06, 0.22, 0.18, 0.04],
    })  # fmt: skip
    return result.adding({"next_actions": actions, "explanations": may_be})
