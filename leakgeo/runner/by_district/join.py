"""Join the results of districts to the files of one result."""

from __future__ import annotations

import codecs
import csv
import io
import json
import sqlite3
import tempfile
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from leakgeo.arrow import from_ipc
from leakgeo.deliver.folder.spreadsheets import csv_text, in_units, rounded
from leakgeo.deliver.geopackage.parts import joined_digest
from leakgeo.dig.order import RANKS, in_dig_order, ranks_of
from leakgeo.job.checks import merged_faults
from leakgeo.job.digest import LayerDigest, column_types
from leakgeo.job.schema import load_schema
from leakgeo.job.sources import open_batches, open_source
from leakgeo.result import Counted
from leakgeo.runner.by_district.part import ABOUT, OF_JOB, RANKED, SUMMARY, TABLES
from leakgeo.runner.task import in_order

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from leakgeo.deliver.geopackage.parts import JoinedGeoPackage
    from leakgeo.faults import Fault
    from leakgeo.runner.journal import Journal
    from leakgeo.runner.task import StepFault


@dataclass(eq=False)
class StoredDistricts:
    """Stored results of districts, in order.

    Parameters
    ----------
    journal : Journal
    numbers : sequence of int
    """

    journal: Journal
    numbers: Sequence[int]
    _joined: int = 0

    def about(self) -> tuple[Counted, dict[str, str], dict[str, float]]:
        """Return what is known of all lines, the digest of each layer, and the seconds by step."""
        rows, status, digs, seconds = (Counter[str]() for _ in range(4))
        readings, rejected = Counter[str](), Counter[str]()
        contents: dict[str, list[str]] = {}
        held = shown = marks = 0
        for number in self.numbers:
            one = json.loads(self._file(number, ABOUT).read_bytes())
            rows.update(one["rows"])
            status.update(one["status"])
            digs.update(one["digs"])
            held, shown = held + one["held"], shown + one["with_place"]
            marks += one["marks"]
            seconds.update(one["seconds"])
            account = one["readings"]
            readings.update({n: account[n] for n in ("in", "used", "rejected")})
            rejected.update(account["rejected_by_reason"])
            for name, digest in one["contents"].items():
                contents.setdefault(name, []).append(digest)
        account = {**readings, "rejected_by_reason": dict(rejected.most_common())}
        joined = {name: joined_digest(parts) for name, parts in contents.items()}
        counted = Counted(dict(status), held, dict(digs), marks, shown, dict(rows), account)
        return counted, joined, dict(seconds)

    def ranks(self) -> pd.DataFrame:
        """Return what orders the lines and their digs, and the ranks of all, by ``line_id``."""
        parts = [from_ipc(self._file(n, RANKED).read_bytes()) for n in self.numbers]
        table = pd.concat(parts, ignore_index=True).sort_values("line_id", ignore_index=True)
        return table.assign(**ranks_of(table)).set_index("line_id")

    def join_next(self, joined: JoinedGeoPackage) -> None:
        """Append the tables of the next districts to a GeoPackage, as far as they are stored."""
        for number in self.numbers[self._joined :]:
            if not self.journal.has(number):
                return
            path = self._file(number, TABLES)
            if path.stat().st_size:
                joined.add(path)
            self._joined += 1

    def tables(self) -> Iterator[Path]:
        """Iterate over the GeoPackages of the districts that have rows."""
        for number in self.numbers:
            path = self._file(number, TABLES)
            if path.stat().st_size:
                yield path

    def faults(self, steps: Sequence[str], lines: Sequence[str]) -> tuple[list[Fault], list[Fault]]:
        """Return the faults of the job's large layers and those of the steps; none twice."""
        found = [f for n in self.numbers for f in self.journal.chunk(n).faults()]
        of_job = [one.fault for one in found if one.step == OF_JOB]
        rest: list[StepFault] = [one for one in found if one.step != OF_JOB]
        return merged_faults(of_job), [f.fault for f in in_order(rest, steps, lines)]

    def write_summary(self, path: Path, ranks: pd.DataFrame, units: str) -> None:
        """Write summary.csv, in the order of the digs."""
        shown = rounded(in_units(ranks[[*RANKS]], units))
        place: dict[str, tuple[int, int]] = {}
        head = b""
        with tempfile.TemporaryFile() as rows, path.open("wb") as file:
            for number in self.numbers:
                table = from_ipc(self._file(number, SUMMARY).read_bytes())
                own = shown.loc[table["line_id"]]
                table = table.assign(**{str(n): own[n].to_numpy() for n in own if n in table})
                head, *lines = _records(csv_text(table))
                for name, line in zip(table["line_id"], lines, strict=True):
                    place[name] = rows.tell(), len(line)
                    rows.write(line)
            file.write(codecs.BOM_UTF8 + head)
            for name in in_dig_order(ranks).index:
                begin, length = place[name]
                rows.seek(begin)
                file.write(rows.read(length))

    def _file(self, number: int, name: str) -> Path:
        return self.journal.chunk(number).folder / name


def _records(text: str) -> list[bytes]:
    """Return the records of a CSV text, each with its end, as UTF-8."""
    out = []
    for record in csv.reader(io.StringIO(text, newline="")):
        line = io.StringIO(newline="")
        csv.writer(line, lineterminator="\r\n").writerow(record)
        out.append(line.getvalue().encode())
    return out


def rank_lines(base: sqlite3.Connection, ranks: pd.DataFrame) -> None:
    """Set the ranks of the lines in a joined GeoPackage.

    Parameters
    ----------
    base : sqlite3.Connection
    ranks : pandas.DataFrame
        As of `StoredDistricts.ranks`.
    """
    columns = ranks[[*RANKS]].astype(object)
    rows = columns.where(columns.notna(), None).itertuples(name=None)
    names = ", ".join(RANKS)
    base.execute("BEGIN")
    base.execute(f"CREATE TEMP TABLE ranks (line_id PRIMARY KEY, {names})")
    base.executemany(f"INSERT INTO ranks VALUES (?{', ?' * len(RANKS)})", rows)
    base.execute(
        f"UPDATE lines SET ({names}) = (SELECT {names} FROM ranks "
        "WHERE ranks.line_id = lines.line_id)"
    )
    base.execute("COMMIT")


def digest_of_lines(path: Path) -> str:
    """Return the digest of the layer of lines, with the ranks."""
    digest = LayerDigest(column_types(load_schema("lines")))
    with open_source(path, in_part=True) as opened, open_batches(opened, "lines") as found:
        for rows in found.batches:
            digest.add(found.raw(rows).table)
    return digest.value
