"""The archive of the plugin: what a plugin repository checks, help pages and translations.

The checks are those of the official repository of QGIS for its uploads, except whether the
addresses answer. The project has no home yet, so the tests set addresses as a release does.
"""

from __future__ import annotations

import configparser
import io
import re
import string
import tomllib
import zipfile
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace
from urllib.parse import urlparse
from xml.etree import ElementTree as ET

import pytest

import leakgeo
from leakgeo.commands import describe
from leakgeo.desktop import write_plugin
from leakgeo.desktop.build import _contents
from leakgeo.desktop.help_pages import commands_of, page_name
from leakgeo.wording import languages, wording
from tests.desktop import translation

FOLDER = "leakgeo_desktop"
REQUIRED = ("name", "description", "version", "qgisMinimumVersion", "author", "email", "about",
            "tracker", "repository", "homepage", "changelog", "tags", "license")  # fmt: skip
MOST_BYTES = 25_000_000
MADE = {".py", ".txt", ".svg", ".qm", ".html", ".css", ".json", ""}
CAUTIONS = [wording(language=language).term("terminal_caution") for language in languages()]
ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
ADDRESSES = {
    "Author-email": ["The leakgeo founders <founders@leakgeo.test>"],
    "Project-URL": [
        "Homepage, https://leakgeo.test",
        "Issues, https://leakgeo.test/issues",
        "Repository, https://leakgeo.test/source",
    ],
}


@pytest.fixture(scope="module", name="archive")
def _archive(tmp_path_factory):
    path = tmp_path_factory.mktemp("archive") / "leakgeo.zip"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            "importlib.metadata.metadata", lambda _: SimpleNamespace(get_all=ADDRESSES.get)
        )
        write_plugin(path)
    assert path.stat().st_size < MOST_BYTES
    with zipfile.ZipFile(path) as packed:
        assert packed.testzip() is None
        return {name: packed.read(name) for name in packed.namelist()}


def metadata_of(content):
    """Give the metadata of a plugin by name."""
    parser = configparser.ConfigParser()
    parser.optionxform = str
    parser.read_file(io.StringIO(content.decode()))
    return dict(parser["general"])


def test_no_address_is_invented(monkeypatch):
    told = metadata_of(_contents()["metadata.txt"])
    urls = PROJECT.get("urls", {})
    named = {"homepage": "Homepage", "repository": "Repository", "tracker": "Issues"}
    assert {key: told[key] for key in named} == {k: urls.get(u, "") for k, u in named.items()}
    assert told["email"] == PROJECT["authors"][0].get("email", "")
    assert "@" not in "".join(told[key] for key in ("version", *named))
    monkeypatch.setattr(
        "importlib.metadata.metadata", lambda _: SimpleNamespace(get_all=lambda _: None)
    )
    assert metadata_of(_contents()["metadata.txt"])["tracker"] == ""


def test_the_archive_is_one_folder_of_sources(archive):
    assert re.fullmatch(r"[A-Za-z]\w+", FOLDER, re.ASCII)
    for name in archive:
        parts = name.split("/")
        assert parts[0] == FOLDER
        assert not [p for p in parts if p.startswith((".", "__")) and p != "__init__.py"]
        assert "." + parts[-1].rpartition(".")[2] in MADE or parts[-1] == "LICENSE"
    for needed in ("__init__.py", "metadata.txt", "LICENSE", "icon.svg", "i18n/leakgeo_es.qm"):
        assert archive[f"{FOLDER}/{needed}"]


def test_metadata_have_what_a_repository_requires(archive):
    told = metadata_of(archive[f"{FOLDER}/metadata.txt"])
    assert [key for key in REQUIRED if not told.get(key, "").strip()] == []
    assert (told["version"], told["qgisMinimumVersion"]) == (leakgeo.__version__, "3.22")
    assert f"\n{leakgeo.__version__}\n" in f"\n{told['changelog'].strip()}\n"
    assert told["hasProcessingProvider"] == "yes"
    assert "/" not in told["author"]
    assert re.fullmatch(r"[^@\s]+@[^@\s]+\.\w+", told["email"])
    assert f"{FOLDER}/{told['icon']}" in archive
    for flag in ("experimental", "deprecated", "server"):
        assert told[flag] in ("True", "False")
    for key in ("tracker", "repository", "homepage"):
        address = urlparse(told[key])
        assert (address.scheme, address.netloc) == ("https", "leakgeo.test")
    assert "Nothing here clears a dig" in told["about"]


def test_icons_are_drawings_that_scale(archive):
    icons = [name for name in archive if name.endswith(".svg")]
    assert len(icons) == 4
    for name in icons:
        root = ET.fromstring(archive[name])
        assert root.get("viewBox") == "0 0 24 24"


class Page(HTMLParser):
    """Links, parts and text of a page."""

    def __init__(self, text):
        super().__init__()
        self.links, self.parts, self.text, self.language = [], set(), "", ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        """Keep links and names of parts."""
        given = dict(attrs)
        self.language = given.get("lang", self.language)
        self.links += [given[key] for key in ("href", "src") if key in given]
        self.parts |= {given["id"]} if "id" in given else set()

    def handle_data(self, data):
        """Keep the text."""
        self.text += data


@pytest.fixture(scope="module", name="pages")
def _pages(archive):
    prefix = f"{FOLDER}/help/"
    found = {name.removeprefix(prefix): content.decode() for name, content in archive.items()
             if name.startswith(prefix)}  # fmt: skip
    return {name: Page(text) for name, text in found.items() if name.endswith(".html")}


@pytest.mark.parametrize("language", languages())
def test_every_step_has_a_page_with_all_its_parameters(pages, language):
    steps, words = commands_of(describe()), wording(language=language)
    names = [page_name(name, language) for name in ("index", *(step["name"] for step in steps))]
    of_language = [name for name in pages if ("_" in name) == ("_" in names[0])]
    assert sorted(of_language) == sorted(names)
    for step in steps:
        page = pages[page_name(step["name"], language)]
        assert words.help(step["help"]) in page.text
        assert [call for call in step["examples"] if call not in page.text] == []
        assert "leakgeo leakgeo" not in page.text
        # A caution is in English beside its translation.
        assert {words.term("terminal_caution"), wording().term("terminal_caution")} <= {
            text for text in CAUTIONS if text in page.text
        }
        for parameter in step["parameters"]:
            assert parameter["kind"] == "job" or words.help(parameter["help"]) in page.text


def test_no_page_in_spanish_has_english_words(pages):
    said = re.compile(r"\b(the|and|with|from|for|this|that|are|layers|default|needed)\b")
    spanish = {name: page for name, page in pages.items() if name.endswith("_es.html")}
    assert len(spanish) > 15
    for name, page in spanish.items():
        assert page.language == "es"
        text = page.text.replace(wording().term("terminal_caution"), "")
        text = text.replace(wording().term("terminal_caution_where"), "")
        assert said.findall(text) == [], name


def test_links_lead_to_pages_of_the_archive_and_no_page_needs_a_network(archive, pages):
    for name, page in pages.items():
        assert page.links
        for link in page.links:
            file, _, part = link.partition("#")
            assert not urlparse(link).scheme
            assert f"{FOLDER}/help/{file or name}" in archive
            assert not part or part in pages[file or name].parts


def test_the_pages_of_the_plugin_have_the_same_parts_in_each_language(pages):
    parts = pages["index.html"].parts
    assert {"first_hour", "results", "panel", "new_job", "set_up"} <= parts
    for language in languages()[1:]:
        assert pages[f"index_{language}.html"].parts == parts
        own = [page_name(link.removesuffix(".html"), language) if link.endswith(".html") else link
               for link in pages["index.html"].links]  # fmt: skip
        assert pages[f"index_{language}.html"].links == own


@pytest.mark.parametrize("language", languages()[1:])
def test_every_text_of_the_sources_is_translated_and_compiled(language):
    source = translation.FOLDER / f"leakgeo_{language}.ts"
    known = translation.read_ts(source)
    assert set(known) == set(translation.texts()), "python -m tests.desktop.translation"
    assert translation.read_qm(source.with_suffix(".qm")) == known
    for text, translated in known.items():
        assert translated
        assert fields(translated) == fields(text)


def test_no_sentence_of_the_sources_is_left_in_english():
    assert translation.untranslated() == []


def fields(text):
    """Return the names of the values that are put into a text."""
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


def test_names_removed_in_newer_versions_are_not_used():
    # PyQt6 has the members of enumerations in the enumerations alone, and no exec_.
    short = re.compile(r"\bQ(?!gs|gis)[A-Za-z]*\.[A-Z]\w*\b(?!\.)")
    for path in sorted(translation.PLUGIN.glob("*.py")):
        text = path.read_text("utf-8")
        assert short.findall(text) == [], path.name
        assert not re.search(r"PyQt[56]|\bexec_\(", text), path.name
