"""What a release ships agrees with the package: version, addresses, licences, recipe, image."""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from pathlib import Path
from urllib.parse import urlparse

import pytest
import yaml

import leakgeo

ROOT = Path(__file__).parents[1]
PACKAGING = ROOT / "examples" / "packaging"
SETTINGS = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
PROJECT = SETTINGS["project"]
README = SETTINGS["tool"]["hatch"]["metadata"]["hooks"]["fancy-pypi-readme"]
ASSETS = ROOT / "leakgeo" / "deliver" / "assets"
# Domains that are reserved (RFC 2606): an address there is invented.
RESERVED = re.compile(r"(^|\.)(example(\.(com|net|org))?|test|invalid|localhost)$")
LINK = re.compile(r"\]\((?!https?:|#)[^)]*\)")


def for_an_index(text):
    """Give the README as a package index shows it."""
    for each in README["substitutions"]:
        text = re.sub(each["pattern"], each["replacement"], text)
    return text


def test_the_version_is_the_same_everywhere():
    assert {"readme", "version"} == set(PROJECT["dynamic"])
    assert SETTINGS["tool"]["hatch"]["version"]["path"] == "leakgeo/__init__.py"
    recipe = yaml.safe_load((PACKAGING / "recipe.yaml").read_text("utf-8"))
    citation = yaml.safe_load((PACKAGING / "CITATION.cff").read_text("utf-8"))
    image = re.search(
        r"^ARG VERSION=(\S+)$", (PACKAGING / "Containerfile").read_text("utf-8"), re.MULTILINE
    )
    assert {recipe["context"]["version"], str(citation["version"]), image[1]} == {
        leakgeo.__version__
    }
    changes = (ROOT / "examples/guide/reference/changelog.md").read_text("utf-8")
    assert re.findall(r"^## (\S+)", changes, re.MULTILINE)[0] == leakgeo.__version__


def test_the_index_shows_no_link_that_leads_nowhere():
    text = (ROOT / "README.md").read_text("utf-8")
    assert len(LINK.findall(text)) > 10
    shown = for_an_index(text)
    assert LINK.findall(shown) == []
    assert "leakgeo never states that a\nspot is safe to dig" in shown
    if "urls" in PROJECT:
        assert f"({PROJECT['urls']['Repository']}" in shown, "set the replacements of the README"
    else:
        assert "(`examples/town/map.png` in the source distribution)" in shown
        assert "https://" not in shown


@pytest.mark.parametrize(("text", "shown"), [
    ("see [LICENSE](LICENSE).", "see `LICENSE`."),
    ("![A map](a/b.png)", "*A map (`a/b.png` in the source distribution)*"),
    ("copy [units](a/README.md)", "copy units (`a/README.md`)"),
    ("[x](https://leakgeo.test) [y](#z)", "[x](https://leakgeo.test) [y](#z)"),
])  # fmt: skip
def test_links_of_the_readme_become_paths(text, shown):
    assert for_an_index(text) == shown


def test_addresses_are_real_or_missing():
    mails = [author.get("email", "") for author in PROJECT["authors"]]
    hosts = [urlparse(url).hostname or "" for url in PROJECT.get("urls", {}).values()]
    hosts += [mail.partition("@")[2] for mail in mails]
    assert [host for host in hosts if RESERVED.search(host)] == []
    assert RESERVED.search("git.example.org")
    if hosts := PROJECT.get("urls"):
        assert {"Homepage", "Repository", "Issues"} <= set(hosts)


def test_what_is_shipped_of_others_is_in_the_bill_of_materials_with_its_licence():
    bill = json.loads((PACKAGING / "shipped.cdx.json").read_text("utf-8"))
    named = {}
    for component in bill["components"]:
        assert component["licenses"]
        for file in component["components"]:
            (digest,) = (h["content"] for h in file["hashes"] if h["alg"] == "SHA-256")
            named[file["name"]] = digest
    foreign = [*ASSETS.glob("leaflet.*"), *ASSETS.glob("*.ttf")]
    assert named == {
        path.relative_to(ROOT).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in foreign
    }
    version = re.search(r"Leaflet ([\d.]+)", (ASSETS / "leaflet.js").read_text("utf-8"))[1]
    assert version == next(c["version"] for c in bill["components"] if c["name"] == "leaflet")
    licences = {
        p.relative_to(ROOT).as_posix() for g in PROJECT["license-files"] for p in ROOT.glob(g)
    }
    others = ("dejavu", "leaflet")
    assert licences == {"LICENSE", *(f"leakgeo/deliver/assets/{n}-LICENSE.txt" for n in others)}
    wheel = SETTINGS["tool"]["hatch"]["build"]["targets"]["wheel"]
    assert wheel["sbom-files"] == ["examples/packaging/shipped.cdx.json"]


def test_no_file_of_others_is_shipped_unnoticed():
    """A font, a picture or a script of a new kind needs its licence first."""
    known = {".py", ".pyi", ".json", ".toml", ".ftl", ".md", ".js", ".css", ".html", ".svg", ".ttf",
             ".ts", ".qm", ".po", ".mo", ".txt", ".typed", ""}  # fmt: skip
    shipped = [p for p in (ROOT / "leakgeo").rglob("*") if p.is_file()]
    kinds = {p.suffix for p in shipped if "__pycache__" not in p.parts}
    assert kinds <= known


def test_the_recipe_asks_for_what_the_package_needs():
    recipe = yaml.safe_load((PACKAGING / "recipe.yaml").read_text("utf-8"))
    needed = [f"python{PROJECT['requires-python']}", *PROJECT["dependencies"]]
    assert recipe["requirements"]["run"] == [n.replace(">=", " >=") for n in needed]
    built = {n.replace(">=", " >=") for n in SETTINGS["build-system"]["requires"]}
    assert built <= set(recipe["requirements"]["host"])


def test_the_image_runs_without_a_network_and_without_rights():
    lines = (PACKAGING / "Containerfile").read_text("utf-8").splitlines()
    orders = [line.strip() for line in lines if line and not line.startswith("#")]
    assert orders[-1] == 'CMD ["--help"]'
    assert "USER 1000" in orders
    installs = " ".join(orders).count("pip install")
    assert installs == " ".join(orders).count("--no-index") == 1
