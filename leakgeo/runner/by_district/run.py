"""Run a large job by district, and write one result."""

from __future__ import annotations

import tempfile
from contextlib import ExitStack, suppress
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeGuard

import pandas as pd

from leakgeo.arrays import texts
from leakgeo.checkpoint import checkpoint
from leakgeo.deliver.folder.locate_requests import has_requests, write_requests
from leakgeo.deliver.folder.record import run_record
from leakgeo.deliver.folder.spreadsheets import faults_list, write_csv
from leakgeo.deliver.folder.write import (
    write_laws,
    write_list_of_files,
    written_changes,
)
from leakgeo.deliver.geopackage.layers import finish_geopackage
from leakgeo.deliver.geopackage.order import in_order
from leakgeo.deliver.geopackage.parts import open_joined, write_part
from leakgeo.deliver.geopackage.rows import layer_rows, run_record_table
from leakgeo.deliver.postgis.by_part import PartsTarget
from leakgeo.deliver.result_project.project import PROJECT, write_project
from leakgeo.errors import ParameterError
from leakgeo.garbage import release_memory
from leakgeo.job.checks import mostly_in_feet
from leakgeo.job.digest import LayerDigest
from leakgeo.job.mapping import load_mapping
from leakgeo.job.results.read_back import FILE, iter_layer, read_lines
from leakgeo.job.results.stored_record import PREFIX, WITHOUT_ROWS, layers_without_rows
from leakgeo.job.sources import open_source, row_count
from leakgeo.job.window import NEAR_M
from leakgeo.options import of_checks
from leakgeo.progress import CHUNKS, counter, ignore, progress_to
from leakgeo.provenance import now_utc, with_chunked_runs
from leakgeo.result import Result
from leakgeo.runner.by_district.district import DistrictPlan
from leakgeo.runner.by_district.join import StoredDistricts, digest_of_lines, rank_lines
from leakgeo.runner.by_district.large_layers import LARGE
from leakgeo.runner.by_district.network import DISTRICT_LINES, read_network
from leakgeo.runner.by_district.part import DistrictTask
from leakgeo.runner.journal import Journal, run_key
from leakgeo.runner.layer_steps import default_errors
from leakgeo.runner.merge import TOP_LINES
from leakgeo.runner.task import PlannedStep, run_steps, without_layers
from leakgeo.runner.write_run import (
    LINE_LIMITS,
    put_in_place,
    with_output_folder,
    with_products,
    with_staging_folder,
)
from leakgeo.selection import selection_of
from leakgeo.staging import PREFIX as HIDDEN
from leakgeo.staging import staged

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from leakgeo.deliver.geopackage.parts import JoinedGeoPackage
    from leakgeo.job.model import Job
    from leakgeo.job.sources import JobSource
    from leakgeo.progress import Listener
    from leakgeo.runner.by_district.network import Network
    from leakgeo.runner.layer_steps import Chunking
    from leakgeo.runner.write_run import Writing
    from leakgeo.staging import Staging
    from leakgeo.wording.layers import Parts

#: A job of more lines is run by district.
FROM_LINES = 5_000


def is_by_district(
    source: JobSource, chunking: Chunking, writing: Writing, steps: Sequence[PlannedStep]
) -> TypeGuard[str | Path]:
    """Return whether a job is run by district: it is large, and all of it is asked for."""
    parted = chunking.lines or chunking.where is not None or chunking.kept is not None
    if not isinstance(source, (str, Path)) or parted:
        return False
    first = next(k for k, one in enumerate(steps) if one.step.by_line)
    own = all(one.step.function.startswith("leakgeo.") for one in steps[:first])
    return own and _lines_in(source, chunking.mapping) > FROM_LINES


def _lines_in(source: str | Path, mapping: str | Path | None) -> int:
    """Return the number of lines of a job, without reading them; 0 if it can't be told."""
    known = () if mapping is None else load_mapping(mapping).layers.get("routes", ())
    with open_source(source, in_part=True) as opened:
        names = [opened.key(part.layer or part.name) for part in known] or ["routes"]
        return sum(row_count(opened, name) for name in names if name in opened.layers)


def run_by_district(
    source: str | Path,
    steps: Sequence[PlannedStep],
    chunking: Chunking,
    writing: Writing,
    tell: Listener = ignore,
) -> Result | None:
    """Run every step on a large job by district, and write all results.

    Parameters
    ----------
    source : str or pathlib.Path
    steps : sequence of PlannedStep
    chunking : Chunking
    writing : Writing
    tell : callable
        Called with the progress.

    Returns
    -------
    Result or None
        The lines that come first by priority; None if a layer can only be read as a whole.
    """
    with ExitStack() as cleanup:
        cleanup.enter_context(progress_to(tell))
        rows = cleanup.enter_context(
            # Windows keeps a file that is mapped into memory; the next run removes what is left.
            tempfile.TemporaryDirectory(
                prefix=f"{HIDDEN}rows-", dir=writing.folder, ignore_cleanup_errors=True
            )
        )
        settings = of_checks({n: v for one in steps for n, v in one.settings.items()})
        network = read_network(
            source, Path(rows), chunking.mapping, default_errors(steps), settings,
            min(chunking.size, DISTRICT_LINES),
        )  # fmt: skip
        if network is None:
            return None
        with staged(writing.folder) as staging:
            run = _Run(network, chunking, writing, staging, cleanup, tell)
            result = run.write(steps)
    streamed = {n: partial(iter_layer, writing.folder, n, result.job.crs) for n in result.streamed}
    return replace(result, streamed=streamed)


@dataclass(eq=False)
class _Run:
    network: Network
    chunking: Chunking
    writing: Writing
    staging: Staging
    cleanup: ExitStack
    tell: Listener

    def write(self, steps: Sequence[PlannedStep]) -> Result:
        """Run the steps, write the files into the staging folder, and put them in place."""
        steps = [PlannedStep(s, with_staging_folder(self.staging, given)) for s, given in steps]
        layer_steps = [one for one in steps if not one.step.writes_files]
        first = next(k for k, one in enumerate(layer_steps) if one.step.by_line)
        by_line = [one for one in layer_steps[first:] if one.step.by_line]
        then = [one for one in layer_steps[first:] if not one.step.by_line]
        before = self._before(layer_steps[:first])
        self.writing = self.writing.of_job(before.job)
        whole = _as_if_whole(before, by_line)
        path = self.staging.path / FILE
        contents = self._write_network(whole, path)
        release_memory()  # the workers need it now
        with open_joined(path) as joined:
            districts = self._run_districts(before, whole, by_line, joined)
            ranks = districts.ranks()
            rank_lines(joined.base, ranks)
        checkpoint()
        whole = self._with_faults(whole, districts, by_line)
        return self._finished(whole, districts, ranks, contents, then,
                              [one for one in steps if one.step.writes_files])  # fmt: skip

    def _before(self, steps: Sequence[PlannedStep]) -> Result:
        """Run the steps before those by line, on the network and the lines that teach."""
        network = self.network
        sample = network.with_readings(network.teaching)
        job = replace(network.job, readings=sample.readings)
        job = replace(job, works_in_feet=mostly_in_feet(dict(job.items())))
        made = run_steps(Result(job), steps, self.tell)
        plain = replace(job, readings=network.job.readings)
        return replace(made, job=plain)

    def _run_districts(
        self, before: Result, whole: Result, by_line: Sequence[PlannedStep],
        joined: JoinedGeoPackage,
    ) -> StoredDistricts:  # fmt: skip
        """Run the steps by line on districts that the journal lacks, and join them meanwhile."""
        chunking, writing = self.chunking, self.writing
        given = {step.name: settings for step, settings in by_line}
        key = run_key(before.job, {**before.parameters, **given}, self.network.plan.size)
        key = {**key, "texts": f"{writing.units} {writing.language}"}
        journal = self.cleanup.enter_context(Journal(chunking.out, key))
        journal.begin(resume=chunking.resume)
        plan = DistrictPlan(self.network, before.layers)
        districts = StoredDistricts(journal, plan.numbers)
        numbers = [number for number in plan.numbers if not journal.has(number)]
        done = counter(CHUNKS, len(plan.numbers), self.tell)
        for _ in range(len(plan.numbers) - len(numbers)):
            done(silent=True)
        bare = Result(without_layers(before.job), parameters=before.parameters)
        task = DistrictTask(
            bare, tuple(one.single_process() for one in by_line), str(writing.units),
            writing.language, whole.run_id,
        )  # fmt: skip

        def chunk_done() -> None:
            done()
            districts.join_next(joined)

        chunking.executor(journal, len(plan.numbers)).run_chunks(plan, numbers, task, chunk_done)
        districts.join_next(joined)
        return districts

    def _finished(
        self, whole: Result, districts: StoredDistricts, ranks: pd.DataFrame,
        contents: dict[str, str], then: Sequence[PlannedStep], file_steps: Sequence[PlannedStep],
    ) -> Result:  # fmt: skip
        """Write what is made of all districts."""
        path, whole = self.staging.path / FILE, replace(whole, written=now_utc())
        counted, of_districts, seconds = districts.about()
        contents |= {**of_districts, "lines": digest_of_lines(path)}
        whole = replace(whole, timings={**whole.timings, **seconds})
        whole, learned = self._then(whole, then, path)
        contents |= learned
        counted = replace(counted, rows={**_rows(whole), **counted.rows})
        whole = replace(whole, counted=counted)
        top = self._with_texts(self._top(whole, self._shown(ranks, file_steps), path))
        release_memory()
        contents = self._finish(top, path, contents)
        top = with_products(top, file_steps, len(ranks), self.tell)
        top = with_output_folder(top, self.staging)
        self._write_files(top, districts, ranks, contents)
        self.staging.flush()
        checkpoint()
        self._write_database(whole, top, districts)
        put_in_place(top, self.staging, self.writing)
        return top

    def _write_network(self, whole: Result, path: Path) -> dict[str, str]:
        """Write the layers of the pipe network, and those of the job."""
        own = [n for n, layer in whole.layers.items() if len(layer)]
        job = [PREFIX + str(n) for n in whole.job if n not in LARGE]
        return write_part(self._worded(whole), path, [*own, *job], first=True)

    def _worded(self, result: Result) -> Result:
        return result.worded(str(self.writing.units), self.writing.language)

    def _with_faults(
        self, whole: Result, districts: StoredDistricts, by_line: Sequence[PlannedStep]
    ) -> Result:
        """Return the result with the faults of the districts, and of the whole job."""
        job, names = whole.job, [str(n) for n in texts(whole.job.routes, "line_id")]
        of_job, of_steps = districts.faults([one.step.name for one in by_line], names)
        isolation = () if job.isolation is None else job.isolation.faults
        job = replace(job, faults=(*job.faults, *of_job))
        return replace(whole, job=job, faults=(*whole.faults, *isolation, *of_steps))

    def _then(
        self, whole: Result, steps: Sequence[PlannedStep], path: Path
    ) -> tuple[Result, dict[str, str]]:
        """Run the steps after those by line, on the lines that were dug and those that teach."""
        network, digs = self.network, whole.job.dig_outcomes
        if digs is None or digs.empty:
            done = run_steps(Result(whole.job), steps, self.tell)
        else:
            dug = _dug(network, whole.job)
            job = network.with_readings({*network.teaching, *dug})
            layers = read_lines(path, dug, whole.job.crs)
            own = {n: f for n, f in layers.items() if not n.startswith(PREFIX)}
            given = Result(replace(job, dig_outcomes=digs), own, parameters=whole.parameters)
            done = run_steps(given, steps, self.tell)
        made = {name: done.layers[name] for one in steps for name in one.step.makes
                if name in done.layers}  # fmt: skip
        whole = replace(
            whole, layers={**whole.layers, **made}, faults=(*whole.faults, *done.faults),
            parameters={**whole.parameters, **done.parameters},
            timings={**whole.timings, **done.timings},
        )  # fmt: skip
        if not any(len(layer) for layer in made.values()):
            return whole, {}
        part = Path(self.network.spool.folder) / "then.gpkg"
        contents = write_part(self._worded(replace(whole, layers=made)), part, [*made])
        with open_joined(path) as joined:
            joined.add(part)
        return whole, contents

    def _shown(self, ranks: pd.DataFrame, steps: Sequence[PlannedStep]) -> list[str]:
        """Return the lines that the products show: the most urgent, and those asked for."""
        most = max([TOP_LINES, *_lines_asked_for(steps)])
        names = dict.fromkeys(ranks["priority"].nsmallest(most).index)
        for selection in {selection_of(one.settings) for one in steps}:
            if not selection.is_all:
                with suppress(ParameterError):  # reported by the product itself
                    names.update(dict.fromkeys(selection.names(ranks.reset_index())))
        return list(names)

    def _top(self, whole: Result, names: Iterable[str], path: Path) -> Result:
        """Return some lines, and what lies around them."""
        found = read_lines(path, list(names), whole.job.crs)
        tables: dict[str, Any] = {
            name.removeprefix(PREFIX): table for name, table in found.items()
            if name.startswith(PREFIX)
        }  # fmt: skip
        layers = {n: f for n, f in found.items() if not n.startswith(PREFIX)}
        of_network = {n: f.iloc[:0] for n, f in whole.layers.items() if n not in layers}
        assert whole.counted is not None  # counted before
        missing: dict[str, object] = {
            n: {} for n in whole.counted.rows if n not in {**layers, **of_network}
        }
        of_lines = layers_without_rows({WITHOUT_ROWS: missing}, whole.job.crs)
        empty = {n: f for n, f in of_lines.items() if not n.startswith(PREFIX)}
        job = replace(whole.job, **tables)
        every = {**of_network, **empty, **layers}
        return replace(whole, job=job, layers=every, streamed=self._streamed(whole, every, path),
                       made=())  # fmt: skip

    def _with_texts(self, top: Result) -> Result:
        """Return a result that is worded once for all products.

        Streamed rows are read from the file, which has these texts already.
        """
        return replace(self._worded(top), streamed=top.streamed)

    def _streamed(
        self, whole: Result, layers: Mapping[str, pd.DataFrame], path: Path
    ) -> dict[str, Parts]:
        """Return the layers that have more rows in the file than in memory."""
        assert whole.counted is not None  # counted before
        rows = whole.counted.rows
        return {n: partial(iter_layer, path.parent, n, whole.job.crs)
                for n, frame in layers.items() if rows.get(n, 0) > len(frame)}  # fmt: skip

    def _with_all_requests(self, top: Result) -> Result:
        """Return a result of some lines with what the locate requests of all lines need."""
        needed = {n: top.whole(n) for n in ("locate_requests", "ties", "marks") if n in top.layers}
        job = replace(top.job, routes=self.network.job.routes)
        return replace(top, job=job, layers={**top.layers, **needed}, streamed={})

    def _finish(self, top: Result, path: Path, contents: dict[str, str]) -> dict[str, str]:
        """Add to the GeoPackage what is no layer; return the digests of all layers."""
        empty = [rows for name, rows in layer_rows(top, None).items() if name not in contents]
        finish_geopackage(path, top, run_record_table(top, empty), in_order(contents))
        return {**{rows.name: LayerDigest({}).value for rows in empty}, **contents}

    def _write_database(self, whole: Result, top: Result, districts: StoredDistricts) -> None:
        """Write the districts into a database, if one is given."""
        writing = self.writing
        if writing.to_postgis is not None:
            target = PartsTarget(writing.to_postgis, writing.schema, writing.upsert,
                                 str(writing.units), writing.language)  # fmt: skip
            target.write(districts.tables(), top, self._worded(whole).layers)

    def _write_files(
        self, top: Result, districts: StoredDistricts, ranks: pd.DataFrame,
        contents: dict[str, str],
    ) -> None:  # fmt: skip
        """Write the files beside the GeoPackage."""
        folder, units, language = self.staging.path, str(self.writing.units), self.writing.language
        write_project(top, folder / PROJECT)
        districts.write_summary(folder / "summary.csv", ranks, units)
        write_csv(faults_list(top, units, language), folder / "faults.csv")
        asked = self._with_all_requests(top)
        if has_requests(asked):
            write_requests(asked, folder, units, language)
        write_laws(top, folder)
        writing = self.writing
        changes = written_changes(self.staging, units, top.run_id) if writing.compare else None
        write_list_of_files({**run_record(top), "changes": changes}, folder, contents)


def _lines_asked_for(steps: Sequence[PlannedStep]) -> list[int]:
    """Return how many lines products are asked for to show."""
    given = [one.settings.get(name) for one in steps for name in LINE_LIMITS]
    return [number for number in given if isinstance(number, int)]


def _rows(result: Result) -> dict[str, int]:
    return {name: len(layer) for name, layer in result.layers.items()}


def _dug(network: Network, job: Job) -> set[str]:
    """Return the lines that were dug at, by name or by place."""
    assert job.dig_outcomes is not None  # only then
    named = {str(n) for n in texts(job.dig_outcomes, "line_id") if n is not None}
    shapes = job.dig_outcomes.geometry.to_numpy()
    near = network.plan.tree.query(shapes, predicate="dwithin", distance=NEAR_M)[1]
    return named | {str(n) for n in texts(job.routes, "line_id")[near] if n is not None}


def _as_if_whole(before: Result, by_line: Sequence[PlannedStep]) -> Result:
    """Return the result of the network with the steps by line recorded, for its run id."""
    given = {step.name: settings for step, settings in by_line}
    names = [name for step, _ in by_line for name in step.makes]
    done = replace(
        before, layers={**before.layers, **{name: pd.DataFrame() for name in names}},
        parameters={**before.parameters, **given},
    )  # fmt: skip
    whole = with_chunked_runs(done, by_line)
    return replace(whole, layers=before.layers, run_id_read=whole.run_id)
