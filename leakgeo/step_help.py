"""Help of the steps: how each one works, and examples of calls."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

ABOUT: Mapping[str, str] = {
    "meter": (
        "Each row of meter_tests is a meter read before and after a time with every outlet "
        "closed. The tests of a line are combined; a change within the meter's own resolution "
        "is no loss. The pressure of the route, where it is given, yields the size of the "
        "equivalent hole."
    ),
    "steptest": (
        "All water enters a district by night through measured inlets. Valves are shut, and the "
        "flow at the inlets is read before and after: isolation_tests with their closed_valves, "
        "with measure flow. Readings at several inlets with the same valves shut at the same time "
        "are summed. From the tests so far the step chooses the closure that is expected to tell "
        "the most, until one segment between valves holds the loss with 90 %; then walk its pipes. "
        "A valve may pass water when it is shut: the step allows for one. It assumes one loss in "
        "the district. If a valve can't be shut, set its leaks_by, and another is chosen. Where "
        "most parts are supplied from several sides, name valves that open loops in boundary too. "
        "Only the owner's people operate a valve. Without inlets both layers are empty."
    ),
    "survey": (
        "Contacts are the fittings listened to in the first survey: hydrants, hose bibs, "
        "valves. Routes that meet are joined into a network first. If nothing indicates a leak, "
        "the result says so before it lists stretches."
    ),
    "ground": (
        "Sensor and ground couple differently at each stop, and on rough ground more than on "
        "smooth. How much decides how narrow a zone may be. The step learns from up to 200 "
        "lines of the job how common each kind of ground is; with few lines the shipped figures "
        "count. Of walks by satellite it learns how the errors of the positions hang together, and "
        "how long the crews' steps are. A run writes what it learned to ground.toml, for the next "
        "job of the same crew."
    ),
    "profile": (
        "Every reading is placed on its line by its line_id or its position; taped distance and "
        "satellite position are combined with weights from their errors. Levels are compared "
        "within one walk; known gains are subtracted. Each reading that is not used has its "
        "reason."
    ),
    "locate": (
        "For each line, every place is weighed by how well a leak there explains the readings, "
        "compared with no leak, with a fitting or another source that sounds, and with a leak "
        "beyond an end. Meter tests, air tests, sweeps across the line and holes count as evidence "
        "too. The result is a set of search zones that together hold the leak with the probability "
        "requested, and one mark with its error."
    ),
    "advise": (
        "For each line whose leak is not yet narrowed down, it compares what can be done next: "
        "more stops, a sweep across, the meter with the house valve shut, a closed valve, air, a "
        "quiet hour, and others. Each has its expected information gain and its minutes; the best "
        "gain in an hour comes first. It says where to walk on, and when to stop and why. Minutes "
        "are assumed: give your own with --costs, and --without names what you have not with you. "
        "For lines without readings it proposes the first walk. The command also writes the map "
        "and the report."
    ),
    "improvements": (
        "For each line that is deep, or whose leak is not narrowed down, it computes how far a "
        "quieter hour, a probe, closer stops or a higher pressure could lower the smallest "
        "possible error (Cramér-Rao bound)."
    ),
    "confirm": (
        "It needs readings at the same place with air both off and on (column air). Pairs near "
        "the mark are compared with pairs at control points of the same line."
    ),
    "clearance": (
        "The dig zone is the mark's error ellipse with working room around it. It is compared "
        "with utilities, their position errors and tolerance zones, and their tickets and "
        "answers. The step lists what must be cleared before digging; it never clears a dig: "
        "local law, the one-call centre and licensed people decide. The command also writes the "
        "map and the report, with a dig sheet for each mark."
    ),
    "learn": (
        "dig_outcomes of the job record where excavations found the leak, or did not. They are "
        "compared with the marks of the result that was used for the digs. With enough "
        "excavations it writes calibration.toml, which locate reads as its calibration."
    ),
    "map": (
        "The file holds everything: it opens in a truck and on a phone. It shows marks with "
        "their errors, zones, readings, next stops, utilities and what must be cleared before "
        "digging; a click on a line shows its levels. map.html#line=ID opens at a line."
    ),
    "report": (
        "For each line: a plan, the levels, the probabilities in words, and a sheet to take to "
        "the dig with hazards, ties to set the mark out again, and boxes to sign. Paper is A4, "
        "or letter if units are us."
    ),
    "export": (
        "It takes a job, or the result of an earlier run. QML and SLD styles go to styles/, the "
        "leak density to a cloud-optimised GeoTIFF. The faults list what each other format "
        "loses."
    ),
}
#: Calls on the command line, without ``leakgeo``.
EXAMPLES: Mapping[str, tuple[str, ...]] = {
    "meter": (
        "meter job.gpkg --out loss",
        "meter job.gpkg --out loss --price-per-m3 2.10 --currency USD --units us",
    ),
    "steptest": (
        "steptest job.gpkg --out found --inlets C-1,C-2 --boundary V-9,V-10",
        "steptest job.gpkg --out found --inlets C-1 --use-l-per-min 40",
    ),
    "survey": (
        "survey job.gpkg --out survey",
        "survey job.gpkg --out survey --priors past_leaks,age",
    ),
    "ground": (
        "ground job.gpkg --out ground",
        "ground job.gpkg --out ground --ground last_week/ground.toml",
    ),
    "profile": (
        "profile job.gpkg --out levels",
        "profile job.gpkg --out levels --line M-1 --step-m 0.25",
    ),
    "locate": (
        "locate job.gpkg --out found",
        "locate job.gpkg --out found --line M-1 --line S-104",
        "locate job.gpkg --out found --leak-prior 0.3 --zone-probability 0.95",
    ),
    "advise": (
        "advise job.gpkg --out next",
        "advise job.gpkg --out next --how-many 3 --first-walks all",
        "advise job.gpkg --out next --without air,probe --costs our_costs.toml",
    ),
    "improvements": (
        "improvements job.gpkg --out help",
        "improvements job.gpkg --out help --rated-kpa 700",
    ),
    "confirm": (
        "confirm job.gpkg --out air",
        "confirm job.gpkg --out air --line M-1",
    ),
    "clearance": (
        (
            "clearance job.gpkg --out dig --dig-date 2026-03-31 --notice-days 3 "
            "--validity-days 21 --holidays US-MI --time-zone America/Detroit"
        ),
        "clearance job.gpkg --out dig --rule michigan_460_723",
    ),
    "learn": (
        "learn job.gpkg --results out --out learned",
        "learn job.gpkg --results out/result.gpkg --out learned --least-cases 50",
    ),
    "map": (
        "map job.gpkg --out out --units us",
        "map job.gpkg --out out --orthophoto aerial.tif",
    ),
    "report": (
        "report job.gpkg --out out --units us",
        "report job.gpkg --out out --report-lines 20",
    ),
    "export": (
        "export out --out handover --format geojson,kml",
        "export job.gpkg --out handover --format all --no-density",
    ),
}
_JOB = '>>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["H-101"])\n'
_RESULT = '>>> result = leakgeo.read_result("out")\n'
#: Calls in Python: doctests on the shipped example and the folder of its results.
CALLS: Mapping[str, str] = {
    "meter": _JOB
    + """>>> result = leakgeo.meter(job, price_per_m3=2.10, currency="USD")
>>> result["meter_results"]["verdict"].tolist()
['loss_shown']
""",
    "steptest": """>>> job = leakgeo.read_job("examples/town/job.gpkg", lines=["A-201"])
>>> result = leakgeo.steptest(job, inlets=["A-201/meter"])
>>> result["district_steps"]["valves"].tolist()
['A-201/curb_stop']
""",
    "survey": _JOB
    + """>>> result = leakgeo.survey(job, priors=["age", "fittings"])
>>> result["contact_ranking"].query("used")["line_id"].unique().tolist()
['H-101']
""",
    "ground": _JOB
    + """>>> result = leakgeo.ground(job)
>>> bool(abs(result["noise_law"]["weight"].sum() - 1.0) < 1e-9)
True
""",
    "profile": _JOB
    + """>>> result = leakgeo.profile(job, step_m=1.0)
>>> result["profile"]["chainage_m"].head(3).round().tolist()
[0.0, 1.0, 2.0]
""",
    "locate": _JOB
    + """>>> result = leakgeo.locate(job, leak_prior=0.5, priors=["age", "fittings"])
>>> result["marks"].to_crs(job.output_crs)["status"].tolist()
['located']
""",
    "advise": _JOB
    + """>>> result = leakgeo.advise(leakgeo.locate(job), how_many=3, without="air")
>>> len(result["next_readings"]) <= 3
True
>>> "air" in set(result["next_actions"]["action"])
False
""",
    "improvements": _JOB
    + """>>> result = leakgeo.improvements(leakgeo.locate(job), rated_kpa=700.0)
>>> result["improvements"].columns[:3].tolist()
['line_id', 'order', 'improvement']
""",
    "confirm": _JOB
    + """>>> result = leakgeo.confirm(leakgeo.locate(job))
>>> "verdict" in result["air_tests"]
True
""",
    "clearance": _JOB
    + """>>> result = leakgeo.clearance(leakgeo.locate(job), dig_date="2026-03-31", notice_days=3)
>>> result["dig_zones"]["dig_status"].tolist()
['hold']
""",
    "learn": _JOB
    + """>>> result = leakgeo.learn(job, results="out")
>>> result["learned_cases"]["line_id"].tolist()  # the lines that were dug
['A-206', 'A-207', 'A-208']
""",
    "map": _RESULT
    + """>>> _ = leakgeo.map(result, out="sheets", map_lines=10)
""",
    "report": _RESULT
    + """>>> _ = leakgeo.report(result, out="sheets", units="us", report_lines=2)
""",
    "export": _RESULT
    + """>>> _ = leakgeo.export(result, out="sheets", format=["geojson", "kml"], density=False)
""",
}
