"""What axe-core, the checker of accessible pages, finds on a page."""

from __future__ import annotations

from importlib.resources import files

import pytest

# Also what axe leaves off by default: targets too small for a finger (WCAG 2.2, 2.5.8).
_RUN = """(only) => axe.run(document, only ? {runOnly: [only]} : {
  rules: {"target-size": {enabled: true}}, resultTypes: ["violations"]})"""


def findings(page, only: str = "") -> list[str]:
    """Give impact, rule and first element of all that axe finds, the best practices included.

    `only` is one rule to try; all if it is empty.
    """
    pytest.importorskip("axe_playwright_python")
    page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8"))
    return [
        f"{found['impact']} {found['id']}: {found['nodes'][0]['html'][:200]}"
        for found in page.evaluate(_RUN, only)["violations"]
    ]
