"""Read a file that another program has open, and leave no trace beside it."""

from __future__ import annotations

import shutil
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from leakgeo.faults import Fault

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextmanager
def undisturbed(path: Path) -> Iterator[tuple[Path, tuple[Fault, ...]]]:
    """Give a path that can be read without leaving traces beside the job.

    SQLite in write-ahead mode writes two files beside the one that it reads, so such a job is
    read from a copy; rows that another program has not yet merged come along.
    """
    if not _write_ahead(path):
        yield path, ()
        return
    log = path.with_name(path.name + "-wal")
    pending = log.exists() and log.stat().st_size > 0
    note = Fault(
        "job", "Another program has it open, with edits not yet merged into the file; they were "
        "read too.", "Save and close it there, so that file and record agree.", effect="noted",
    )  # fmt: skip
    with tempfile.TemporaryDirectory(prefix="leakgeo-") as folder:
        copy = Path(folder) / path.name
        shutil.copyfile(path, copy)
        if pending:
            shutil.copyfile(log, Path(folder) / log.name)
        yield copy, (note,) if pending else ()


def _write_ahead(path: Path) -> bool:
    """Tell from the header (bytes 18 and 19 of an SQLite file) whether it is in that mode."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        head = file.read(20)
    return head.startswith(b"SQLite format 3\0") and head[18:20] == b"\x02\x02"
