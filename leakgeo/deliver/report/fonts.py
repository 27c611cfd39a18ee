"""Fonts and text of the report: many scripts, right-to-left names, nothing taken for markup."""

from __future__ import annotations

import re
from functools import cache, lru_cache
from importlib.resources import as_file, files

from arabic_reshaper import ArabicReshaper
from bidi import get_display
from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Paragraph
from reportlab.platypus.paraparser import ParaFrag

from leakgeo.deliver.views.colours import INK

REGULAR, BOLD = "DejaVuSans", "DejaVuSans-Bold"
LACKING = "\u25a1"  # stands for a character that the font has no shape for
_RTL = re.compile(r"[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc]")
_BETWEEN = re.compile(r"(?<=[\u0590-\u08ff\ufb1d-\ufefc]) (?=[\u0590-\u08ff\ufb1d-\ufefc])")


@cache
def register_fonts() -> frozenset[int]:
    """Register the fonts that ship with the package; give the code points they both draw."""
    drawn = []
    for name in (REGULAR, BOLD):
        with as_file(files("leakgeo.deliver") / "assets" / f"{name}.ttf") as path:
            font = TTFont(name, str(path))
        pdfmetrics.registerFont(font)
        drawn.append(frozenset(font.face.charToGlyph))
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, BOLD, REGULAR, BOLD)
    return drawn[0] & drawn[1]


@cache
def _reshaper() -> ArabicReshaper:
    return ArabicReshaper({"delete_harakat": False})


def lacks_shapes(text: str) -> bool:
    """Return whether the font lacks a character of `text`.

    Examples
    --------
    >>> lacks_shapes("Źródlana"), lacks_shapes("水道")
    (False, True)
    """
    drawn = register_fonts()
    return any(ord(c) not in drawn for c in text)


def drawn(text: str) -> str:
    """Return text as it is drawn from left to right; characters the font lacks become squares.

    Parameters
    ----------
    text : str
        In logical order, any script.

    Returns
    -------
    str
        Right-to-left runs joined up and in visual order, kept on one line.

    Examples
    --------
    >>> drawn("Alder 12"), drawn("水 12")
    ('Alder 12', '□ 12')
    >>> drawn("אבג 12")
    '12 גבא'
    """
    if text.isascii() and text.isprintable():  # the font has them all
        return text
    known = register_fonts()
    if _RTL.search(text):
        visual = get_display(_reshaper().reshape(text))
        text = _BETWEEN.sub("\u00a0", str(visual))
    return "".join(c if ord(c) in known else LACKING for c in text)


class Text(Paragraph):  # type: ignore[misc]
    """A paragraph that is broken into lines once for each width it is asked for."""

    _broken_at = -1.0

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return the size at a width; the page's builder asks for it again and again."""
        # A part of a split one has lines that it did not break itself: those it must break anew.
        if hasattr(self, "blPara") and self._broken_at == width:
            return self.width, self.height
        size: tuple[float, float] = super().wrap(width, height)
        self._broken_at = width
        return size


@cache
def _plain(look: ParagraphStyle) -> ParaFrag:
    """Return the piece of text that a style makes of a word; others are copies of it."""
    return Paragraph("x", look).frags[0]


@cache
def style(size: float = 9, *, bold: bool = False, **more: object) -> ParagraphStyle:
    """Make a paragraph style in the report's font; words too long for their cell are split."""
    register_fonts()
    settings = {"leading": size * 1.28, "textColor": HexColor(INK), "splitLongWords": 1, **more}
    return ParagraphStyle("leakgeo", fontName=BOLD if bold else REGULAR, fontSize=size, **settings)


@lru_cache(maxsize=4096)
def para(text: str, size: float = 9, *, bold: bool = False, **more: object) -> Paragraph:
    """Make a paragraph of text from the data: none of it is markup, and none is read as such.

    One that is on every page is made once: whoever draws it asks for its size just before.
    """
    look = style(size, bold=bold, **more)
    return Text(None, look, frags=[_plain(look).clone(text=drawn(text))])


def fitted(text: str, font: str, size: float, width: float) -> str:
    """Shorten drawn text to a width in points, with an ellipsis where it was cut.

    Examples
    --------
    >>> fitted("short", REGULAR, 8, 100)
    'short'
    >>> fitted("a very long name of a line", REGULAR, 8, 40)[-1]
    '…'
    """
    text = drawn(text)
    if pdfmetrics.stringWidth(text, font, size) <= width:
        return text
    while text and pdfmetrics.stringWidth(text + "\u2026", font, size) > width:
        text = text[:-1]
    return text + "\u2026"
