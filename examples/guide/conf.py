"""Settings of the documentation site; ``python -m tests.site OUT`` builds it without a network."""

from __future__ import annotations

from pathlib import Path

import leakgeo

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
