"""Links of HTML pages: that each leads somewhere, and that none loads anything from a network."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import TYPE_CHECKING
from urllib.parse import unquote, urlsplit

if TYPE_CHECKING:
    from pathlib import Path

# Elements that load what they name when a page is opened.
_LOADED = {"script", "img", "iframe", "source", "link", "video", "audio"}


class _Page(HTMLParser):
    """Identifiers of a page, and its links with whether they are loaded."""

    def __init__(self) -> None:
        super().__init__()
        self.ids: set[str] = {"", "top"}
        self.links: list[tuple[bool, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what an element is called, and where it leads."""
        given = {name: value or "" for name, value in attrs}
        self.ids |= {given[name] for name in ("id", "name") if name in given}
        loaded = tag in _LOADED and given.get("rel") not in ("canonical", "next", "prev")
        self.links += [(loaded, given[name]) for name in ("href", "src") if name in given]


def broken(site: Path) -> list[str]:
    """Give each link of a site that leads nowhere, or loads from a network.

    Parameters
    ----------
    site : pathlib.Path
        Folder of HTML pages.

    Returns
    -------
    list of str
        A sentence for each, with its page.
    """
    pages = {
        path.resolve(): _read(path)
        for path in sorted(site.rglob("*.html"))
        if "_static" not in path.parts
    }
    return [
        f"{path.relative_to(site.resolve())}: {problem}"
        for path, page in pages.items()
        for loaded, link in dict.fromkeys(page.links)
        if (problem := _problem(path, link, pages, loaded=loaded))
    ]


def _read(path: Path) -> _Page:
    page = _Page()
    page.feed(path.read_text("utf-8"))
    return page


def _problem(path: Path, link: str, pages: dict[Path, _Page], *, loaded: bool) -> str:
    parts = urlsplit(link)
    if parts.scheme == "data":
        return ""
    if parts.scheme or parts.netloc:
        return f"loads {link} from a network." if loaded else ""
    target = (path.parent / unquote(parts.path)).resolve() if parts.path else path
    if not target.is_file():
        return f"the link {link} leads to no file."
    known = pages.get(target)
    if known and unquote(parts.fragment) not in known.ids:
        return f"the link {link} leads to no place of its page."
    return ""
