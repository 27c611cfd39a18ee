"""What help says of each step beyond its parameters: how it works, and calls to copy."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

ABOUT: Mapping[str, str] = {
    "meter": (
        "Each row of meter_tests is a meter read before and after a time with every "
        "outlet closed. The tests of a line are weighed together; a change that the "
        "meter's own resolution could make is no loss. The pressure of the route, if it "
        "is there, gives the size of the hole."
    ),
    "survey": (
        "Contacts are fittings that were listened to in the first survey: hydrants, hose "
        "bibs, valves. Routes that meet are joined into a network first. Where nothing "
        "speaks for a leak, that is said before any stretch is."
    ),
    "profile": (
        "Every reading is put on its line by its line_id or its position, tape and "
        "satellite fused by their errors. Levels compare within one walk; gains that are "
        "known are taken out. No reading is dropped without saying why."
    ),
    "locate": (
        "For each line, places of a leak are weighed by how well they explain the "
        "readings, against silence and against another steady source. What comes of it "
        "are odds: stretches that hold the leak together with the probability asked for, "
        "and one mark with its error."
    ),
    "advise": (
        "For each line whose zone is still long, it proposes the stops that are expected "
        "to tell the most, in order, and says when another reading would not help. On "
        "lines without a reading it proposes the first walk."
    ),
    "improvements": (
        "For each line that is deep, or whose leak is not narrowed down, it works out "
        "what a change of pressure, sensor, band or surface could gain, by the least "
        "error there can be."
    ),
    "confirm": (
        "It needs readings at the same place with air both off and on (column air). Pairs "
        "near the mark are weighed against pairs at control points of the same line."
    ),
    "clearance": (
        "The dig zone is the mark's error ellipse and room to work around it. Utilities, "
        "their errors and tolerances, their tickets and answers are held against it. It "
        "lists what still holds the dig; it never clears one: local law, the one-call "
        "centre and licensed people decide."
    ),
    "learn": (
        "dig_outcomes of the job tell where digs found the leak, or did not. They are "
        "held against the marks of the result that was dug by. With enough digs it writes "
        "calibration.toml, which locate takes as its calibration."
    ),
    "map": (
        "Everything is in the file: it opens in a truck and on a phone. It shows marks "
        "with their errors, zones, readings, next stops, utilities and what holds each "
        "dig; a click on a line shows its levels. map.html#line=ID opens at a line."
    ),
    "report": (
        "For each line: plan, levels, the odds in words, and a sheet to take to the dig "
        "with what holds it, ties to set the mark out again, and boxes to sign. Paper is "
        "A4, or letter where units are us."
    ),
    "export": (
        "It takes a job, or the result of an earlier run. QML and SLD styles go to "
        "styles/, the density to a cloud-optimised GeoTIFF; what each other format loses "
        "is told."
    ),
}
#: Calls on the command line, without the program's name.
EXAMPLES: Mapping[str, tuple[str, ...]] = {
    "meter": (
        "meter job.gpkg --out loss",
        "meter job.gpkg --out loss --price-per-m3 2.10 --currency USD --units us",
    ),
    "survey": (
        "survey job.gpkg --out survey",
        "survey job.gpkg --out survey --priors past_leaks,age",
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
#: Calls in Python, as doctests on the shipped example, and on the folder of its results.
CALLS: Mapping[str, str] = {
    "meter": _JOB
    + """>>> result = leakgeo.meter(job, price_per_m3=2.10, currency="USD")
>>> result["meter_results"]["verdict"].tolist()
['loss_shown']
""",
    "survey": _JOB
    + """>>> result = leakgeo.survey(job, priors=["age", "fittings"])
>>> result["contact_ranking"].query("used")["line_id"].unique().tolist()
['H-101']
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
    + """>>> result = leakgeo.advise(leakgeo.locate(job), how_many=3)
>>> len(result["next_readings"]) <= 3
True
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
>>> len(result["learned_cases"])  # nobody has dug yet
0
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
