"""Metadata of a result: source, method, versions, cautions, and whether it is simulated."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import leakgeo
from leakgeo.deliver.folder.record import versions
from leakgeo.deliver.views import sentences
from leakgeo.job.sources import SIMULATED_KEY
from leakgeo.wording import wording

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Mapping, Sequence

    from leakgeo.result import Result

METHOD = (
    "Readings of sound level are put on the traced pipe. For each line explanations of them are "
    "compared by their evidence: silence, a fitting or another source that sounds, a leak beyond "
    "an end, a leak on the line, alone or with another source. Meter tests, air tests, sweeps "
    "across and holes are weighed with them. The place of the leak is scanned along the line; the "
    "constants of sound have priors and are integrated out. Zones are the densest pieces of what "
    "results; the mark is where one foot either way holds most."
)
UNITS = "Units are metres, decibels, kilopascals, seconds and litres, whatever the CRS is in."
_UNDER_IT = ("numpy", "scipy", "geopandas", "shapely", "pyproj", "gdal", "proj", "geos")
_GDAL = "http://gdal.org"
_GMD, _GCO = "http://www.isotc211.org/2005/gmd", "http://www.isotc211.org/2005/gco"
# Definitions of OGC 12-128r18 (GeoPackage 1.3), annex F.8; GDAL makes the tables.
_METADATA = (
    "INSERT INTO gpkg_metadata (md_scope, md_standard_uri, mime_type, metadata) "
    "VALUES ('dataset', ?, 'text/xml', ?)"
)
_REFERENCE = "INSERT INTO gpkg_metadata_reference VALUES (?, ?, NULL, NULL, ?, ?, NULL)"


def layer_notes(result: Result) -> dict[str, str]:
    """Return the metadata of each layer as keys and values for GDAL.

    Parameters
    ----------
    result : Result

    Returns
    -------
    dict of str to str
    """
    simulated = result.job.simulated
    notes = {
        "SOURCE": lineage(result), "METHOD": METHOD, "UNITS": UNITS, "VERSIONS": _versions(),
        "CAUTION": f"{sentences.CAUTION} {wording().term('report_caution_more')}",
    }  # fmt: skip
    return {**notes, SIMULATED_KEY: simulated} if simulated else notes


def lineage(result: Result) -> str:
    """Return the provenance of a result as one line of text."""
    return "; ".join(
        f"{label}: {value}" for label, value in sentences.provenance(result, wording())
    )


def _versions() -> str:
    known = versions()
    return ", ".join(f"{name} {known[name]}" for name in ("leakgeo", *_UNDER_IT))


def describe_geopackage(base: sqlite3.Connection, result: Result, layers: Sequence[str]) -> None:
    """Write the metadata of the layers, and an ISO 19139 record of the result, instead of earlier.

    GDAL would read and write the metadata of all layers each time it adds one.

    Parameters
    ----------
    base : sqlite3.Connection
        GeoPackage with metadata of its first layer.
    result : Result
    layers : sequence of str
        Layers that have metadata.
    """
    now = datetime.now(UTC)
    time, notes = f"{now:%Y-%m-%dT%H:%M:%S}.000Z", _as_gdal(layer_notes(result))
    records: list[tuple[str, str | None, str, str]]
    records = [("table", name, _GDAL, notes) for name in layers]
    records.append(("geopackage", None, _GMD, iso_record(result, now)))
    base.execute("DELETE FROM gpkg_metadata_reference")
    base.execute("DELETE FROM gpkg_metadata")
    for scope, name, standard, text in records:
        row = base.execute(_METADATA, (standard, text))
        base.execute(_REFERENCE, (scope, name, time, row.lastrowid))


def _as_gdal(notes: Mapping[str, str]) -> str:
    """Return metadata as GDAL stores them in a GeoPackage."""
    root = ET.Element("GDALMultiDomainMetadata")
    within = ET.SubElement(root, "Metadata")
    for key, value in sorted(notes.items(), key=lambda pair: pair[0].casefold()):
        ET.SubElement(within, "MDI", key=key).text = value
    ET.indent(root)
    return f"{ET.tostring(root, encoding='unicode')}\n"


def iso_record(result: Result, now: datetime) -> str:
    """Return an ISO 19139 record: title, abstract, lineage and limitations.

    Parameters
    ----------
    result : Result
    now : datetime.datetime
        Date of the record, with a time zone.
    """
    simulated = result.job.simulated
    abstract = f"Where leaks are likely on buried lines, and what holds each dig. {UNITS}"
    root = ET.Element(f"{{{_GMD}}}MD_Metadata")
    for prefix, uri in (("gmd", _GMD), ("gco", _GCO)):
        ET.register_namespace(prefix, uri)
    _text(root, "language", "eng")
    party = _path(root, "contact/CI_ResponsibleParty")
    _text(party, "organisationName", f"leakgeo {leakgeo.__version__}")
    code = ET.SubElement(_path(party, "role"), f"{{{_GMD}}}CI_RoleCode", codeListValue="processor",
                         codeList=f"{_GMD}/codelists.xml#CI_RoleCode")  # fmt: skip
    code.text = "processor"
    _date(root, "dateStamp", now)
    data = _path(root, "identificationInfo/MD_DataIdentification")
    citation = _path(data, "citation/CI_Citation")
    _text(citation, "title", "Leak marks, and what holds each dig")
    _date(_path(citation, "date/CI_Date"), "date", now)
    _text(data, "abstract", f"{simulated} {abstract}".strip())
    limits = _path(data, "resourceConstraints/MD_Constraints")
    _text(limits, "useLimitation", f"{sentences.CAUTION} {wording().term('report_caution_more')}")
    _text(data, "language", "eng")
    quality = _path(root, "dataQualityInfo/DQ_DataQuality")
    statement = f"{simulated} {lineage(result)}. {METHOD} {_versions()}".strip()
    _text(_path(quality, "lineage/LI_Lineage"), "statement", statement)
    return ET.tostring(root, encoding="unicode")


def _path(parent: ET.Element, names: str) -> ET.Element:
    for name in names.split("/"):
        parent = ET.SubElement(parent, f"{{{_GMD}}}{name}")
    return parent


def _text(parent: ET.Element, name: str, text: str) -> None:
    ET.SubElement(_path(parent, name), f"{{{_GCO}}}CharacterString").text = text


def _date(parent: ET.Element, name: str, when: datetime) -> None:
    ET.SubElement(_path(parent, name), f"{{{_GCO}}}Date").text = f"{when:%Y-%m-%d}"
