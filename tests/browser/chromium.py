"""The Chromium of the tests: where it is, and how it is started."""

from __future__ import annotations

import os
import shutil

import pytest

# Without these a fresh Chromium asks the network for things of its own.
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
]  # fmt: skip


def find_chromium() -> str:
    """Give the path of a Chromium; without one, skip here and fail on a build machine."""
    names = ("chromium", "chromium-browser", "google-chrome")
    found = os.environ.get("LEAKGEO_CHROMIUM") or next(filter(None, map(shutil.which, names)), None)
    if found:
        return found
    if os.environ.get("CI"):
        pytest.fail("no Chromium found; install one or set LEAKGEO_CHROMIUM")
    return pytest.skip("no Chromium found")
