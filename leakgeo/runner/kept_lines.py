"""Results of lines that are kept in the output folder, for the next run to take over."""

from __future__ import annotations

import hashlib
import json
import shutil
import zlib
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from leakgeo.arrays import texts
from leakgeo.arrow import to_ipc
from leakgeo.faults import Fault
from leakgeo.provenance import json_sha256
from leakgeo.reason import Reason
from leakgeo.result import joined
from leakgeo.runner.held_law import note
from leakgeo.runner.journal import StoredChunk, flush
from leakgeo.runner.pieces import Pieces
from leakgeo.runner.task import FAULTS, StepFault, faults_json

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    import pandas as pd

    from leakgeo.result import Result
    from leakgeo.runner.journal import Journal
    from leakgeo.runner.line_digests import LineDigests

#: Folder of the kept results in the output folder.
FOLDER = ".leakgeo-lines"
_SEAL, _LAW = "kept.json", "law.json"
# More stored chunks than this are merged into one, but for the large ones.
_MOST_CHUNKS, _LARGE_LINES = 20, 500


@dataclass(frozen=True)
class Share:
    """Some lines of a stored chunk.

    Parameters
    ----------
    chunk : StoredChunk
    own : frozenset of str
        All lines that the chunk worked out.
    lines : frozenset of str
        Those of them that are taken from it.
    loose : bool
        Whether its rows of no selected line are taken too.
    """

    chunk: StoredChunk
    own: frozenset[str]
    lines: frozenset[str]
    loose: bool

    @classmethod
    def all_of(cls, chunk: StoredChunk) -> Share:
        """Return the whole of a stored chunk."""
        own = frozenset(chunk.lines())
        return cls(chunk, own, own, chunk.has_loose())

    def layer(self, name: str, lines: Iterable[str] | None = None) -> pd.DataFrame:
        """Read the taken rows of a layer, of all taken lines or of some of them."""
        if lines is not None:
            return self.chunk.layer(name, self.lines.intersection(lines))
        if not self.loose:
            return self.chunk.layer(name, self.lines)
        frame = self.chunk.layer(name)
        if self.lines == self.own:
            return frame
        return frame[~frame["line_id"].isin(self.own - self.lines)].reset_index(drop=True)

    def faults(self) -> list[StepFault]:
        """Read the faults of the taken lines, and those of no line if they are taken."""
        return [
            one for one in self.chunk.faults()
            if one.fault.line_id in self.lines
            or (self.loose and one.fault.line_id not in self.own)
        ]  # fmt: skip


@dataclass(frozen=True)
class _Kept:
    """A stored chunk, and what it was worked out from.

    Parameters
    ----------
    folder : pathlib.Path
    digests : mapping of str to str
        Digest of the inputs of each of its lines.
    read_with : mapping of str to mapping of str to int
        Digests of the readings on other lines that the results of some lines depend on.
    loose : str
        Digest of the inputs of its rows of no line; ``""`` if it has none.
    sums : mapping of str to int
        CRC-32 of each file.
    """

    folder: Path
    digests: Mapping[str, str]
    read_with: Mapping[str, Mapping[str, int]]
    loose: str
    sums: Mapping[str, int]

    def fits(self, name: str, wanted: LineDigests) -> bool:
        """Return whether the result of a line is the one wanted."""
        others = self.read_with.get(name, {})
        return wanted.of_line.get(name) == self.digests[name] and all(
            wanted.heard.get(other, 0) == digest for other, digest in others.items()
        )

    @classmethod
    def read(cls, folder: Path) -> _Kept:
        seal, check = json.loads((folder / _SEAL).read_text("utf-8"))
        if check != json_sha256(seal):
            raise ValueError("the seal is damaged")
        sums = {str(name): int(value) for name, value in seal["sums"].items()}
        read_with = {str(name): dict(others) for name, others in seal["read_with"].items()}
        return cls(folder, dict(seal["digests"]), read_with, str(seal["loose"]), sums)

    @classmethod
    def seal(cls, folder: Path, own: Iterable[str], digests: LineDigests, *, loose: bool) -> _Kept:
        """Record what the chunk in a folder was worked out from."""
        sums = {p.name: zlib.crc32(p.read_bytes()) for p in sorted(folder.iterdir())}
        of_line = {name: digests.of_line[name] for name in own}
        lines = StoredChunk(folder).layer("lines")
        rows = zip(*(texts(lines, c) for c in ("line_id", "read_with", "code")), strict=True)
        found = {
            str(name): digests.read_with(str(name), named, failed=code == "not_worked_out")
            for name, named, code in rows
        }
        read_with = {name: others for name, others in found.items() if others}
        kept = cls(folder, of_line, read_with, digests.loose if loose else "", sums)
        seal = {"digests": of_line, "read_with": read_with, "loose": kept.loose, "sums": sums}
        (folder / _SEAL).write_text(json.dumps([seal, json_sha256(seal)]), encoding="utf-8")
        flush(folder / _SEAL)
        return kept

    @cached_property
    def is_intact(self) -> bool:
        """Whether every file is as it was written."""
        try:
            return all(
                zlib.crc32((self.folder / n).read_bytes()) == s for n, s in self.sums.items()
            )
        except OSError:
            return False


class KeptLines:
    """Stored chunks of earlier runs into a folder, with the digests of the inputs of their lines.

    Parameters
    ----------
    out : pathlib.Path
        Output folder, locked by the caller.

    Attributes
    ----------
    faults : list of Fault
        Stored chunks that were ignored, and why.
    worked_out : tuple of str
        Lines that the last run worked out; the others were taken over.
    changed : tuple of str
        Those of them whose own inputs changed; the others were read with such a line.
    pieces : Pieces
        Pieces of products.
    law : dict
        What `leakgeo.runner.held_law.note` returned for the law that is held; empty if none is.
    """

    def __init__(self, out: Path) -> None:
        self.folder = out / FOLDER
        self.faults: list[Fault] = []
        self.worked_out: tuple[str, ...] = ()
        self.changed: tuple[str, ...] = ()
        self.pieces = Pieces(self.folder / "pieces.sqlite")
        self.law = self._read_law()
        self._chunks: dict[int, _Kept] = {}
        for folder in sorted(self.folder.glob("[0-9]*")):
            try:
                self._chunks[int(folder.name)] = _Kept.read(folder)
            except (OSError, ValueError, KeyError, TypeError, AttributeError):
                self._ignore(folder)

    @property
    def is_empty(self) -> bool:
        """Whether nothing is kept."""
        return not self._chunks

    def _ignore(self, folder: Path) -> None:
        reason = Reason("kept_lines_damaged", file=f"{FOLDER}/{folder.name}")
        self.faults.append(Fault("job", reason, effect="noted"))
        shutil.rmtree(folder, ignore_errors=True)

    def load_pieces(self) -> None:
        """Read the pieces now; a file that can't be read is a fault."""
        self.pieces.load()
        if self.pieces.damaged:
            reason = Reason("kept_pieces_damaged", file=f"{FOLDER}/{self.pieces.path.name}")
            self.faults.append(Fault("job", reason, effect="noted"))

    def taken(self, wanted: LineDigests) -> list[Share]:
        """Return the lines whose inputs are those wanted; of equal ones, the latest.

        A chunk with a damaged file is ignored.
        """
        shares: list[Share] = []
        found: set[str] = set()
        loose = False
        for number, kept in sorted(self._chunks.items(), reverse=True):
            lines = {n for n in kept.digests if kept.fits(n, wanted)} - found
            takes_loose = not loose and kept.loose == wanted.loose
            if not (lines or takes_loose):
                continue
            if not kept.is_intact:
                del self._chunks[number]
                self._ignore(kept.folder)
                continue
            found |= lines
            loose |= takes_loose
            shares.append(_share(kept, lines, takes_loose))
        return shares[::-1]

    def has_inputs(self, name: str, wanted: LineDigests) -> bool:
        """Return whether a line was worked out with these inputs, but other readings beside."""
        digest = wanted.of_line.get(name)
        return any(kept.digests.get(name) == digest for kept in self._chunks.values())

    def keep(self, journal: Journal, numbers: Iterable[int], digests: LineDigests) -> None:
        """Move the chunks of a run here, and forget those of which nothing is taken any more."""
        self.folder.mkdir(exist_ok=True)
        for number in numbers:
            chunk = journal.chunk(number)
            _Kept.seal(chunk.folder, chunk.lines(), digests, loose=chunk.has_loose())
            self._put(chunk.folder)
        shares = self.taken(digests)
        used = {share.chunk.folder for share in shares}
        for number in [n for n, kept in self._chunks.items() if kept.folder not in used]:
            shutil.rmtree(self._chunks.pop(number).folder, ignore_errors=True)
        if len(shares) > _MOST_CHUNKS:
            self._merge([s for s in shares if len(s.lines) < _LARGE_LINES], digests)

    def _put(self, folder: Path) -> None:
        number = max(self._chunks, default=-1) + 1
        there = self.folder / f"{number:06d}"
        shutil.rmtree(there, ignore_errors=True)
        folder.rename(there)
        self._chunks[number] = _Kept.read(there)

    def _merge(self, shares: Sequence[Share], digests: LineDigests) -> None:
        """Merge small chunks into one."""
        folder = self.folder / "merging"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        for name in shares[0].chunk.names():
            whole = joined([share.layer(name) for share in shares])
            (folder / f"{name}.arrow").write_bytes(to_ipc(whole))
        faults = [one for share in shares for one in share.faults()]
        (folder / FAULTS).write_bytes(faults_json(faults))
        for path in folder.iterdir():
            flush(path)
        lines = [name for share in shares for name in share.lines]
        _Kept.seal(folder, lines, digests, loose=any(share.loose for share in shares))
        old = {share.chunk.folder for share in shares}
        self._put(folder)
        for number in [n for n, kept in self._chunks.items() if kept.folder in old]:
            shutil.rmtree(self._chunks.pop(number).folder, ignore_errors=True)

    def digests(self, shares: Iterable[Share], wanted: LineDigests) -> dict[str, str]:
        """Return the digest of everything that the result of each taken line depends on."""
        by_folder = {kept.folder: kept for kept in self._chunks.values()}
        found = {}
        for share in shares:
            read_with = by_folder[share.chunk.folder].read_with
            for name in share.lines:
                whole = [wanted.of_line[name], sorted(read_with.get(name, {}).items())]
                found[name] = hashlib.blake2b(repr(whole).encode(), digest_size=16).hexdigest()
        return found

    def close(self, result: Result) -> None:
        """Write what the next update needs to know, after the files are in place.

        Parameters
        ----------
        result : Result
            A law that was learned was learned from its job, with its parameters.
        """
        self.pieces.save()
        if not self.law:
            self.law = note(result.job, self.folder.parent, result.parameters["ground"])
        draft = self.folder / "law.json.new"
        draft.write_text(json.dumps(self.law), encoding="utf-8")
        draft.replace(self.folder / _LAW)

    def _read_law(self) -> dict[str, Any]:
        with suppress(OSError, ValueError):
            noted = json.loads((self.folder / _LAW).read_text("utf-8"))
            return noted if isinstance(noted, dict) else {}
        return {}


def _share(kept: _Kept, lines: set[str], loose: bool) -> Share:
    return Share(StoredChunk(kept.folder), frozenset(kept.digests), frozenset(lines), loose)
