"""Workbooks that are more than sheets, or not what they say."""

import zipfile

import openpyxl
import pytest

from leakgeo.errors import JobError
from leakgeo.job.guards import workbook
from leakgeo.job.guards.files import refusal
from leakgeo.job.read import read_job
from tests.job.crew import filled

ENTITY = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><x>&a;</x>'
LINK = (
    b'<Relationships><Relationship Id="r1" Type="http://x/externalLinkPath" '
    b'Target="file:///etc/passwd" TargetMode="External"/></Relationships>'
)
PARTS = {
    "an entity": ("xl/more.xml", ENTITY, "file_has_entities"),
    "an entity in UTF-16": ("xl/more.xml", ENTITY.decode().encode("utf-16"), "file_has_entities"),
    "an entity across blocks": (
        "xl/more.xml", b" " * (workbook._BLOCK - 5) + ENTITY, "file_has_entities",
    ),
    "a link to a workbook": ("xl/externalLinks/externalLink1.xml", b"<x/>", "workbook_not_plain"),
    "a relation outside": ("xl/_rels/more.xml.rels", LINK, "workbook_not_plain"),
    "a macro": ("xl/vbaProject.bin", b"x", "workbook_not_plain"),
    "a connection": ("xl/connections.xml", b"<x/>", "workbook_not_plain"),
    "an embedded object": ("xl/embeddings/a.bin", b"x", "workbook_not_plain"),
    "a path that leads out": ("../evil.xml", b"<x/>", "workbook_not_plain"),
    "a part twice": ("XL/workbook.xml", b"<x/>", "workbook_expands"),
    "a bomb": ("xl/bomb.xml", b"0" * 30_000_000, "workbook_expands"),
}  # fmt: skip


@pytest.mark.parametrize("case", PARTS)
def test_such_a_workbook_is_refused(tmp_path, case):
    name, content, code = PARTS[case]
    path = filled(tmp_path / "job.xlsx")
    assert refusal(path) is None
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr(name, content)
    assert refusal(path).code == code
    with pytest.raises(JobError):
        read_job(path)


def test_a_hyperlink_in_a_cell_is_a_text(tmp_path):
    path = filled(tmp_path / "job.xlsx")
    book = openpyxl.load_workbook(path)
    book["Lines"]["B2"].hyperlink = "https://h.example/a"
    book.save(path)
    assert refusal(path) is None


def test_a_part_that_is_not_what_its_checksum_says(tmp_path):
    path = filled(tmp_path / "job.xlsx")
    raw = bytearray(path.read_bytes())
    with zipfile.ZipFile(path) as packed:
        part = packed.getinfo("xl/workbook.xml")
        at = part.header_offset + 30 + len(part.filename) + 20
    raw[at] ^= 0xFF
    path.write_bytes(raw)
    assert refusal(path).code == "workbook_damaged"


def test_a_formula_is_never_worked_out(tmp_path):
    """Of a formula only the value counts that was stored beside it; here there is none."""
    path = filled(tmp_path / "job.xlsx")
    book = openpyxl.load_workbook(path)
    book["Stops"]["E2"] = "=4+5"
    book.save(path)
    first = read_job(path)["readings"].iloc[0]
    assert first["tape"] is None
    assert first["reason"] is not None
