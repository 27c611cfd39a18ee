"""Settings of the documentation site; ``python -m tests.site OUT`` builds it without a network."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from docutils import nodes
from sphinx import addnodes

import leakgeo

if TYPE_CHECKING:
    from sphinx.application import Sphinx

project = "leakgeo"
version = release = leakgeo.__version__
author = "The leakgeo founders"
copyright = author  # noqa: A001
extensions = [
    "sphinx.ext.autodoc",
    "sphinx.ext.autosummary",
    "numpydoc",
    "myst_parser",
    "sphinx_gallery.gen_gallery",
]

myst_enable_extensions = ["colon_fence", "deflist"]
myst_heading_anchors = 3

nitpicky = True
# Types of other packages have no page here, as their inventories would come from a network.
nitpick_ignore_regex = [("py:.*", r"(?!leakgeo).*")]
default_role = "autolink"
autodoc_typehints = "none"
autosummary_generate = False
autodoc_member_order = "bysource"
numpydoc_show_class_members = False
# What is undocumented; `tests/test_docstrings.py` also compares sections with signatures.
numpydoc_validation_checks = {"GL08", "SS01", "SS02", "SS03", "SS05", "SS06"}

sphinx_gallery_conf = {
    "examples_dirs": str(Path(__file__).parent / "gallery"),
    "gallery_dirs": "gallery",
    "filename_pattern": r"/plot_",
    "within_subsection_order": "FileNameSortKey",
    "abort_on_example_error": True,
    "download_all_examples": False,
    "show_signature": False,
    "min_reported_time": 1e6,
    "write_computation_times": False,
    "first_notebook_cell": None,
}

html_theme = "pydata_sphinx_theme"
html_title = "leakgeo"
html_static_path = ["_static"]
templates_path = ["_templates"]
html_css_files = ["guide.css"]
html_show_sourcelink = False
html_copy_source = False
html_theme_options = {
    "navbar_end": ["theme-switcher"],
    "footer_start": ["copyright"],
    "footer_end": [],
    "secondary_sidebar_items": ["page-toc"],
    "show_prev_next": True,
    "navigation_with_keys": False,
}


_JOB = "examples/town/job.gpkg"
_IN_PYTHON = f"""\
import shutil
from pathlib import Path

from leakgeo import datasets

Path("examples/town").mkdir(parents=True, exist_ok=True)
shutil.copy(datasets.town(), "{_JOB}")"""


def _say_where_the_job_is(app: Sphinx, doctree: nodes.document) -> None:
    """Say below the title of a page that uses the job of the town how to get it."""
    with_result = app.env.metadata[app.env.docname].get("start") == "out"
    if not (with_result or _JOB in doctree.astext()):
        return
    title = doctree.next_node(nodes.title)
    name = nodes.literal("", _JOB)
    sample_data = addnodes.pending_xref(
        "", nodes.inline("", "sample data"), refdomain="std", reftype="doc",
        reftarget="/how-to/sample-data", refdoc=app.env.docname, refexplicit=True, refwarn=True,
    )  # fmt: skip
    # Folded, so that a page begins with what it is about.
    note = nodes.admonition(classes=["note"], collapsible="closed")
    note += nodes.title("", "The job of this page, and how to get it")
    note += nodes.paragraph(
        "", "", name, nodes.Text(" is in the repository. Elsewhere, make it once, in the folder "
        "that you work in, from the "), sample_data, nodes.Text(": with Python,"),
    )  # fmt: skip
    note += nodes.literal_block(_IN_PYTHON, _IN_PYTHON, language="python")
    note += nodes.paragraph(
        "", "", nodes.Text("or run the line below, and copy "),
        nodes.literal("", "rehearsal/town.gpkg"),
        nodes.Text(" to that name and folder with your file manager."),
    )  # fmt: skip
    demo = "$ leakgeo demo rehearsal"
    note += nodes.literal_block(demo, demo, language="console")
    if with_result:
        run = f"$ leakgeo run {_JOB} --out out"
        note += nodes.paragraph(
            "", "", nodes.Text("The page also uses "), nodes.literal("", "out"),
            nodes.Text(", the result of this job:"),
        )  # fmt: skip
        note += nodes.literal_block(run, run, language="console")
    title.parent.insert(title.parent.index(title) + 1, note)


def setup(app: Sphinx) -> None:
    """Connect what is added to pages; the collector of the front matter comes before it."""
    app.connect("doctree-read", _say_where_the_job_is, priority=900)
