"""Reuse of what a reading of a job made, in the next reading of the same job."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

Made = TypeVar("Made")
_PLAIN = (str, int, float, bool, frozenset, tuple, type(None))


class Reuse:
    """What each stage of a reading made, with the objects that it was made from.

    A stage is a function that changes none of its inputs and depends on nothing else. It is called
    again only if any input is another object than in the reading before. So nothing compares
    contents but `alike`, which gives an object of equal content its former identity.

    Examples
    --------
    >>> reuse, rows = Reuse(), [3, 1, 2]
    >>> first = reuse("sorted", sorted, rows)
    >>> reuse.keep()
    >>> reuse("sorted", sorted, rows) is first, reuse("sorted", sorted, [3, 1, 2]) is first
    (True, False)
    """

    def __init__(self) -> None:
        self._before: dict[Hashable, tuple[tuple[object, ...], Any]] = {}
        self._now: dict[Hashable, tuple[tuple[object, ...], Any]] = {}

    def __call__(self, stage: Hashable, make: Callable[..., Made], *inputs: object) -> Made:
        """Return what `make` makes of the inputs, or what it made of the same in the last reading.

        Parameters
        ----------
        stage : hashable
            Name of the stage, once in a reading.
        make : callable
        *inputs : object
            Arguments of `make`: texts, numbers and tuples of them are the same if they are equal,
            all others if they are one object.
        """
        before = self._before.get(stage)
        same = before is not None and len(before[0]) == len(inputs)
        if before is not None and same and all(map(_is_same, before[0], inputs)):
            self._now[stage] = before
        else:
            self._now[stage] = inputs, make(*inputs)
        made: Made = self._now[stage][1]
        return made

    def alike(self, stage: Hashable, made: Made, equal: Callable[[Made, Made], bool]) -> Made:
        """Return the object of the last reading if it has the same content, else `made`."""
        before, now = self._before.get(stage), self._now.get(stage)
        if now is not None and now[1] is made:
            return made
        if before is not None and (before[1] is made or equal(before[1], made)):
            made = before[1]
        self._now[stage] = (), made
        return made

    def keep(self) -> None:
        """End a reading: what it made is reused in the next one."""
        self._before, self._now = self._now, {}


def _is_same(one: object, other: object) -> bool:
    if one is other:
        return True
    if type(one) is not type(other) or not isinstance(one, _PLAIN):
        return False
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(map(_is_same, one, other))
    return one == other
