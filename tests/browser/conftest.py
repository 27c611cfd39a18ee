"""A headless Chromium that tells everything a page asks for and complains of."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest


@dataclass
class Opened:
    """A page, and what it asked for and complained of."""

    page: object
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@pytest.fixture
def open_map(browser):
    """Give a function that opens a map file at a width and gives the page with its record."""
    pages = []

    def opener(path, width=1280, height=900):
        page = browser.new_page(viewport={"width": width, "height": height})
        opened = Opened(page)
        pages.append(page)
        page.on("request", lambda request: opened.requests.append(request.url))
        page.on("requestfailed", lambda request: opened.complaints.append(request.url))
        page.on("console", lambda message: opened.complaints.append(message.text))
        page.on("pageerror", lambda error: opened.complaints.append(str(error)))
        page.goto(path.as_uri())
        page.wait_for_selector("#lg-footer details")
        return opened

    yield opener
    for page in pages:
        page.close()
