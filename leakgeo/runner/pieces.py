"""Pieces of products in one file, which outlive a run."""

from __future__ import annotations

import sqlite3
from collections.abc import MutableMapping
from contextlib import closing, suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


class Pieces(MutableMapping[str, bytes]):
    """Bytes by key in a SQLite file; a file that can't be read counts as empty.

    Parameters
    ----------
    path : pathlib.Path
        Read when the first piece is asked for, and written by `save`.

    Attributes
    ----------
    damaged : bool
        Whether the file was there and could not be read; it has been deleted.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> path = Path(tempfile.mkdtemp()) / "pieces.sqlite"
    >>> pieces = Pieces(path)
    >>> pieces["a"] = b"1"
    >>> pieces.save()
    >>> Pieces(path)["a"]
    b'1'
    """

    def __init__(self, path: Path) -> None:
        self.path, self.damaged = path, False
        self._held: dict[str, bytes] | None = None
        self._used: set[str] = set()
        self._fresh: set[str] = set()

    def load(self) -> None:
        """Read the file now."""
        if self._held is None:
            self._held = self._read()

    @property
    def _pieces(self) -> dict[str, bytes]:
        self.load()
        assert self._held is not None
        return self._held

    def _read(self) -> dict[str, bytes]:
        if not self.path.is_file():
            return {}
        try:
            with closing(sqlite3.connect(self.path)) as base:
                return dict(base.execute("SELECT key, bytes FROM pieces"))
        except sqlite3.Error:
            self.damaged = True
            self._delete()
            return {}

    def _delete(self) -> None:
        with suppress(OSError):
            self.path.unlink()

    def __getitem__(self, key: str) -> bytes:
        """Return a piece."""
        self._used.add(key)
        return self._pieces[key]

    def __setitem__(self, key: str, value: bytes) -> None:
        """Store a piece."""
        self._pieces[key] = value
        self._used.add(key)
        self._fresh.add(key)

    def __delitem__(self, key: str) -> None:
        """Forget a piece."""
        del self._pieces[key]

    def __iter__(self) -> Iterator[str]:
        """Iterate over the keys."""
        return iter(self._pieces)

    def __len__(self) -> int:
        """Return the number of pieces."""
        return len(self._pieces)

    def save(self) -> None:
        """Write new pieces to the file, and delete those that no run has used since it was read."""
        if not self._fresh:
            return
        self.path.parent.mkdir(parents=True, exist_ok=True)
        unused = [key for key in self._pieces if key not in self._used]
        for key in unused:
            del self._pieces[key]
        rows = [(key, self._pieces[key]) for key in self._fresh if key in self._pieces]
        try:
            self._write(unused, rows)
        except sqlite3.Error:
            self._delete()  # the result is in place, and the next run makes its pieces anew
        self._fresh.clear()
        self._used.clear()

    def _write(self, unused: list[str], rows: list[tuple[str, bytes]]) -> None:
        with closing(sqlite3.connect(self.path)) as base, base:
            base.execute("PRAGMA synchronous = OFF")
            base.execute("CREATE TABLE IF NOT EXISTS pieces (key TEXT PRIMARY KEY, bytes BLOB)")
            base.executemany("DELETE FROM pieces WHERE key = ?", [(key,) for key in unused])
            base.executemany("INSERT OR REPLACE INTO pieces VALUES (?, ?)", rows)
