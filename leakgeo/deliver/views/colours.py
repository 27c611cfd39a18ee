"""Colours, line patterns and letters of the map, the report and GIS styles."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from leakgeo.wording.quantities import is_known

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class UtilityLook:
    """Symbol of one kind of buried utility; pattern and letter serve colour-blind readers.

    Parameters
    ----------
    name : str
        Legend text.
    colour : str
        Hex colour: a readable shade of the uniform colour of that kind.
    dash : tuple of int
        On and off lengths in pixels; empty for a solid line.
    letter : str
        Abbreviation written on the line.
    """

    name: str
    colour: str
    dash: tuple[int, ...]
    letter: str


# Uniform colour code for marking utilities (Michigan MCL 460.727), in shades near the usual paint.
# Patterns differ clearly, so that no kind is identified by colour alone.
UTILITY: Mapping[str, UtilityLook] = MappingProxyType(
    {
        "electric": UtilityLook("electric", "#c8102e", (), "E"),
        "gas": UtilityLook("gas", "#ffd100", (14, 5), "G"),
        "oil": UtilityLook("oil", "#ffd100", (7, 4), "O"),
        "steam": UtilityLook("steam", "#ffd100", (26, 5), "ST"),
        "gas_oil_steam": UtilityLook("GAS, OIL or STEAM", "#ffd100", (14, 4, 2, 4), "GOS"),
        "communications": UtilityLook("communications", "#ff8200", (3, 4), "C"),
        "potable_water": UtilityLook("potable water", "#0072ce", (22, 4), "W"),
        "reclaimed_water": UtilityLook("reclaimed water", "#8031a7", (14, 4, 3, 4), "R"),
        "sewer_drain": UtilityLook("sewer and drain", "#00843d", (8, 3), "S"),
        "unknown": UtilityLook("unknown", "#5c5c5c", (2, 7), "?"),
    }
)
EXCAVATION = "#ffffff"
SURVEY = "#e6007e"
INK = "#14181d"
PIPE = "#3f4a56"

# ColorBrewer RdPu, 4 classes, darkest first: one hue, readable by the colour-blind, near the
# survey pink of the uniform colours, so that a zone is not mistaken for a utility.
ZONES = ("#ae017e", "#f768a1", "#fbb4b9", "#feebe2")
# matplotlib's viridis at equal steps (CC0): uniform in lightness, readable by the colour-blind.
LEVELS = ("#440154", "#472d7b", "#3b528b", "#2c728e", "#21918c", "#28ae80", "#5ec962", "#addc30",
          "#fde725")  # fmt: skip


def utility_look(kind: object) -> UtilityLook:
    """Return the symbol of a kind of utility; an unlisted kind gets that of "unknown".

    Examples
    --------
    >>> utility_look("electric").letter, utility_look("tramway").letter
    ('E', '?')
    """
    return UTILITY.get(str(kind), UTILITY["unknown"])


def utility_letter(kind: object, quality_level: object) -> str:
    """Return the letter of a utility, with a question mark if its position is not known.

    Examples
    --------
    >>> utility_letter("electric", "B"), utility_letter("electric", "D"), utility_letter("x", None)
    ('E', 'E?', '?')
    """
    letter = utility_look(kind).letter
    placed = str(quality_level).upper() in {"A", "B", "C"}
    return letter if placed or letter == "?" else f"{letter}?"


def lighter(colour: str, share: float) -> str:
    """Return a hex colour with a share of white mixed in, 0 to 1.

    Examples
    --------
    >>> lighter("#0072ce", 0.5)
    '#80b8e6'
    """
    parts = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return "#" + "".join(f"{round(part + (255 - part) * share):02x}" for part in parts)


def zone_colour(rank: int) -> str:
    """Return the colour of a search zone: rank 1 is darkest, ranks from 4 on share one colour.

    Examples
    --------
    >>> zone_colour(1) == ZONES[0], zone_colour(9) == ZONES[-1]
    (True, True)
    """
    return ZONES[min(max(rank, 1), len(ZONES)) - 1]


def level_colour(level_db: float, low_db: float, high_db: float) -> str:
    """Return the colour of a sound level on the scale of its line.

    Parameters
    ----------
    level_db, low_db, high_db : float
        Level, and the lowest and highest level of the line, in dB; a level that is not finite is
        grey.

    Returns
    -------
    str
        Hex colour.

    Examples
    --------
    >>> level_colour(60, 40, 60) == LEVELS[-1], level_colour(40, 40, 60) == LEVELS[0]
    (True, True)
    """
    if not is_known(level_db):
        return "#9a9a9a"
    span = high_db - low_db
    share = (level_db - low_db) / span if span > 0 else 0.5
    return LEVELS[round(min(max(share, 0.0), 1.0) * (len(LEVELS) - 1))]
