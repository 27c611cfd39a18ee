"""Check a workbook, a ZIP of XML files, before GDAL opens it: parts, size, entities, links."""

from __future__ import annotations

import re
import zipfile
import zlib
from typing import TYPE_CHECKING

from leakgeo.reason import Reason

if TYPE_CHECKING:
    from pathlib import Path

# A workbook has a few parts for each sheet; XML of cells is packed about ten to thirty times.
MAX_PARTS, MAX_RATIO, RATIO_FROM_BYTES = 2000, 300, 10_000_000
# Parts that run, or that name other files: macros, links, connections, embedded objects.
_NOT_PLAIN = re.compile(
    r"(?:^|/)(?:externalLinks/|embeddings/|activeX/|ctrlProps/|queryTables/|connections\.xml|"
    r"vbaProject|macrosheets/|dialogsheets/|Basic/|Scripts/|Object )", re.IGNORECASE,
)  # fmt: skip
_ENTITY = re.compile(rb"<\0?!\0?[dDeE]\0?[oOnN]\0?[cCtT]")
# A relation to a file outside; hyperlinks of cells are texts that nobody opens.
_RELATION = re.compile(rb"<[^<>]*\bTargetMode\s*=\s*[\"']External[\"'][^<>]*>", re.IGNORECASE)
_BLOCK, _OVERLAP = 1 << 20, 16
_NAMED = 3


def workbook_refusal(file: Path) -> Reason | None:
    """Return why a workbook is refused; None if it is sheets alone.

    Every part is unpacked once, so that its size and checksum are those that it states. Formulas
    need no refusal: the reader takes the values that were stored beside them.

    Parameters
    ----------
    file : pathlib.Path
        An .xlsx or .ods file.

    Returns
    -------
    Reason or None
    """
    try:
        with zipfile.ZipFile(file) as packed:
            parts = packed.infolist()
            return _parts_refusal(parts) or _content_refusal(packed, parts)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, RuntimeError,
            NotImplementedError) as error:  # fmt: skip
        return Reason("workbook_damaged", error=str(error)[:100])


def _parts_refusal(parts: list[zipfile.ZipInfo]) -> Reason | None:
    names = [part.filename for part in parts]
    dense = any(
        part.file_size > RATIO_FROM_BYTES and part.file_size > MAX_RATIO * part.compress_size
        for part in parts
    )
    # Readers differ in which of two parts of one name they take.
    if len(parts) > MAX_PARTS or dense or len({name.casefold() for name in names}) < len(names):
        return Reason("workbook_expands")
    odd = [name for name in names if _NOT_PLAIN.search(name) or _leads_out(name)]
    return Reason("workbook_not_plain", parts=odd[:_NAMED]) if odd else None


def _leads_out(name: str) -> bool:
    return name.startswith(("/", "\\")) or ".." in name.replace("\\", "/").split("/")


def _content_refusal(packed: zipfile.ZipFile, parts: list[zipfile.ZipInfo]) -> Reason | None:
    for part in parts:
        links = b""
        before = b""
        with packed.open(part) as opened:
            while block := opened.read(_BLOCK):
                if _ENTITY.search(before + block):
                    return Reason("file_has_entities")
                before = block[-_OVERLAP:]
                links += block if part.filename.endswith(".rels") else b""
        if any(b"/hyperlink" not in found for found in _RELATION.findall(links)):
            return Reason("workbook_not_plain", parts=[part.filename])
    return None
