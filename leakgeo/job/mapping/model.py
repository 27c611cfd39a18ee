"""A mapping from the layers, columns, codes and units of others to those of the contract."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from leakgeo.errors import JobError
from leakgeo.faults import Fault
from leakgeo.job.mapping.lines import line_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from leakgeo.faults import Effect

    Scalar = str | int | float | bool
    Keys = tuple[str | int, ...]


@dataclass(frozen=True)
class ColumnMap:
    """Where one column of the contract comes from.

    Parameters
    ----------
    name : str
        The contract's.
    keys : tuple of str or int
        Where it stands in the file.
    column : str, optional
        Column of the source.
    value : str, int, float or bool, optional
        The same for every row, where there is no such column.
    factor : float
        From the source's unit to the contract's.
    codes : mapping of str to str, int, float or bool
        The contract's value by the source's; ``""`` empties it.
    missing : tuple of str
        What stands for no value in the source.
    date_format, time_zone : str, optional
    """

    name: str
    keys: Keys
    column: str | None = None
    value: Scalar | None = None
    factor: float = 1.0
    codes: Mapping[str, Scalar] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    date_format: str | None = None
    time_zone: str | None = None


@dataclass(frozen=True)
class LayerMap:
    """Where one layer of the contract, or a part of it, comes from.

    Parameters
    ----------
    name : str
        The contract's.
    keys : tuple of str or int
        Where it stands in the file.
    file, layer : str, optional
        File within the job's folder, and layer of the source.
    crs : str, optional
        Of a layer that has none.
    x, y : str, optional
        Columns with coordinates.
    columns : tuple of ColumnMap
    left_out : tuple of str
        Columns of the contract that the source has under that name, and that mean something else.
    """

    name: str
    keys: Keys
    file: str | None = None
    layer: str | None = None
    crs: str | None = None
    x: str | None = None
    y: str | None = None
    columns: tuple[ColumnMap, ...] = ()
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class JobMapping:
    """A mapping as read from its file.

    Parameters
    ----------
    path : pathlib.Path
    text : str
        Of the file.
    layers : mapping of str to tuple of LayerMap
        By the contract's name; the parts of a layer are put together.
    left_out : frozenset of str
        Layers of the contract that are not to be read.
    faults : tuple of Fault
        Mistakes that show without a look at the data; what they are in is not in `layers`.
    decimal_comma : bool
        Whether numbers that are text have a comma where others have a point.
    """

    path: Path
    text: str
    layers: Mapping[str, tuple[LayerMap, ...]]
    left_out: frozenset[str] = frozenset()
    faults: tuple[Fault, ...] = ()
    decimal_comma: bool = False


@dataclass
class Mistakes:
    """Everything that is wrong with a mapping, each with the line it stands in."""

    path: Path
    text: str = ""
    faults: list[Fault] = field(default_factory=list)

    def tell(
        self, keys: Sequence[str | int], problem: str, what_to_do: str,
        value: object = "", effect: Effect = "stops",
    ) -> None:  # fmt: skip
        """Record one; `keys` say where it stands."""
        where = f"{self.path.name}, line {line_of(self.text, keys)}"
        column = next((str(k) for k in reversed(keys) if isinstance(k, str)), "")
        said = str(value)[:80]
        self.faults.append(Fault("mapping", problem, what_to_do, where, column, said, effect))

    def stop_if_any(self) -> None:
        """Raise what stops, all of it at once."""
        many = sum(f.effect == "stops" for f in self.faults)
        if many:
            raise JobError(
                f"{self.path.name}: the mapping has {many} mistake{'s' if many > 1 else ''}. "
                "Correct the file, and run again.",
                sorted(self.faults, key=lambda f: int(f.feature.rpartition(" ")[2])),
            )  # fmt: skip


def meant(name: str, known: Iterable[str]) -> str:
    """Say what somebody who wrote `name` may have meant, or what there is.

    Examples
    --------
    >>> meant("route", ["routes", "readings"]), meant("x", ["routes", "readings"])
    ('Did you mean routes?', 'Use one of: routes, readings.')
    """
    names = list(known)
    by_case = {n.casefold(): n for n in names}
    near = difflib.get_close_matches(name.casefold(), by_case, n=1, cutoff=0.7)
    if near:
        return f"Did you mean {by_case[near[0]]}?"
    more = f" and {len(names) - 40} more" if len(names) > 40 else ""
    return f"Use one of: {', '.join(names[:40])}{more}." if names else "There is none."
