"""Make the pictures of the README from a run of the example town; DEVELOPERS.md lists the tools."""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright
from pypdf import PdfReader

import leakgeo

TOWN = Path(__file__).parent / "town"
LINE = "H-101"


def main() -> None:
    """Run the town and write ``map.png`` and ``report.png`` beside its job."""
    with tempfile.TemporaryDirectory() as folder:
        leakgeo.run(TOWN / "job.gpkg", folder, units="us")
        _shoot(Path(folder) / "map.html", TOWN / "map.png")
        report = f"{folder}/report.pdf"
        page = str(_page_of(report))
        command = ["pdftoppm", "-r", "90", "-f", page, "-l", page, "-singlefile", "-png", report]
        subprocess.run([*command, str(TOWN / "report")], check=True)
    for picture in (TOWN / "map.png", TOWN / "report.png"):
        shown = Image.open(picture).convert("RGB")
        shown.quantize(256, Image.Quantize.FASTOCTREE).save(picture, optimize=True)


def _page_of(report: str) -> int:
    """Return the number of the first page of the line in the report."""
    pages = PdfReader(report).pages
    return next(i for i, p in enumerate(pages, 1) if f"{LINE}\nMark set" in p.extract_text())


def _shoot(page: Path, picture: Path) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox"]
        )
        tab = browser.new_page(viewport={"width": 1200, "height": 760})
        tab.goto(page.as_uri())
        tab.wait_for_timeout(1000)
        tab.screenshot(path=picture)
        browser.close()


if __name__ == "__main__":
    main()
