"""The site builds without a fault, and each kind of fault would be found."""

from __future__ import annotations

import runpy

import matplotlib as mpl
import pytest

from tests.site.build import GUIDE, build, reference
from tests.site.links import broken

SCRIPTS = sorted((GUIDE / "gallery").glob("plot_*.py"))


def test_the_site_builds_without_a_warning(tmp_path):
    assert build(tmp_path / "site", figures=False) == []


def test_pages_that_the_code_gives_have_one_place_each():
    paths = [path for path, _ in reference()]
    assert len(paths) == len(set(paths)) > 80
    assert not [path for path in paths if (GUIDE / path).exists()]


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
