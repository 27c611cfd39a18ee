"""A headless Chromium that tells everything a page asks for and complains of."""

from __future__ import annotations

import os
import shutil
import tempfile
from dataclasses import dataclass, field

import pytest

# Without these a fresh Chromium asks the network for things of its own.
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
]  # fmt: skip


@dataclass
class Opened:
    """A page, and what it asked for and complained of."""

    page: object
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


def find_chromium() -> str:
    """Give the path of a Chromium; without one, skip here and fail on a build machine."""
    names = ("chromium", "chromium-browser", "google-chrome")
    found = os.environ.get("LEAKGEO_CHROMIUM") or next(filter(None, map(shutil.which, names)), None)
    if found:
        return found
    if os.environ.get("CI"):
        pytest.fail("no Chromium found; install one or set LEAKGEO_CHROMIUM")
    return pytest.skip("no Chromium found")


@pytest.fixture(scope="session")
def browser():
    path = find_chromium()
    api = pytest.importorskip("playwright.sync_api")
    with api.sync_playwright() as play, tempfile.TemporaryDirectory():
        chromium = play.chromium.launch(executable_path=path, args=FLAGS)
        yield chromium
        chromium.close()


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
