"""Districts of a database, read by a condition and written one by one."""

from __future__ import annotations

import json
from dataclasses import replace

import geopandas as gpd
import pandas as pd
import psycopg
import pytest

import leakgeo
from leakgeo.deliver.postgis import by_part
from leakgeo.deliver.postgis import write as deliver
from leakgeo.deliver.postgis.write import write_postgis
from leakgeo.errors import OutputError, ParameterError
from leakgeo.job.read import read_job
from leakgeo.runner.by_district import run as by_district
from leakgeo.runner.selected import of_selected_lines
from tests.job import jobs
from tests.postgis.test_postgis import SECRETS, put, rows, snapshot
from tests.town import assert_same_rows

pytestmark = pytest.mark.postgis
# What a run has once, and the numbers of walks and runs.
_OF_RUN = {"fid", "run_id", "walk"}


def two_lines():
    """Give two lines with a leak each, with readings of no line beside them."""
    routes = jobs.routes(district=[7, 8])
    one = jobs.heard(12)
    other = one.assign(line_id="L2", reading_id="B" + one["reading_id"])
    other = other.set_geometry(other.geometry.translate(105.0, 0.0))
    ends = one.iloc[[0, 5]].assign(line_id=[None, "none such"], reading_id=["free", "unknown"])
    strays = [ends, ends.set_geometry(ends.geometry.translate(105.0, 20.0)).assign(
        reading_id=["far", "B unknown"])]  # fmt: skip
    readings = gpd.GeoDataFrame(pd.concat([one, other, *strays], ignore_index=True), crs=jobs.CRS)
    return {"routes": routes, "readings": readings}


def write_job(path):
    for name, table in two_lines().items():
        table.to_file(path, layer=name)
    return path


@pytest.fixture(scope="module")
def parts(tmp_path_factory):
    """The result of both lines, and of each by itself."""
    path = write_job(tmp_path_factory.mktemp("two") / "job.gpkg")
    jobs_read = [read_job(path), *(read_job(path, where=f"district = {k}") for k in (7, 8))]
    return [of_selected_lines(leakgeo.clearance(job, dig_date="2026-06-02")) for job in jobs_read]


def contents(base, schema):
    """Rows of each table as a set."""
    found = {}
    for (name,) in rows(base, f"SELECT tablename FROM pg_tables WHERE schemaname = '{schema}'"):
        columns = [
            column for (column,) in rows(
                base, "SELECT column_name FROM information_schema.columns WHERE table_schema = "
                f"'{schema}' AND table_name = '{name}' ORDER BY 1",
            ) if column not in _OF_RUN
        ]  # fmt: skip
        if name not in ("run", "noise_law", "walk_law"):
            # A result that was read back has been through another CRS.
            listed = ", ".join("ST_AsText(geom, 3)" if c == "geom" else f'"{c}"' for c in columns)
            found[name] = sorted(map(str, rows(base, f'SELECT {listed} FROM "{schema}"."{name}"')))
    # Each run of a part says so, and what layers the job lacks.
    faults = [row for row in found["faults"] if "lines_by_condition" not in row]
    found["faults"] = sorted({row for row in faults if "'noted', ''" in row}) + [
        row for row in faults if "'noted', ''" not in row
    ]
    return found


def test_two_districts_are_one_run_of_both(base, url, parts):
    both, first, second = parts
    write_postgis(both, url, schema="one")
    for done in (replace(second, run_id_read="of last night"), first, second):
        write_postgis(done, url, schema="two", upsert=True)
    one, two = contents(base, "one"), contents(base, "two")
    assert one.keys() == two.keys()
    assert len(one["marks"]) == 2
    assert "'nan'" not in "".join(one["lines"])
    for name, own in one.items():
        assert two[name] == own, name
    runs = rows(base, "SELECT count(*), count(DISTINCT run_id) FROM two.run")
    assert runs == [(2, 2)]  # that of last night has no line left
    ranks = rows(base, "SELECT priority FROM two.lines ORDER BY 1")
    assert ranks == [(1,), (2,)]


def test_a_failure_leaves_every_district_as_it_was(base, url, parts, monkeypatch):
    _, first, second = parts
    write_postgis(first, url, upsert=True)
    before, fill = snapshot(base), deliver.fill

    def fails_at_marks(target, name, values, columns):
        fill(target, name, [*values, ("too", "few")] if name == "marks" else values, columns)

    with monkeypatch.context() as patched:
        patched.setattr(deliver, "fill", fails_at_marks)
        with pytest.raises(OutputError, match="The database is as it was"):
            write_postgis(second, url, upsert=True)
    assert snapshot(base) == before
    monkeypatch.setattr(deliver, "rank_lines", lambda _: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        write_postgis(second, url, upsert=True)
    assert snapshot(base) == before


def test_who_reads_does_not_hold_up_and_who_locks_is_named(base, url, parts, monkeypatch):
    monkeypatch.setattr(deliver, "LOCK_SECONDS", 0.3)
    first = parts[1]
    write_postgis(first, url, upsert=True)
    with psycopg.connect(url, application_name="a GIS") as other:
        seen = other.execute("SELECT count(*) FROM leakgeo.lines").fetchall()  # ACCESS SHARE
        for given in ({"upsert": True}, {"overwrite": True}):
            write_postgis(first, url, **given)
        assert other.execute("SELECT count(*) FROM leakgeo.lines").fetchall() == seen
        other.execute("LOCK TABLE leakgeo.marks IN ACCESS EXCLUSIVE MODE")
        before = rows(base, "SELECT xmin::text, line_id FROM leakgeo.lines")
        for given in ({"upsert": True}, {"overwrite": True}):
            with pytest.raises(OutputError) as caught:
                write_postgis(first, url, **given)
            told = str(caught.value)
            assert "leakgeo.marks is locked by another session (process" in told
            assert "a GIS, idle in transaction" in told
            assert "The database is as it was" in told
            assert not [secret for secret in SECRETS if secret in told]
        assert rows(base, "SELECT xmin::text, line_id FROM leakgeo.lines") == before
        # A reader in a table that must get another column is named as well.
        other.rollback()
        other.execute("SELECT count(*) FROM leakgeo.marks").fetchall()
        base.execute("SET lock_timeout = 0")
        marks = first.layers["marks"].assign(mine=1)
        more = leakgeo.Result(first.job, {"lines": first.layers["lines"], "marks": marks})
        with pytest.raises(OutputError, match="marks is locked"):
            write_postgis(more, url, upsert=True)
        other.rollback()
        write_postgis(more, url, upsert=True)
    assert rows(base, "SELECT mine FROM leakgeo.marks") == [(1,)]


def test_a_window_of_a_database_is_that_of_a_file(base, url, tmp_path):
    file = write_job(tmp_path / "job.gpkg")
    for name, table in two_lines().items():
        put(base, "public", name, table, jobs.CRS)
    for k in (7, 8):
        one, other = (read_job(source, where=f"district = {k}") for source in (url, file))
        assert one.readings["reading_id"].tolist() == other.readings["reading_id"].tolist()
        assert one.layers_digest == other.layers_digest
    with pytest.raises(ParameterError, match='column "districts" does not exist') as caught:
        read_job(url, where="districts = 7")
    assert not [secret for secret in SECRETS if secret in str(caught.value)]
    base.execute("CREATE SEQUENCE gis_s")
    with pytest.raises(ParameterError, match="read-only transaction"):
        read_job(url, where="nextval('gis_s') > 0")
    base.execute("DROP SEQUENCE gis_s; DROP TABLE public.routes, public.readings")


def test_an_update_replaces_the_tables_each_night(base, url, tmp_path):
    for name, table in two_lines().items():
        put(base, "public", name, table, jobs.CRS)
    given = {"update": True, "keep_earlier": True, "to_postgis": url, "density": False,
             "metrics": tmp_path / "leakgeo.prom"}  # fmt: skip
    first = leakgeo.run(url, tmp_path / "night", **given)
    base.execute("UPDATE public.readings SET sound_level = sound_level + 1 WHERE line_id = 'L2'")
    assert base.execute("SELECT count(*) FROM public.readings WHERE reading_id = 'B3'").fetchone()
    done = leakgeo.run(url, tmp_path / "night", **given)
    assert first.run_id != done.run_id
    assert done.kept is not None
    assert done.kept.worked_out == ("L2",)
    assert rows(base, "SELECT run_id, record::json ->> 'run_id' FROM leakgeo.run") == [
        (done.run_id, done.run_id)]  # fmt: skip
    assert rows(base, "SELECT DISTINCT run_id FROM leakgeo.lines") == [(done.run_id,)]
    listed = rows(base, "SELECT code FROM leakgeo.faults WHERE effect = 'rejected'")
    faults = pd.read_csv(tmp_path / "night" / "faults.csv")
    assert len(listed) == (faults["effect"] == "rejected").sum()
    (earlier,) = (tmp_path / "night" / "superseded").iterdir()
    assert earlier.name.endswith(first.run_id)
    base.execute("DROP TABLE public.routes, public.readings")


def test_a_large_job_is_run_and_written_by_district(base, url, few, tmp_path, monkeypatch):
    monkeypatch.setattr(by_district, "FROM_LINES", 0)
    for name in ("routes", "readings"):
        table = gpd.read_file(few[0], layer=name)
        put(base, "public", name, table, table.crs.to_epsg())
    write, part, calls = by_part.PartsTarget.write, by_part.write_lines, []

    def stops_at_the_second(*args):
        calls.append(args)
        if len(calls) == 2:
            raise OutputError("the power failed")
        part(*args)

    def stopped_and_written_again(self, parts, top, layers):
        parts = list(parts)
        with pytest.raises(OutputError, match="the power failed"):
            write(self, parts, top, layers)
        assert not (tmp_path / "result.gpkg").exists()
        assert rows(base, "SELECT count(*) FROM leakgeo.lines") == [(2,)]
        write(self, parts, top, layers)

    monkeypatch.setattr(by_part, "write_lines", stops_at_the_second)
    monkeypatch.setattr(by_part.PartsTarget, "write", stopped_and_written_again)
    done = leakgeo.run(url, tmp_path, chunk_lines=2, workers=1, to_postgis=url, density=False)
    assert done.counted is not None
    assert_same_rows(few[1], tmp_path)
    write_postgis(leakgeo.read_result(few[1]), url, schema="whole", units="us")
    one, two = contents(base, "whole"), contents(base, "leakgeo")
    # A result that is read back has no faults.
    assert not one.pop("faults")
    assert len(two.pop("faults")) == len(pd.read_csv(tmp_path / "faults.csv").drop_duplicates())
    assert one.keys() == two.keys()
    for name, own in one.items():
        assert two[name] == own, name
    ((record, run_id),) = rows(base, "SELECT record, run_id FROM leakgeo.run")
    assert json.loads(record)["run_id"] == run_id == done.run_id
    base.execute("DROP TABLE public.routes, public.readings")
