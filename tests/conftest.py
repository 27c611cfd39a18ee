"""What all tests share: properties are judged by what they find, not by how long they take."""

from __future__ import annotations

import gc
import os
import signal
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import settings
from xdist.scheduler.loadscope import LoadScopeScheduling

from leakgeo.garbage import collect_rarely
from tests.__main__ import WRITTEN

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from xdist.remote import Producer

    from leakgeo.result import Result

# Tests that share a program that takes seconds to start: one process has them all.
SHARED = {
    "tests/desktop/": "QGIS",
    "tests/browser/": "Chromium",
    "tests/site/test_site.py": "Chromium",
    "tests/postgis/": "PostGIS",
}
# Files that take longest, the longest first: a process that got one at the end would work on alone.
LONGEST = (
    "test_plugin", "test_panel", "test_host", "test_toolbox", "test_window", "test_opening",
    "test_accuracy", "test_update", "test_batch", "test_site", "test_blocks", "test_watch",
    "test_closed_loop", "test_clearance", "test_report", "test_by_district", "test_posterior",
    "test_cli", "test_provenance", "test_chain", "test_stopped",
    "test_line_digests", "test_numbers", "test_staging", "test_warm_job", "test_names",
    "test_digest", "test_exports", "test_cluster", "test_files", "test_places", "test_rows",
    "test_job_input", "test_field_project", "test_cli_speech", "test_quiet", "test_advise_loop",
    "test_copies", "test_dig_record", "test_geopackages", "test_reading_again", "test_situations",
    "test_trade", "test_postgis", "test_holds_more", "test_streams", "test_cli_help",
    "test_benchmark", "test_learn", "test_closed", "test_whole_jobs", "test_branches",
    "test_traces", "test_taped_lines", "test_walks", "test_kept", "test_map_in_browser",
)  # fmt: skip


def pytest_configure(config: pytest.Config) -> None:
    """Give each of several test processes one processor, English, and a SIGINT that ends."""
    # More threads would cost a tenth more.
    if hasattr(config, "workerinput"):
        os.cpu_count = lambda: 1
    # Words are English unless a test names a language.
    for name in ("LC_ALL", "LC_MESSAGES", "LANGUAGE"):
        os.environ.pop(name, None)
    os.environ["LANG"] = "C.UTF-8"
    # A shell has what it runs in the background ignore SIGINT, and tests send it to their children.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    # Files of equal results are compared byte by byte, and state when they were written.
    os.environ.update({**WRITTEN, **os.environ})


class ByProgram(LoadScopeScheduling):
    """Gives each process whole files, and all files of a program that they share."""

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.split("::", 1)[0]
        return next((name for start, name in SHARED.items() if file.startswith(start)), file)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> ByProgram:
    """Hand out tests in this way whatever ``--dist`` says."""
    return ByProgram(config, log)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the tests of long files first."""
    place = {name: k for k, name in enumerate(LONGEST)}
    items.sort(key=lambda item: place.get(item.path.stem, len(place)))


def pytest_collection_finish() -> None:
    """Leave modules and tests out of garbage collections, and collect rarely."""
    gc.collect()
    gc.freeze()
    collect_rarely()


settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture(scope="session")
def town(tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    """The shipped town, run once in one go, and the folder of its files."""
    # Imported here: the process that hands out the tests has no need of it.
    from tests.prepared import given

    return given("town", tmp_path_factory.mktemp("town"))


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One headless Chromium for all tests of a process: a second one can't be started beside it."""
    from tests.browser.chromium import FLAGS, find_chromium

    path = find_chromium()
    api = pytest.importorskip("playwright.sync_api")
    with api.sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=path, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def whole(town: tuple[Result, Path]) -> Path:
    """The folder of the shipped town's files."""
    return town[1]


@pytest.fixture(scope="session")
def few(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A job of a few lines, run once in one go, and the folder of its files."""
    from tests.prepared import given

    folder = tmp_path_factory.mktemp("few")
    return folder / "job.gpkg", given("few", folder)[1]
