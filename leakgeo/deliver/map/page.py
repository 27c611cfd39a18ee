"""The folium page, with Leaflet, style, script and data inside it."""

from __future__ import annotations

import re
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import folium
from branca.element import Element, MacroElement
from folium.template import Template

from leakgeo.deliver.map.pack import NEIGHBOURHOOD, PackedPart, chunks, json_text
from leakgeo.deliver.map.words import script_words
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Mapping

    from leakgeo.deliver.map.data import MapData

_ASSETS = files("leakgeo.deliver") / "assets"
# In this order; all share one scope.
_SCRIPTS = ("base", "unpack", "canvas", "shapes", "near", "overview", "tags", "view", "list",
            "panel", "plot", "legend", "keys", "start")  # fmt: skip
_PAGE = 230_000  # bytes of Leaflet, style and script


def asset(name: str) -> str:
    """Return the text of a file in ``assets``."""
    return (_ASSETS / name).read_text(encoding="utf-8")


def script() -> str:
    """Return all scripts as one function, ``leakgeoMap``."""
    parts = "\n".join(asset(f"map_{name}.js") for name in _SCRIPTS)
    return f'"use strict";\nvar leakgeoMap = (function () {{\n{parts}\nreturn start;\n}})();'


def json_for_script(content: object) -> str:
    r"""Return JSON that can neither end its script element nor act as a template.

    Programs render pages as templates, which evaluate a name such as ``{{7*7}}``. In JSON, a brace
    before ``{``, ``%`` or ``#`` occurs only inside a text.

    Raises
    ------
    ValueError
        If a number isn't finite.

    Examples
    --------
    >>> json_for_script({"id": "</script>"})
    '{"id":"\\u003c/script\\u003e"}'
    >>> json_for_script(["{{7*7}}{% x %}"])
    '["\\u007b{7*7}}\\u007b% x %}"]'
    """
    return _for_script(json_text(content))


def _for_script(plain: str) -> str:
    plain = re.sub(r"\{(?=[{%#])", r"\\u007b", plain)
    return plain.replace("<", r"\u003c").replace(">", r"\u003e").replace("&", r"\u0026")


def _offline_css() -> str:
    """Return the styles of Leaflet and of the map, without images of unused controls."""
    leaflet = re.sub(r"url\(images/[^)]*\)", "none", asset("leaflet.css"))
    return leaflet + asset("map.css")


def _offline_leaflet() -> str:
    return asset("leaflet.js").replace("//# sourceMappingURL=leaflet.js.map", "")


class _Text(Element):  # type: ignore[misc]
    """A text of the page that is no template, as compiling one of megabytes is slow."""

    _template = Template("{{ this.text }}")

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text


class _Macros(MacroElement):  # type: ignore[misc]
    """An element whose macros write texts into head, body and script of the page."""

    def render(self, **kwargs: Any) -> None:
        figure, module = self.get_root(), self._template.module
        for part in ("header", "html", "script"):
            if hasattr(module, part):
                text = getattr(module, part)(self, kwargs).removesuffix("\n")
                getattr(figure, part).add_child(_Text(text), name=self.get_name())
        for child in self._children.values():
            child.render(**kwargs)


class OfflineMap(folium.Map, _Macros):  # type: ignore[misc]
    """A folium map whose page includes Leaflet and makes no network request.

    Parameters
    ----------
    sealed : bool
        Forbid requests by a content security policy. False allows further tile layers; folium's
        pop-ups need jQuery, which is not included.
    images : str
        Scheme and host that images may come from in a sealed page; none by default.
    language : str
        Language of the page, for what reads it aloud.
    """

    default_js: list[tuple[str, str]] = []  # noqa: RUF012 - name given by folium
    default_css: list[tuple[str, str]] = []  # noqa: RUF012
    _template = Template(asset("map_page.html"))

    def __init__(self, *, sealed: bool, images: str = "", language: str = "en") -> None:
        super().__init__(location=[0.0, 0.0], zoom_start=2, tiles=None, prefer_canvas=True,
                         zoom_snap=0.5, wheel_px_per_zoom_level=90)  # fmt: skip
        self._id = "leakgeo"
        self.sealed = sealed
        self.images = images
        self.language = language
        self.words: Mapping[str, str] = script_words(wording())
        self.css = _offline_css()
        self.leaflet = _offline_leaflet()


class Start(_Macros):
    """Data and script of the page; the script draws the data into layer groups of the map.

    Parameters
    ----------
    data : MapData
        What the map shows.
    further : mapping
        JSON values to add to its head.
    map_name : str
        Name of the map in the page's script.
    groups : mapping of str to str
        Names of the layer groups in the page's script, by content.
    control : str
        Name of the layer control's list in the page's script.
    """

    _template = Template(asset("map_start.html"))

    def __init__(
        self,
        data: MapData,
        further: Mapping[str, Any],
        map_name: str,
        groups: Mapping[str, str],
        control: str,
    ) -> None:
        super().__init__()
        self._name, self._id = "Start", "leakgeo"
        head = {**data.head, **further}
        self.chunks = [_as_script(chunk) for chunk in chunks(data.pieces, data.origin, head)]
        rest = {name: value for name, value in head.items() if name not in NEIGHBOURHOOD}
        size = sum(len(text) for _, _, text in self.chunks) + len(json_for_script(rest))
        self.head = json_for_script({**rest, "megabytes": round((size + _PAGE) / 1e6, 1)})
        self.js = script()
        self.map_name, self.control = map_name, control
        self.groups = dict(groups)


def _as_script(chunk: PackedPart) -> tuple[str, str, str]:
    """Return id, type and text of the script element of a chunk."""
    if chunk.packed:
        return chunk.name, "application/octet-stream", chunk.text
    return chunk.name, "application/json", _for_script(chunk.text)
