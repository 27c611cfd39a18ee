"""Journal of a run: the results of its chunks on disk, and the key of the run."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from leakgeo.arrow import counts_of_ipc, from_ipc
from leakgeo.errors import OutputError, parameter_label
from leakgeo.faults import Fault
from leakgeo.job.digest import job_digest
from leakgeo.provenance import NEUTRAL_PARAMETERS, content_of, json_sha256
from leakgeo.runner.task import FAULTS, LINES, StepFault

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import pandas as pd

    from leakgeo.job.model import Job
    from leakgeo.runner.task import ChunkResult

FOLDER, _KEY = ".leakgeo-parts", "key.json"


@dataclass(frozen=True)
class StoredChunk:
    """Result of a chunk on disk.

    Parameters
    ----------
    folder : pathlib.Path
    """

    folder: Path

    def names(self) -> list[str]:
        """Return the names of its layers."""
        return sorted(path.stem for path in self.folder.glob("*.arrow"))

    def layer(self, name: str, lines: Iterable[str] | None = None) -> pd.DataFrame:
        """Read one layer, or its rows of some lines."""
        return from_ipc((self.folder / f"{name}.arrow").read_bytes(), lines)

    def counts(self, name: str) -> dict[str, int]:
        """Return the number of rows of each line in a layer."""
        return counts_of_ipc(self.folder / f"{name}.arrow", "line_id")

    def lines(self) -> list[str]:
        """Read the names of its own lines."""
        return [str(name) for name in self._own()["lines"]]

    def has_loose(self) -> bool:
        """Return whether it has the readings of no line, and the lines that are not selected."""
        return bool(self._own()["loose"])

    def _own(self) -> dict[str, Any]:
        own: dict[str, Any] = json.loads((self.folder / LINES).read_text("utf-8"))
        return own

    def faults(self) -> list[StepFault]:
        """Read its faults."""
        rows = json.loads((self.folder / FAULTS).read_text("utf-8"))
        return [StepFault(row["step"], Fault.from_dict(row)) for row in rows]


class Journal:
    """Results of the chunks of one run; each is complete or missing.

    Parameters
    ----------
    out : pathlib.Path
        Folder of the results.
    key : mapping of str to str
        Digests of input, parameters and versions.
    resumable : bool
        Whether a run may be resumed after a loss of power; default True. Flushing takes time.
    """

    def __init__(self, out: Path, key: Mapping[str, str], *, resumable: bool = True) -> None:
        self.folder, self.key, self._resumable = out / FOLDER, dict(key), resumable

    def begin(self, *, resume: bool) -> None:
        """Create the folder; keep the chunks of a stopped run if it is resumed, else delete them.

        Raises
        ------
        OutputError
            If the stopped run had another input, other parameters or another version; or if the
            folder can't be written.
        """
        if self.folder.exists() and resume:
            self._check()
        elif self.folder.exists():
            shutil.rmtree(self.folder)
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            (self.folder / _KEY).write_text(json.dumps(self.key, indent=1), encoding="utf-8")
        except OSError as error:
            raise OutputError(
                f"{self.folder}: the folder can't be written ({error.strerror}). Free disk space, "
                "or choose another folder."
            ) from error

    def _check(self) -> None:
        try:
            before = json.loads((self.folder / _KEY).read_text("utf-8"))
        except (OSError, ValueError):
            before = {}
        changed = [name for name, value in self.key.items() if before.get(name) != value]
        if changed:
            raise OutputError(
                f"{self.folder.parent}: the run that stopped there had other "
                f"{' and '.join(changed)}, so it can't be resumed. Run without resuming to start "
                "again."
            )

    def has(self, number: int) -> bool:
        """Return whether the journal has the result of a chunk."""
        return self._chunk_folder(number).is_dir()

    def keep_only(self, number: int, lines: frozenset[str], *, loose: bool) -> None:
        """Delete the result of a chunk if it is not of these lines.

        What a stopped update left to do is divided into other chunks.
        """
        if self.has(number):
            chunk = self.chunk(number)
            if (frozenset(chunk.lines()), chunk.has_loose()) != (lines, loose):
                shutil.rmtree(chunk.folder)

    def _chunk_folder(self, number: int) -> Path:
        return self.folder / f"{number:06d}"

    def store(self, number: int, result: ChunkResult) -> None:
        """Store the result of a chunk; see `write`."""
        self.write(number, result.files())

    def write(self, number: int, files: Mapping[str, bytes]) -> None:
        """Write the files of a chunk to a temporary folder, and rename the folder.

        Raises
        ------
        OutputError
            If they can't be written: the disk is full, or the folder was deleted.
        """
        try:
            self._write(number, files)
        except OSError as error:
            raise OutputError(
                f"{self.folder}: the results can't be written ({error.strerror or error}). "
                f"Free disk space, and continue the run with {parameter_label('resume')}."
            ) from error

    def _write(self, number: int, files: Mapping[str, bytes]) -> None:
        temporary = Path(tempfile.mkdtemp(prefix=".writing-", dir=self.folder))
        try:
            for name, content in files.items():
                (temporary / name).write_bytes(content)
                if self._resumable:
                    flush(temporary / name)
            temporary.rename(self._chunk_folder(number))
        finally:
            shutil.rmtree(temporary, ignore_errors=True)

    def chunk(self, number: int) -> StoredChunk:
        """Return the stored result of a chunk."""
        return StoredChunk(self._chunk_folder(number))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        """Delete the chunks unless an error was raised."""
        if kind is None:
            shutil.rmtree(self.folder, ignore_errors=True)


def run_key(job: Job, parameters: Mapping[str, Mapping[str, object]], size: int) -> dict[str, str]:
    """Return the key of a run: digests of the input, the parameters, and the versions.

    Parameters
    ----------
    job : Job
    parameters : mapping
        Parameters of every step.
    size : int
        Lines per chunk.
    """
    from leakgeo.deliver.folder.record import versions

    settings = {
        step: {n: content_of(v) for n, v in given.items() if n not in NEUTRAL_PARAMETERS}
        for step, given in parameters.items()
    }
    return {
        "input": job.layers_digest or job_digest(job),
        "parameters": json_sha256({"size": size, "steps": settings}),
        "versions": json_sha256(versions()),
    }


def flush(path: Path) -> None:
    """Flush a file to disk."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
