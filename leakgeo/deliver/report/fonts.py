"""Fonts and paragraphs of the report: many scripts, right-to-left text, no markup in data."""

from __future__ import annotations

import re
from functools import cache, lru_cache
from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Any
from weakref import WeakSet

from arabic_reshaper import ArabicReshaper
from bidi import get_display
from reportlab.lib.colors import HexColor
from reportlab.lib.rl_accel import fp_str
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Paragraph
from reportlab.platypus.paraparser import ParaFrag

from leakgeo.deliver.views.colours import INK

if TYPE_CHECKING:
    from reportlab.pdfbase.pdfdoc import PDFDocument
    from reportlab.pdfgen.canvas import Canvas

REGULAR, BOLD = "DejaVuSans", "DejaVuSans-Bold"
LEAST_SIZE = 7.0  # points; smaller type can't be read in print
LACKING = "\u25a1"  # replaces a character that the font lacks
#: Characters beyond ASCII that have the same codes in every document of `fix_codes`: those of our
#: texts, and of names in languages of Europe. A font file has the shapes of all of them.
PRESET = "".join(chr(code) for code in range(0xA1, 0x100) if code != 0xAD) + (
    "–—‘’“”„…•′″□☐ĄąĆćĘęŁłŃńŚśŹźŻżČčĎďĚěŇňŘřŠšŤťŮůŽžĽľŐőŰűĂăȘșȚțĞğİıŞş"  # noqa: RUF001
)
_PRESET = frozenset(PRESET)
_RTL = re.compile(r"[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc]")
_BETWEEN = re.compile(r"(?<=[\u0590-\u08ff\ufb1d-\ufefc]) (?=[\u0590-\u08ff\ufb1d-\ufefc])")


# Documents of `fix_codes`, and operators of texts in them by style, text and width.
_fixed: WeakSet[PDFDocument] = WeakSet()
_operators: dict[Any, str] = {}
_MOST_TEXTS = 20000  # some ten megabytes


def _has_fixed_codes(text: str) -> bool:
    """Return whether all characters are in ASCII or `PRESET`."""
    if text.isascii() and text.isprintable():
        return True
    return all(c in _PRESET or " " <= c <= "~" for c in text)


class _Font(TTFont):  # type: ignore[misc]
    """A font that keeps the widths of words, as most occur on many pages.

    Attributes
    ----------
    beyond : bool
        Whether a character beyond `PRESET` was drawn since this was set to False.
    """

    def __init__(self, name: str, path: str) -> None:
        super().__init__(name, path)
        self._width = lru_cache(maxsize=16384)(self._sum_of_widths)
        self.beyond = False

    def splitString(  # noqa: N802
        self, text: str, doc: PDFDocument, encoding: str = "utf-8"
    ) -> list[tuple[int, bytes]]:
        """Return a text in codes of a document; ReportLab calls this to draw it."""
        self.beyond = self.beyond or not _has_fixed_codes(text)
        split: list[tuple[int, bytes]] = super().splitString(text, doc, encoding)
        return split

    def stringWidth(self, text: str, size: float, encoding: str = "utf8") -> float:  # noqa: N802
        """Return the width of a text in points; ReportLab calls this."""
        return 0.001 * size * self._width(text)

    def _sum_of_widths(self, text: str) -> float:
        width, other = self.face.charWidths.get, self.face.defaultWidth
        return float(sum(width(ord(c), other) for c in text))


@cache
def register_fonts() -> frozenset[int]:
    """Register the fonts of the package; return the code points that both contain."""
    drawn = []
    for name in (REGULAR, BOLD):
        with as_file(files("leakgeo.deliver") / "assets" / f"{name}.ttf") as path:
            font = _Font(name, str(path))
        pdfmetrics.registerFont(font)
        drawn.append(frozenset(font.face.charToGlyph))
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, BOLD, REGULAR, BOLD)
    return drawn[0] & drawn[1]


def _fonts() -> list[_Font]:
    register_fonts()
    return [pdfmetrics.getFont(name) for name in (REGULAR, BOLD)]


def fix_codes(document: PDFDocument) -> None:
    """Give fonts the same names, and the characters of `PRESET` the same codes, in each document.

    Without this they have them in the order in which they are drawn, so that the operators of a
    page depend on the pages before it.
    """
    for font in _fonts():
        font.splitString(PRESET, document)
        font.getSubsetInternalName(0, document)
    document.ensureMinPdfVersion("transparency")  # as drawing any text does
    _fixed.add(document)


def draws_beyond_preset(*, forget: bool = False) -> bool:
    """Return whether a character beyond `PRESET` was drawn since the last call with `forget`."""
    fonts = _fonts()
    beyond = any(font.beyond for font in fonts)
    for font in fonts if forget else ():
        font.beyond = False
    return beyond


@cache
def _reshaper() -> ArabicReshaper:
    return ArabicReshaper({"delete_harakat": False})


def lacks_shapes(text: str) -> bool:
    """Return whether the font lacks a character of a text.

    Examples
    --------
    >>> lacks_shapes("Źródlana"), lacks_shapes("水道")
    (False, True)
    """
    drawn = register_fonts()
    return any(ord(c) not in drawn for c in text)


def drawn(text: str) -> str:
    """Return a text in visual order; characters that the font lacks become squares.

    Parameters
    ----------
    text : str
        In logical order, any script.

    Returns
    -------
    str
        Right-to-left runs are shaped, in visual order, and kept on one line.

    Examples
    --------
    >>> drawn("Alder 12"), drawn("水 12")
    ('Alder 12', '□ 12')
    >>> drawn("אבג 12")
    '12 גבא'
    """
    if text.isascii() and text.isprintable():  # the font has all of ASCII
        return text
    known = register_fonts()
    if _RTL.search(text):
        visual = get_display(_reshaper().reshape(text))
        text = _BETWEEN.sub("\u00a0", str(visual))
    return "".join(c if ord(c) in known else LACKING for c in text)


class Text(Paragraph):  # type: ignore[misc]
    """A paragraph that breaks its lines once per width, as pages try many."""

    blPara: Any  # noqa: N815 - name of ReportLab
    #: Style and text; None of a part of a split paragraph.
    content: tuple[ParagraphStyle, str] | None = None

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return the size at a width; ReportLab calls this many times."""
        # Not in a class attribute: a part of a split paragraph breaks its own lines.
        broken = self.__dict__.setdefault("_broken", {})
        if width not in broken:
            size = super().wrap(width, height)
            broken[width] = self.blPara, size
        self.blPara, (self.width, self.height) = broken[width]
        return self.width, self.height

    def getSpaceBefore(self) -> float:  # noqa: N802 - as the next one, asked for many times
        """Return the space above the paragraph."""
        return float(self.style.spaceBefore)

    def getSpaceAfter(self) -> float:  # noqa: N802
        """Return the space below the paragraph."""
        return float(self.style.spaceAfter)

    def drawOn(self, canvas: Canvas, x: float, y: float, _sW: float = 0) -> None:  # noqa: N802, N803
        """Draw the paragraph; it may then be moved to the next page again where it is shared.

        What was drawn before is put in again: three texts of four are on other pages too.
        """
        self.__dict__.pop("_postponed", None)
        content, code = self.content, canvas._code
        opaque = canvas._extgstate.getValue("ca") == 1
        if content is None or not opaque or canvas._doc not in _fixed:
            super().drawOn(canvas, x, y, _sW)
            return
        key = content, self.width
        before = _operators.get(key)
        if before is not None:
            code += ["q", f"1 0 0 1 {fp_str(x, y)} cm", before]
            return
        begin = len(code) + 2  # after the state is saved, and the origin moved
        super().drawOn(canvas, x, y, _sW)
        if _has_fixed_codes(content[1]):
            if len(_operators) >= _MOST_TEXTS:
                _operators.clear()
            _operators[key] = "\n".join(code[begin:])


@cache
def _plain(look: ParagraphStyle) -> ParaFrag:
    """Return a fragment of text in a style, to be cloned for other texts."""
    return Paragraph("x", look).frags[0]


@cache
def style(size: float = 9, *, bold: bool = False, **more: object) -> ParagraphStyle:
    """Return a paragraph style in the report's font; words too long for their cell are split.

    Type is never smaller than `LEAST_SIZE`: a table that then has no space is split over pages.
    """
    register_fonts()
    size = max(size, LEAST_SIZE)
    settings = {"leading": size * 1.28, "textColor": HexColor(INK), "splitLongWords": 1, **more}
    return ParagraphStyle("leakgeo", fontName=BOLD if bold else REGULAR, fontSize=size, **settings)


@lru_cache(maxsize=4096)
def para(text: str, size: float = 9, *, bold: bool = False, **more: object) -> Paragraph:
    """Return a paragraph of text from the data, in which nothing is read as markup.

    Paragraphs are cached and shared between pages: ReportLab sets their size before drawing.
    """
    look = style(size, bold=bold, **more)
    shown = drawn(text)
    made = Text(None, look, frags=[_plain(look).clone(text=shown)])
    made.content = (look, shown)
    return made


def fitted(text: str, font: str, size: float, width: float) -> str:
    """Shorten a text to a width in points; an ellipsis replaces what is cut.

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
