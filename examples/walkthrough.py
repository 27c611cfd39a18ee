"""A whole job on one simulated line, step by step, from the meter test to the excavated leak.

Run ``python examples/walkthrough.py``. The place, the leak and every reading are invented.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

import leakgeo
from leakgeo.simulate import Conditions
from leakgeo.simulate.air import air_test
from leakgeo.simulate.job import fields_to_layers, local_plane
from leakgeo.simulate.site import draw_site
from leakgeo.simulate.write import write_job

if TYPE_CHECKING:
    from leakgeo.result import Result
    from leakgeo.simulate.site import Site

LINE, SEED, ROUNDS = "H-12", 4, 6
PLANE = local_plane(-87.3, 43.2)  # Open water of Lake Michigan: no real street.
CONDITIONS = Conditions(
    length_m=(24.0, 30.0), tape_share=1.0, scale_share=0.0, leak_share=1.0, material="pvc",
    other_source_share=0.0, unknown_gain_share=0.0, known_gain_share=0.0, surface="soil",
    depth_unknown_share=0.0, material_unknown_share=0.0,
)  # fmt: skip


@dataclass
class Crew:
    """A crew on a simulated line; its records so far are the next job.

    Parameters
    ----------
    site : Site
        The simulated line; only the readings on it go into the job.
    folder : Path
        Folder of the job.
    stops : ndarray of float, shape (n,)
        Chainages of the stops, in order of listening.
    more : dict of str to DataFrame
        Other layers of the job; ``air`` has the readings of the air test.
    """

    site: Site
    folder: Path
    stops: np.ndarray
    more: dict[str, pd.DataFrame]

    def job(self) -> Path:
        """Write all records as a job, and return its path."""
        walk = (np.arange(len(self.stops)) >= self.first_walk).astype(int)
        self.field = self.site.field(self.stops, walk)
        layers = fields_to_layers([self.field], plane=PLANE, line_ids=[LINE])
        layers.pop("truth")
        air = self.more.get("air")
        if air is not None:
            layers["readings"] = pd.concat([layers["readings"], air], ignore_index=True)
        rest = {name: layer for name, layer in self.more.items() if name != "air"}
        path = self.folder / "job.gpkg"
        write_job({**layers, **rest}, path)
        return path

    @property
    def first_walk(self) -> int:
        """Number of stops of the coarse walk."""
        return len(np.arange(0.6, self.site.truth.ground.length_m, 1.2))

    def place(self, chainage_m: float) -> shapely.Point:
        """Return the point at a chainage."""
        return shapely.LineString(self.site.route.trace_xy).interpolate(chainage_m)


def start(folder: Path) -> Crew:
    """Return a crew that has read the meter, listened at fittings, and made a coarse walk."""
    site = draw_site(np.random.default_rng(SEED), CONDITIONS)
    length, leak = site.truth.ground.length_m, site.truth.leak_chainage_m
    begin = pd.Timestamp("2025-05-05T13:00Z")
    meter = pd.DataFrame({
        "line_id": [LINE], "start_reading": [51_204.3], "end_reading": [51_239.8],
        "volume_unit": ["gal"], "start_time": [begin], "end_time": [begin + pd.Timedelta("2h")],
        "water_used": [False],
    })  # fmt: skip
    crew = Crew(site, folder, np.arange(0.6, length, 1.2), {"meter_tests": meter})
    fittings = {"curb_stop": 0.3, "meter": 0.4 * length, "hose_bib": length - 0.5}
    crew.more["contacts"] = gpd.GeoDataFrame({
        "contact_id": list(fittings), "line_id": LINE, "kind": list(fittings), "sound_unit": "db",
        "sound_level": [round(60.0 - 1.5 * abs(at - leak)) for at in fittings.values()],
        "gain_db": 20.0,
    }, geometry=[crew.place(at) for at in fittings.values()], crs=PLANE)  # fmt: skip
    gas = crew.place(0.75 * length).buffer(6.0).boundary
    crew.more["utilities"] = gpd.GeoDataFrame(
        {"utility_id": ["G-1"], "kind": ["gas_oil_steam"], "response": ["none"]},
        geometry=[gas], crs=PLANE)  # fmt: skip
    return crew


def print_section(title: str, *lines: object) -> None:
    """Print a heading, and lines under it."""
    print(f"\n{title}", *(f"  {line}" for line in lines), sep="\n")


def survey(crew: Crew) -> None:
    """Print the results of the meter test and of the first survey."""
    result = leakgeo.survey(leakgeo.meter(crew.job(), price_per_m3=3.2, currency="USD"))
    meter = result["meter_results"].iloc[0]
    print_section("1. The meter", meter["message"],
                  f"{meter['cost_per_year']:,.0f} {meter['currency']} a year.")  # fmt: skip
    ranking = result["contact_ranking"].sort_values("rank")
    print_section("2. The fittings, loudest first", ", ".join(ranking["contact_id"]),
                  *result["survey_bracket"]["message"].dropna().head(2))  # fmt: skip


def follow_advice(crew: Crew) -> Result:
    """Take the proposed readings until the leak is located or no more are proposed."""
    for round_ in range(ROUNDS):
        result = leakgeo.advise(crew.job(), how_many=4)
        line, zone_m = result["lines"].iloc[0], result["search_zones"]["length_m"].sum()
        print_section(f"3.{round_ + 1} After {len(crew.stops)} stops",
                      f"{line['status']}; the 90 % zone is {zone_m:.2f} m long.")  # fmt: skip
        proposed = result["next_readings"].sort_values("order")["chainage_m"]
        if line["status"] == "located" or proposed.empty:
            break
        print(f"  Listen next at {', '.join(f'{x:.2f} m' for x in proposed)}.")
        crew.stops = np.append(crew.stops, proposed)
    print_section("4. The mark", line["message"])
    return result


def prove(crew: Crew, located: Result) -> Result:
    """Inject air, and compare the mark with a control point at the farther end of the line."""
    mark = float(located["marks"]["chainage_m"].iloc[0])
    length = crew.site.truth.ground.length_m
    control = length - 0.5 if mark < length / 2 else 0.5
    readings = fields_to_layers([crew.field], plane=PLANE, line_ids=[LINE])["readings"]
    pressure = float(crew.field.pressure_kpa) + 50.0
    crew.more["air"] = air_test(
        np.random.default_rng(SEED), crew.field, readings, (mark, control), pressure
    )
    result = leakgeo.confirm(crew.job())
    test = result["air_tests"].set_index("role").loc["mark"]
    print_section(
        "5. Air on and off", test["message"], f"Verdict: {test['verdict']}.", test["cautions"]
    )
    return result


def dig(crew: Crew, proven: Result) -> Result:
    """Print the holds of the dig; then record the excavation and compare it with the mark."""
    cleared = leakgeo.clearance(proven)
    hole = cleared["dig_zones"].iloc[0]
    print_section("6. The dig", f"Status: {hole['dig_status']}. Clear before digging:",
                  *(f"- {hold}" for hold in cleared["holds"]["message"].head(4)))  # fmt: skip
    crew.more["dig_outcomes"] = gpd.GeoDataFrame(
        {"line_id": [LINE], "found": ["leak"], "crew": ["blue van"]},
        geometry=[crew.place(crew.site.truth.leak_chainage_m)], crs=PLANE)  # fmt: skip
    leakgeo.write_result(cleared, crew.folder / "result")
    learned = leakgeo.learn(crew.job(), results=crew.folder / "result")
    case = learned["learned_cases"].iloc[0]
    print_section("7. The leak", f"Found {case['error_m']:.2f} m from the mark.",
                  *(f.problem for f in learned.faults if f.layer == "dig_outcomes"))  # fmt: skip
    return learned


def main() -> Result:
    """Run the whole job, and return the last result."""
    with tempfile.TemporaryDirectory() as folder:
        print("Simulated: an invented place, an invented leak, invented readings.")
        crew = start(Path(folder))
        survey(crew)
        located = follow_advice(crew)
        return dig(crew, prove(crew, located))


if __name__ == "__main__":
    main()
