"""The step test of a job: an invented grid, searched to the end, and what its results may be."""

from __future__ import annotations

from dataclasses import replace

import networkx as nx
import numpy as np
import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.deliver.geopackage.styles import styles_of
from leakgeo.errors import ParameterError
from leakgeo.find.advise.action_costs import action_costs
from leakgeo.job.read import read_job
from leakgeo.reason import reasons_in
from leakgeo.wording import wording
from tests.job import jobs
from tests.test_cli import leakgeo_command

SIDE = 60.0
# A main F feeds a grid of 3 x 3 nodes, which a second one, G, joins at its far corner; B leads on
# to pipes of another district, N.
ROUTES = {
    "F": [(-1, 0), (0, 0)], "G": [(3, 2), (2, 2)], "B": [(2, 0), (3, 0)], "N": [(3, 0), (3, -1)],
    **{f"H{y}{x}": [(x, y), (x + 1, y)] for y in range(3) for x in range(2)},
    **{f"U{x}{y}": [(x, y), (x, y + 1)] for y in range(2) for x in range(3)},
}  # fmt: skip
VALVES = {f"V-{line}": (line, 20.0) for line in
          ("H00", "H01", "H10", "H20", "H21", "U00", "U01", "U10", "U20", "U21")}  # fmt: skip
OTHERS = {"V-B": ("B", 40.0), "V-G": ("G", 50.0), "V-N": ("N", 30.0)}
CONTACTS = {"C-1": ("F", 30.0), "C-2": ("G", 30.0)}
ONE = {"inlets": "C-1", "boundary": "V-B,V-G"}
BOTH = {"inlets": "C-1,C-2", "boundary": "V-B"}


def at(line, chainage):
    ends = shapely.LineString(np.array(ROUTES[line]) * SIDE + [jobs.EAST, jobs.NORTH])
    return ends.interpolate(chainage)


def points(places, **columns):
    lines = [line for line, _ in places.values()]
    return jobs.layer([at(*place) for place in places.values()], line_id=lines, **columns)


@pytest.fixture(name="layers", scope="module")
def _layers():
    valves = {**VALVES, **OTHERS}
    shapes = [shapely.LineString([at(n, 0.0), at(n, 999.0)]) for n in ROUTES]
    return {
        "routes": jobs.layer(shapes, line_id=list(ROUTES), material="cast_iron",
                             position_sd_m=0.1),
        "readings": jobs.layer([at("F", 5.0)], reading_id=["R1"], line_id=["F"],
                               sound_level=[30.0], sound_unit=["db"]),
        "valves": points(valves, valve_id=list(valves), kind="isolation", leaks_by=False),
        "contacts": points(CONTACTS, contact_id=list(CONTACTS), kind="other", sound_level=3.0,
                           sound_unit="db"),
    }  # fmt: skip


@pytest.fixture(name="job", scope="module")
def _job(layers):
    return read_job(layers)


def with_tests(job, rows):
    """Give a job with tests: inlet, valves that were shut, flow before and after, and more."""
    start = pd.to_datetime(["2026-03-01T01:00Z"] * len(rows))
    start += pd.to_timedelta([row[4].get("hour", k) for k, row in enumerate(rows)], unit="h")
    more = pd.DataFrame([row[4] for row in rows]).drop(columns="hour", errors="ignore")
    names = [f"T{k:02d}" for k in range(len(rows))]
    tests = pd.DataFrame({
        "test_id": names, "measured_at": [row[0] for row in rows], "measure": "flow",
        "before": [row[2] for row in rows], "after": [row[3] for row in rows],
        "unit": "l_per_min", "start_time": start, "end_time": start + pd.Timedelta(minutes=20),
        "settled": True, "reason": None,
    })  # fmt: skip
    shut = pd.DataFrame(
        [(name, v) for name, row in zip(names, rows, strict=True) for v in row[1]],
        columns=["test_id", "valve_id"],
    )
    tests = tests.assign(**{c: more[c].combine_first(tests.get(c)) for c in more})
    return replace(job, isolation_tests=tests, closed_valves=shut.assign(reason=None))


def one(at_inlet, shut, *flows, **more):
    return at_inlet, shut, *flows, more


def supplied(shut, line, chainage, sources):
    """Tell by networkx whether water gets to a place with some valves shut."""
    on = {own: (name, m) for name, (own, m) in {**VALVES, **OTHERS}.items()}
    graph = nx.Graph()
    for own, (a, b) in ROUTES.items():
        graph.add_edge(a, (own, 0))
        graph.add_edge((own, 1), b)
        if own not in on or on[own][0] not in shut:
            graph.add_edge((own, 0), (own, 1))
    side = int(line in on and chainage > on[line][1])
    return any(nx.has_path(graph, ROUTES[source][0], (line, side)) for source in sources)


def searched(job, given, line, chainage, use=0.0):
    """Search for a loss of 30 l/min, the use being spread along the pipes."""
    inlets = given["inlets"].split(",")
    closed = given["boundary"].split(",")
    rows, sources = [], [CONTACTS[name][0] for name in inlets]
    for turn in range(20):
        result = leakgeo.steptest(
            with_tests(job, rows) if rows else job, **given, use_l_per_min=use
        )
        step = result["district_steps"].iloc[0]
        assert step["closures_made"] == turn
        if step["valves"] is None:
            return result
        shut = step["valves"].split(", ")
        loss = 30.0 * supplied({*shut, *closed}, line, chainage, sources)
        dry = [n for n, m, size in halves()
               if supplied(set(closed), n, m, sources)
               and not supplied({*shut, *closed}, n, m, sources) for _ in range(size)]  # fmt: skip
        left = use * (1.0 - len(dry) / DISTRICT_M[given["inlets"]])
        each = 1.0 / len(inlets)
        rows += [one(inlet, shut, (30.0 + use) * each, (loss + left) * each, hour=turn)
                 for inlet in inlets]  # fmt: skip
    raise AssertionError("the search does not end")


def halves():
    """Give a place on each side of every valve, and how many metres are there."""
    for own in ROUTES:
        end = 20 if own[0] in "HU" and f"V-{own}" in VALVES else 30
        yield own, 1.0, end
        yield own, 59.0, 60 - end


# Pipe between inlets and boundary: 12 pipes of the grid, half of F, and parts of G and B.
DISTRICT_M = {"C-1": 12 * 60 + 30 + 10 + 40, "C-1,C-2": 12 * 60 + 30 + 30 + 40}


@pytest.mark.parametrize(
    ("given", "line", "chainage", "code"),
    [
        (ONE, "H20", 50.0, "district_found"),
        (ONE, "U00", 10.0, "district_found"),
        # More valves than may be shut are around its middle, and no inlet is cut off.
        (BOTH, "U21", 40.0, "district_ends"),
        (BOTH, "H11", 30.0, "district_ends"),
    ],
)
def test_a_loss_in_a_grid_is_found(job, given, line, chainage, code):
    result = searched(job, given, line, chainage)
    segments = result["district_segments"]
    on = segments[segments["line_id"] == line]
    [own] = on[on["from_chainage_m"].le(chainage) & on["to_chainage_m"].ge(chainage)].index
    likely = segments[segments["likely"]]
    assert segments.loc[own, "likely"]
    assert (likely["segment"].nunique() == 1) == (code == "district_found")
    [reason] = reasons_in(result["district_steps"], "message")
    assert reason.code == code
    assert dict(reason.values)["segment"] == segments.loc[own, "segment"]
    assert dict(reason.values)["probability"] == pytest.approx(segments["probability"].max())
    assert dict(reason.then[0].values)["lines"][0] in set(likely["line_id"])
    assert result["district_steps"][["expected_gain_bits", "minutes"]].isna().all(axis=None)
    assert result.faults == ()


def test_plain_use_is_taken_off(job):
    found = searched(job, ONE, "H20", 50.0, use=50.0)["district_segments"]
    assert "H20" in set(found[found["likely"]]["line_id"])
    assert found[found["likely"]]["segment"].nunique() == 1


def test_segments_are_the_pipe_between_inlets_and_boundary(job):
    segments = leakgeo.steptest(job, **ONE)["district_segments"]
    assert segments["length_m"].sum() == pytest.approx(DISTRICT_M["C-1"], rel=1e-3)
    assert "N" not in set(segments["line_id"])
    assert segments.length.to_numpy() == pytest.approx(segments["length_m"], rel=2e-3)
    each = segments.drop_duplicates("segment")
    assert each["probability"].sum() == pytest.approx(1.0)
    long = segments.groupby("segment")["length_m"].sum() / segments["length_m"].sum()
    assert each.set_index("segment")["probability"].to_numpy() == pytest.approx(long)
    both = leakgeo.steptest(job, **BOTH)["district_segments"]
    assert both["length_m"].sum() == pytest.approx(DISTRICT_M["C-1,C-2"], rel=1e-3)


def test_the_next_closure_says_what_to_shut_and_read_with_its_cautions(job):
    steps = leakgeo.steptest(job, **BOTH)["district_steps"]
    valves = steps["valves"].item().split(", ")
    assert set(valves) <= set(VALVES)
    assert steps["order"].tolist() == [1]
    assert steps["minutes"].item() == action_costs().minutes("close_valve", valves=len(valves))
    assert 0.0 < steps["expected_gain_bits"].item() <= 1.0
    [reason] = reasons_in(steps, "message")
    for language, caution in (("en", "hospitals"), ("es", "hospitales")):
        text = wording("si", language).text(reason)
        assert all(name in text for name in [*valves, "C-1", "C-2", caution])


def test_a_valve_that_passes_water_is_not_proposed(job):
    first = leakgeo.steptest(job, **ONE)["district_steps"]["valves"].item().split(", ")
    stuck = job.valves.assign(leaks_by=job.valves["valve_id"].isin(first[:1]))
    again = leakgeo.steptest(replace(job, valves=stuck), **ONE)
    assert first[0] not in again["district_steps"]["valves"].item()


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"measure": "pressure"}, "measure"),
        ({"measure": "meter"}, "measure"),
        ({"after": 45.0}, "rises"),
        ({"before": 9.0, "after": 2.0}, "no_loss"),
    ],
)
def test_a_test_that_shows_nothing_is_told(job, more, why):
    row = one("C-1", ["V-H00", "V-U00"], 30.0, 0.0, **more)
    result = leakgeo.steptest(with_tests(job, [row]), **ONE, use_l_per_min=10.0)
    assert result["district_steps"]["closures_made"].tolist() == [0]
    assert [dict(f.reason.values) for f in result.faults] == [{"why": why}]
    assert result.faults[0].feature == "T00"


@pytest.mark.parametrize(("shut", "why"), [([], "no_valve"), (["V-G"], "no_valve"),
                                          (["V-U00", "V-X"], "valve_place")])  # fmt: skip
def test_valves_of_a_test_are_those_of_the_district(job, shut, why):
    result = leakgeo.steptest(with_tests(job, [one("C-1", shut, 30.0, 0.0)]), **ONE)
    assert [dict(f.reason.values)["why"] for f in result.faults] == [why]


def test_a_test_with_a_valve_that_may_not_be_shut_is_left_out(job):
    house = job.valves.assign(kind=job.valves["kind"].where(job.valves["valve_id"] != "V-H21",
                                                            "house"))  # fmt: skip
    made = with_tests(replace(job, valves=house), [one("C-1", ["V-H21"], 30.0, 0.0)])
    assert [dict(f.reason.values)["why"] for f in leakgeo.steptest(made, **ONE).faults] == [
        "other_valve"
    ]


def likelier(job, rows):
    """Give the segments that one closure makes likelier."""
    before = leakgeo.steptest(job, **BOTH)["district_segments"]
    after = leakgeo.steptest(with_tests(job, rows), **BOTH)
    assert after["district_steps"]["closures_made"].tolist() == [1]
    more = after["district_segments"]["probability"] > before["probability"]
    return set(before["segment"][more])


def test_flows_of_inlets_in_one_closure_are_summed(job):
    shut = leakgeo.steptest(job, **BOTH)["district_steps"]["valves"].item().split(", ")
    # Alone, the flow at the first goes on, and at the second it stops: in all it stops.
    stops = likelier(job, [one("C-1", shut, 4.0, 4.0, hour=1),
                           one("C-2", shut, 56.0, 0.0, hour=1.2)])  # fmt: skip
    goes_on = likelier(job, [one("C-1", shut, 4.0, 0.0, hour=1),
                             one("C-2", shut, 56.0, 56.0, hour=1.2)])  # fmt: skip
    every = set(leakgeo.steptest(job, **BOTH)["district_segments"]["segment"])
    assert stops
    assert stops == every - goes_on
    # In another unit, and in another order.
    assert stops == likelier(job, [
        one("C-2", shut, 56.0, 0.0, hour=1.2),
        one("C-1", shut, 0.24, 0.24, hour=1, unit="m3_per_h"),
    ])  # fmt: skip


@pytest.mark.parametrize("hours", [(1, 2), (1, None)])
def test_a_closure_that_was_not_read_at_every_inlet_does_not_count(job, hours):
    rows = [one(name, ["V-U10"], 30.0, 0.0, hour=hour)
            for name, hour in zip(("C-1", "C-2"), hours, strict=True) if hour]  # fmt: skip
    result = leakgeo.steptest(with_tests(job, rows), **BOTH)
    assert result["district_steps"]["closures_made"].tolist() == [0]
    assert {dict(f.reason.values)["why"] for f in result.faults} == {"inlets"}
    assert len(result.faults) == len(rows)


def test_tests_before_a_repair_do_not_count(job):
    routes = job.routes.assign(repaired_time=pd.NaT)
    routes["repaired_time"] = pd.to_datetime(
        ["2026-03-02T00:00Z" if n == "H11" else None for n in routes["line_id"]], utc=True
    )
    made = with_tests(replace(job, routes=routes), [one("C-1", ["V-U10"], 30.0, 0.0)])
    assert [dict(f.reason.values)["why"] for f in leakgeo.steptest(made, **ONE).faults] == [
        "repaired"
    ]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"inlets": "C-11"}, "'C-11' is no contact_id or valve_id of the job. Did you mean C-1"),
        ({"inlets": "C-1", "boundary": "V-8"}, "'V-8' is no valve_id of the job"),
        ({"inlets": "C-1", "boundary": "C-2"}, "'C-2' is no valve_id of the job"),
        ({"boundary": "V-B"}, "inlets: name the fittings"),
        ({"inlets": "C-1,C-2", "boundary": "V-H00,V-U00"}, "no open pipe leads from there"),
        ({"inlets": "V-H00"}, "V-H00: open pipe leads around it"),
        ({"inlets": "V-B"}, "away from V-B on both sides"),
    ],
)
def test_a_name_that_does_not_fit_is_told(job, given, words):
    with pytest.raises(ParameterError, match=words):
        leakgeo.steptest(job, **given)


def test_without_valves_there_is_nothing_to_shut(job):
    [reason] = reasons_in(
        leakgeo.steptest(replace(job, valves=None), inlets="C-1")["district_steps"], "message"
    )
    assert reason.code == "district_no_valve"


def test_the_command_writes_both_layers_with_a_style(job, layers, tmp_path):
    jobs.write(tmp_path / "job.gpkg", **layers)
    call = ["steptest", tmp_path / "job.gpkg", "--out", tmp_path / "out"]
    done = leakgeo_command(*call, "--inlets", "C-1,C-2", "--boundary", "V-B")
    assert done.returncode == 0, done.stderr
    result = leakgeo.steptest(job, **BOTH)
    assert result["district_steps"]["valves"].item() in done.stdout
    written = leakgeo.read_result(tmp_path / "out")
    for name in ("district_segments", "district_steps"):
        assert len(written[name]) == len(result[name])
    [style] = styles_of(result)
    assert style.layer == "district_segments"
    wrong = leakgeo_command(*call, "--inlets", "C-9", "--overwrite")
    assert wrong.returncode == 2
    assert "--inlets" in wrong.stderr


def test_chunks_give_the_same_as_the_whole(job, layers, tmp_path):
    more = {"workers": 1, "density": False, "map_lines": 1, "report_lines": 1}
    done = leakgeo.run(layers, tmp_path / "chunks", chunk_lines=9, **ONE, **more)
    assert done.timings.keys() >= {"steptest"}
    whole = leakgeo.steptest(job, **ONE)
    assert done["district_segments"].equals(whole["district_segments"])
    assert done["district_steps"].equals(whole["district_steps"])


def test_parts_that_no_closure_cuts_off_are_told_before_the_first_test(job):
    # Each side of these four valves has an inlet, unless one is closed off.
    four = ["V-H10", "V-H20", "V-U10", "V-U20"]
    kept = job.valves["valve_id"].isin([*four, *OTHERS])
    apart = replace(job, valves=job.valves[kept])
    [reason] = reasons_in(leakgeo.steptest(apart, **BOTH)["district_steps"], "message")
    assert reason.code == "district_loops"
    assert [then.code for then in reason.then] == ["valve_cautions"]
    one_side = leakgeo.steptest(apart, **ONE)["district_steps"]["valves"].item()
    assert one_side.split(", ") == four
    # A valve in the district may stay closed too.
    opened = leakgeo.steptest(apart, inlets="C-1", boundary="V-B,V-G,V-H10,V-H20")
    assert opened["district_steps"]["valves"].item() == "V-U10, V-U20"


def test_without_inlets_both_layers_are_empty(job):
    result = leakgeo.steptest(job)
    assert result["district_segments"].empty
    assert result["district_steps"].empty
    assert result["district_segments"].crs == job.crs
