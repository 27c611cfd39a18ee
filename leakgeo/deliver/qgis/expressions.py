"""Expressions in the core language of QGIS 3.22: names of layers, literals, and texts of numbers.

They also run in mobile apps that are built on QGIS.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.job.lengths import INCH_M

if TYPE_CHECKING:
    from leakgeo.wording import Wording


def layer_id(name: str) -> str:
    """Return the id of a layer in the project.

    Examples
    --------
    >>> layer_id("readings")
    'leakgeo_readings'
    """
    return f"leakgeo_{name}"


def literal(text: str) -> str:
    """Return a text as a literal of an expression.

    Examples
    --------
    >>> print(literal("owner's"))
    'owner''s'
    """
    return "'{}'".format(text.replace("\\", "\\\\").replace("'", "''"))


def plain_text(text: str) -> str:
    r"""Return a text of a job for a place where QGIS computes expressions: it finds none in it.

    Examples
    --------
    >>> plain_text("[% env('HOME') %]\x01")
    "[ % env('HOME') % ] "
    """
    # XML does not allow control characters, nor lone surrogates.
    printable = "".join(sign if sign.isprintable() else " " for sign in text)
    return printable.replace("[%", "[ %").replace("%]", "% ]")


def escaped(text: str) -> str:
    """Return the value of an expression as text with the signs of markup replaced."""
    return f"replace(replace(to_string({text}), '&', '&amp;'), '<', '&lt;')"


def tape_text(metres: str, units: str) -> str:
    """Return a length as `leakgeo.wording.quantities.tape_text` prints it.

    Parameters
    ----------
    metres : str
        Expression of the length, in metres.
    units : {"si", "us"}
    """
    sign = "if(@u < 0, '-', '')"
    if units == "us":
        whole = "floor(abs(@u) / 12)"
        rest = "abs(@u) % 12"
        text = (f"{sign} || if({whole} > 0, {whole} || ' ft', '') || if({rest} > 0 OR {whole} = 0, "
                f"if({whole} > 0, ' ', '') || ({rest}) || ' in', '')")  # fmt: skip
        return f"with_variable('u', floor({metres} / {INCH_M} + 0.5), {text})"
    text = f"{sign} || floor(abs(@u) / 100) || '.' || lpad(abs(@u) % 100, 2, '0') || ' m'"
    return f"with_variable('u', floor(100 * {metres} + 0.5), {text})"


def odds_text(probability: str, words: Wording) -> str:
    """Return a probability as `leakgeo.wording.quantities.odds_text` prints it.

    Parameters
    ----------
    probability : str
        Expression of the probability.
    words : Wording
    """
    of, over, under = (words.term(code, "odds") for code in ("in", "over", "under"))
    tens = f"floor(10 * @p + 0.5) || {literal(f' {of} 10')}"
    bound = f"if(@p > 0.99, {literal(f'{over} ')}, if(@p < 0.01, {literal(f'{under} ')}, ''))"
    hundreds = f"{bound} || clamp(1, floor(100 * @p + 0.5), 99) || {literal(f' {of} 100')}"
    return (f"with_variable('p', {probability}, "
            f"if(@p >= 0.095 AND @p < 0.95, {tens}, {hundreds}))")  # fmt: skip
