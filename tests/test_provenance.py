"""Layers of a result belong together: a step run again drops what was made of its older layers."""

from __future__ import annotations

import logging
import shutil
from dataclasses import replace

import pyogrio
import pytest

import leakgeo
from leakgeo.deliver.folder.write import write_result
from leakgeo.errors import OutputError
from leakgeo.provenance import makers
from leakgeo.registry import load_steps
from leakgeo.result import Result
from tests.town import TOWN

LINES = ["H-126", "S-109"]
DIG = {"dig_zones", "conflicts", "locate_requests", "ties", "dig_alternatives"}


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    """The town with the lines alone, of which all reading takes less."""
    path = tmp_path_factory.mktemp("file") / "job.gpkg"
    for name in pyogrio.list_layers(TOWN)[:, 0]:
        frame = pyogrio.read_dataframe(TOWN, layer=name)
        if name in ("routes", "readings", "contacts", "meter_tests"):
            frame = frame[frame["line_id"].isin(LINES)]
        pyogrio.write_dataframe(frame, path, layer=name)
    return path


@pytest.fixture(scope="module")
def job(file):
    return leakgeo.read_job(file)


@pytest.fixture(scope="module")
def cleared(job):
    return leakgeo.clearance(leakgeo.advise(leakgeo.locate(job)))


@pytest.fixture(scope="module")
def other(job):
    """The same lines, located with another prior."""
    return leakgeo.locate(job, leak_prior=0.2)


@pytest.fixture(scope="module")
def written(cleared, tmp_path_factory):
    """The folder of a result."""
    folder = tmp_path_factory.mktemp("written")
    write_result(cleared, folder)
    return folder


def test_a_step_run_again_drops_what_was_made_from_its_older_layers(
    cleared, other, tmp_path, caplog
):
    with caplog.at_level(logging.WARNING, "leakgeo"):
        again = leakgeo.locate(cleared, leak_prior=0.2)
    assert "run them again" in caplog.text
    assert not (DIG | {"next_readings"}) & set(again.layers)
    assert again.parameters.keys().isdisjoint({"advise", "clearance"})
    assert again["lines"].equals(other["lines"])
    write_result(again, tmp_path)
    assert not (tmp_path / "locate_request.kml").exists()
    assert not DIG & set(pyogrio.list_layers(tmp_path / "result.gpkg")[:, 0])
    with pytest.raises(KeyError, match="dig_zones"):
        again["dig_zones"]


def test_a_step_run_again_keeps_what_does_not_depend_on_it(cleared):
    metered = leakgeo.meter(cleared, price_per_m3=2.0)
    again = leakgeo.meter(metered, price_per_m3=3.0)
    assert set(again.layers) == set(metered.layers)
    assert again["dig_zones"].equals(cleared["dig_zones"])
    assert len(again.faults) == len(metered.faults)
    advised = leakgeo.advise(metered, how_many=1)
    assert advised["meter_results"].equals(metered["meter_results"])
    # The clearance filled in the lines that the advice has filled in, so it goes too.
    assert not DIG & set(advised.layers)


def test_a_step_run_twice_in_the_same_way_gives_the_same_result(cleared):
    again = leakgeo.clearance(cleared)
    assert again.run_id == cleared.run_id
    assert again["ties"].equals(cleared["ties"])
    assert again.faults == cleared.faults


def test_layers_of_two_origins_are_not_written(cleared, other, tmp_path):
    wider = leakgeo.clearance(other, working_width_m=1.0)
    mixed = replace(cleared, layers={**cleared.layers, "dig_zones": wider.layers["dig_zones"]})
    with pytest.raises(OutputError, match="dig_zones: not made by the steps of this result"):
        write_result(mixed, tmp_path)
    for step in (leakgeo.map, leakgeo.report, leakgeo.export):
        with pytest.raises(OutputError, match="dig_zones: not made by the steps of this result"):
            step(mixed, out=tmp_path)
    made = (*wider.made[:-1], cleared.made[-1])
    stale = replace(cleared, made=made, layers={n: m.layers[n] for n, m in makers(made).items()})
    with pytest.raises(OutputError, match="Run clearance again"):
        write_result(stale, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_layers_that_were_given_may_be_worked_on_and_written(cleared, tmp_path):
    own = Result(cleared.job, {n: cleared.layers[n] for n in ("marks", "lines")})
    done = leakgeo.clearance(own).adding({"notes": cleared["lines"][["line_id"]]})
    write_result(done, tmp_path)
    assert "notes" in pyogrio.list_layers(tmp_path / "result.gpkg")[:, 0]


def test_the_run_id_goes_by_job_steps_and_parameters(file, job, cleared, other):
    assert leakgeo.locate(leakgeo.read_job(file)).run_id == cleared.run_id
    given = Result(job, {n: cleared.layers[n] for n in ("marks", "lines")})
    moved = Result(job, {**given.layers, "marks": given["marks"].assign(chainage_m=1.0)})
    others = [
        cleared, other,
        leakgeo.clearance(cleared, rule="california_4216"),
        leakgeo.locate(leakgeo.read_job(file, lines=LINES[:1])),
        leakgeo.clearance(given), leakgeo.clearance(moved),
    ]  # fmt: skip
    assert len({r.run_id for r in others}) == len(others)


def test_steps_declare_the_layers_that_they_make_and_change(town):
    result, _ = town
    steps, seen = load_steps(), set()
    for one in result.made:
        step = steps[one.step]
        if step.group == "Deliver":
            assert not one.layers
            continue
        assert set(one.layers) == {*step.makes, *step.changes}, one.step
        assert set(one.layers) & seen == set(step.changes), one.step
        seen |= set(one.layers)
    assert seen == set(result.layers)


def test_what_was_worked_out_in_chunks_may_be_worked_on(file, other, tmp_path):
    done = leakgeo.run(file, tmp_path, chunk_lines=1, workers=1, density=False,
                       map_lines=1, report_lines=1)  # fmt: skip
    again = leakgeo.locate(done, leak_prior=0.2)
    assert again["marks"].equals(other["marks"])
    assert not DIG & set(again.layers)


@pytest.mark.parametrize("step", ["map", "report", "export"])
def test_no_file_is_made_into_the_result_of_another_run(cleared, other, written, tmp_path, step):
    shutil.copytree(written, tmp_path, dirs_exist_ok=True)
    there = sorted(p.name for p in tmp_path.iterdir())
    with pytest.raises(OutputError, match=f"holds the result of run {cleared.run_id}"):
        getattr(leakgeo, step)(other, out=tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == there
    done = getattr(leakgeo, step)(cleared, out=tmp_path)
    assert done.run_id == cleared.run_id
    assert len(list(tmp_path.iterdir())) > len(there)
