"""Tolerance rules, read from a TOML file and selected by name."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from leakgeo.errors import ParameterError

if TYPE_CHECKING:
    from collections.abc import Mapping

_RULES_FILE = Path(__file__).with_name("rules.toml")


@dataclass(frozen=True, slots=True)
class Rule:
    """A tolerance rule, with its legal or published source.

    Parameters
    ----------
    name : str
        Name by which the rule is selected.
    title : str
        Summary of the rule.
    tolerance_m : float
        Distance from the outside edge of a facility to the edge of its tolerance zone, in metres.
    source, date : str
        Text that the rule is copied from, and the date of that text.
    note : str
        What the person who selects the rule has to know.
    unknown_width : {"assume", "mark"}
        Whether a line or point without a width is a facility of assumed width, or a single mark.
    caution_m : float
        Distance from the outside edge to the edge of the caution zone, in metres; 0 for no zone.
    expose_in_caution : bool
        Whether a facility must be exposed first where the hole is in its caution zone.
    """

    name: str
    title: str
    tolerance_m: float
    source: str
    date: str
    note: str
    unknown_width: Literal["assume", "mark"] = "assume"
    caution_m: float = 0.0
    expose_in_caution: bool = False

    def __post_init__(self) -> None:
        if not 0 < self.tolerance_m < 100 or not 0 <= self.caution_m < 100:
            raise ParameterError(
                f"rule {self.name}: tolerance_m must be above 0 and caution_m 0 or more, in metres."
            )
        if self.unknown_width not in ("assume", "mark"):
            raise ParameterError(f'rule {self.name}: unknown_width must be "assume" or "mark".')

    def __str__(self) -> str:
        return f"{self.name}: {self.title} ({self.source}, {self.date}). {self.note}"


@dataclass(frozen=True, slots=True)
class Assumptions:
    """Assumptions for missing utility attributes; the rules file gives the reasons.

    Parameters
    ----------
    quality_level_95_m : mapping of str to float
        95 % horizontal error by quality level A to D, in metres.
    width_m, widest_m, reach_m : float
        Assumed width, greatest width searched for, and search distance beyond tolerance and error,
        in metres.
    """

    quality_level_95_m: Mapping[str, float]
    width_m: float
    widest_m: float
    reach_m: float


@cache
def _shipped() -> dict[str, dict[str, object]]:
    return tomllib.loads(_RULES_FILE.read_text(encoding="utf-8"))


def assumptions() -> Assumptions:
    """Return the shipped assumptions.

    Examples
    --------
    >>> assumptions().quality_level_95_m["B"]
    0.5
    """
    return Assumptions(**_shipped()["assumptions"])  # type: ignore[arg-type]


def load_rules(path: Path | None = None) -> dict[str, Rule]:
    """Read the rules that ship with leakgeo, or a user's own file of the same form.

    Parameters
    ----------
    path : pathlib.Path, optional
        A TOML file with a table ``[rules.NAME]`` for each rule.

    Returns
    -------
    dict of str to Rule

    Raises
    ------
    ParameterError
        If the file can't be read, or a rule in it is incomplete.

    Examples
    --------
    >>> load_rules()["generic"].tolerance_m  # 18 in
    0.4572
    """
    try:
        text = _shipped() if path is None else tomllib.loads(path.read_text(encoding="utf-8"))
        return {name: Rule(name=name, **table) for name, table in text["rules"].items()}  # type: ignore[arg-type]
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise ParameterError(
            f"rules file {path}: {error}. It must be TOML with a table [rules.NAME] holding title, "
            "tolerance_m, source, date and note for each rule."
        ) from error


def pick_rule(rule: str) -> Rule:
    """Return a shipped rule by name, or a rule of the user's own file by ``FILE.toml#NAME``.

    Raises
    ------
    ParameterError
        If there is no such rule; the message lists the known ones.

    Examples
    --------
    >>> pick_rule("michigan_460_723").caution_m  # 48 in
    1.2192
    """
    path, _, name = rule.rpartition("#")
    rules = load_rules(Path(path) if path else None)
    if name not in rules:
        raise ParameterError.of("rule", f"{rule!r} is not known; use one of {', '.join(rules)}.")
    return rules[name]
