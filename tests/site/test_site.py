"""The site builds without a fault, and each kind of fault would be found."""

from __future__ import annotations

import runpy

import click
import matplotlib as mpl
import pandas as pd
import pytest

from leakgeo.cli.entry import cli
from leakgeo.job.schema import load_schemas
from leakgeo.registry import load_steps
from tests.browser.axe import findings
from tests.site import commands
from tests.site.build import GUIDE, build, reference, without_page
from tests.site.links import broken
from tests.site.messages import FOLDER, WITH_CODES, messages
from tests.site.public import public_names
from tests.site.shipped import SUMMARY

SCRIPTS = sorted((GUIDE / "gallery").glob("plot_*.py"))


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """Build the site; give its folder and what is wrong with it."""
    out = tmp_path_factory.mktemp("site") / "site"
    return out, build(out, figures=False)


def test_the_site_builds_without_a_warning(site):
    assert site[1] == []


@pytest.mark.browser
def test_axe_finds_nothing_on_the_site(site, browser):
    page = browser.new_page(viewport={"width": 1280, "height": 800}, color_scheme="dark")
    for name in ("index", "reference/commands/demo", "gallery/index"):
        page.goto((site[0] / f"{name}.html").as_uri())
        assert findings(page) == []
    page.close()


def test_pages_that_the_code_gives_have_one_place_each():
    paths = [path for path, _ in reference()]
    assert len(paths) == len(set(paths)) > 80
    assert not [path for path in paths if (GUIDE / path).exists()]


def test_every_command_and_option_has_its_place():
    pages = commands.pages()
    everywhere = pages["reference/commands/index.md"]
    for name, command in cli.commands.items():
        page = pages[f"reference/commands/{name}.md"]
        options = [o for p in command.params for o in p.opts if isinstance(p, click.Option)]
        assert not [o for o in options if f"`{o}" not in page and f"`{o}" not in everywhere]


def test_every_layer_parameter_and_message_has_its_place():
    pages = dict(reference())
    layers = "".join(text for path, text in pages.items() if "/layers/" in path)
    assert not [name for name in load_schemas() if f"(layer-{name})=" not in layers]
    named = {p.name for step in load_steps().values() for p in step.parameters}
    assert not [n for n in named if f"`{n}`\n: " not in pages["reference/parameters.md"]]
    faults = "".join(text for path, text in pages.items() if "/messages/" in path)
    assert not [m for f in WITH_CODES for m in messages(f) if f"\n{m}\n  " not in faults]


def test_a_fault_that_the_reference_lacks_is_found():
    """A catalogue has remedies only of faults, and each of these is in the reference."""
    others = {path.stem for path in FOLDER.glob("*.ftl")} - {*WITH_CODES}
    assert not [m for f in others for m in messages(f).values() if m.attributes]


def test_a_public_name_without_a_page_is_found():
    assert without_page({*public_names()} - {"leakgeo.locate"}) == ["leakgeo.locate: no page."]


def test_a_link_that_leads_nowhere_is_found(tmp_path):
    (tmp_path / "b.html").write_text('<p id="here">', "utf-8")
    (tmp_path / "a.html").write_text(
        '<a href="b.html#here"></a><a href="b.html#there"></a><a href="c.html"></a>'
        '<a href="https://example.org/"></a><script src="https://example.org/x.js"></script>',
        "utf-8",
    )
    assert broken(tmp_path) == [
        "a.html: the link b.html#there leads to no place of its page.",
        "a.html: the link c.html leads to no file.",
        "a.html: loads https://example.org/x.js from a network.",
    ]


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.stem)
def test_a_script_of_the_gallery_draws_one_figure(script, tmp_path, monkeypatch):
    mpl.use("Agg")
    import matplotlib.pyplot as plt

    monkeypatch.chdir(tmp_path)
    runpy.run_path(str(script))
    drawn = [figure for figure in map(plt.figure, plt.get_fignums()) if figure.axes]
    plt.close("all")
    assert len(drawn) == 1
    assert all(axis.get_xlabel() or axis.get_ylabel() or not axis.axison for axis in drawn[0].axes)
    assert not list(tmp_path.iterdir())


def test_the_page_of_tables_has_the_columns_of_the_summary(whole):
    # The town is in feet.
    named = [f"{n.removesuffix('_m')}_ft" if n.endswith("_m") else n for n in SUMMARY]
    header = pd.read_csv(whole / "summary.csv", encoding="utf-8-sig", nrows=0).columns
    assert list(header[-len(named) :]) == named
