"""Minutes that each action takes, and which actions a crew can do."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from leakgeo.errors import ParameterError
from leakgeo.find.weights import load_weights
from leakgeo.sound.constants import overridden

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

Action = Literal[
    "listen", "sweep", "listen_beyond", "read_meter", "close_valve", "air", "trickle", "night",
    "look_inside", "shut_fitting", "find_source", "trace_again", "probe", "tape", "pressure",
]  # fmt: skip
_ACTIONS: tuple[Action, ...] = get_args(Action)
# A crew can always listen.
_ALWAYS = "listen"
# Ranges of values, ends excluded; others must be above 0.
_RANGES = {"rising": (0.0, 1.0), "from_hour": (0.0, 24.0), "to_hour": (0.0, 24.0)}
_MAY_BE_ZERO = ("minutes_per_stop", "minutes_per_valve", "minutes_per_m", "from_hour", "to_hour",
                "least_bits", "least_bits_per_hour")  # fmt: skip


@dataclass(frozen=True)
class ActionCosts:
    """Assumptions about actions, and those that the crew can't do.

    Parameters
    ----------
    table : mapping of str to mapping of str to float
        As ``actions.toml`` explains it.
    without : frozenset of str
    """

    table: Mapping[str, Mapping[str, float]]
    without: frozenset[str] = frozenset()

    def minutes(
        self, action: Action, *, stops: int = 0, valves: int = 0, walk_m: float = 0.0
    ) -> float:
        """Return how long an action takes, in minutes.

        Examples
        --------
        >>> costs = action_costs()
        >>> costs.minutes("listen", stops=4, walk_m=20.0), costs.minutes("close_valve", valves=2)
        (5.4, 60.0)
        """
        own = self.table[action]
        each = {"minutes_per_stop": stops, "minutes_per_valve": valves, "minutes_per_m": walk_m}
        return own["minutes"] + sum(own.get(name, 0.0) * times for name, times in each.items())

    def can(self, action: str) -> bool:
        """Return whether the crew can do an action."""
        return action not in self.without

    @property
    def worth(self) -> Mapping[str, float]:
        """Limits from which an action is worth proposing."""
        return self.table["worth"]


def action_costs(path: Path | None = None, without: str = "") -> ActionCosts:
    """Return the assumptions about actions.

    Parameters
    ----------
    path : pathlib.Path, optional
        TOML file with any of the tables and keys of the shipped one.
    without : str
        Actions that the crew can't do, separated by commas.

    Raises
    ------
    ParameterError
        If the file can't be read, a key or an action is unknown, or a value is no number or below
        zero.

    Examples
    --------
    >>> costs = action_costs(without="air, probe")
    >>> costs.can("air"), costs.can("sweep")
    (False, True)
    """
    table = load_weights("leakgeo.find.advise", "actions")
    if path is not None:
        table = _own_costs(path, table)
    return ActionCosts(table, parse_without(without))


def _own_costs(
    path: Path, shipped: Mapping[str, Mapping[str, float]]
) -> Mapping[str, Mapping[str, float]]:
    try:
        own = tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ParameterError.of("costs", f"{path} can't be read ({error}).") from error
    table: Mapping[str, Mapping[str, float]] = overridden(shipped, own, str(path))
    for action, values in table.items():
        for name, value in values.items():
            _check(path, f"{action}.{name}", name, value)
    return table


def _check(path: Path, where: str, name: str, value: float) -> None:
    """Raise ParameterError if a value of a file of costs is out of range."""
    low, high = _RANGES.get(name, (0.0, np.inf))
    allowed = low < value < high or (value == 0.0 and name in _MAY_BE_ZERO)
    if not allowed:
        above = f"above {low:g}" if name not in _MAY_BE_ZERO else "0 or more"
        below = "" if np.isinf(high) else f" and below {high:g}"
        raise ParameterError.of("costs", f"{path}: {where} = {value:g} must be {above}{below}.")


def parse_without(without: str) -> frozenset[str]:
    """Parse the actions that a crew can't do.

    Raises
    ------
    ParameterError
        If an action is unknown, or is to listen.

    Examples
    --------
    >>> sorted(parse_without("probe, air"))
    ['air', 'probe']
    """
    named = frozenset(name for part in without.split(",") if (name := part.strip()))
    known = [action for action in _ACTIONS if action != _ALWAYS]
    if _ALWAYS in named:
        raise ParameterError.of("without", f"a crew can always {_ALWAYS}; leave it out.")
    if unknown := sorted(named - set(known)):
        raise ParameterError.of(
            "without", f"{', '.join(unknown)!r} is not known; use some of {', '.join(known)}."
        )
    return named
