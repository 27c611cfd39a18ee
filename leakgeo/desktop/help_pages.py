"""The help pages of the plugin: one for each command of the catalog, in each language."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

from leakgeo.commands import describe
from leakgeo.reason import Reason
from leakgeo.wording import wording
from leakgeo.wording.locales import ENGLISH

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from leakgeo.wording import Wording

    Part = Mapping[str, Any]

#: Comment in the pages of the plugin in whose place the list of algorithms is written.
ALGORITHMS = "<!-- algorithms -->"
_KINDS = {"Point": "points", "LineString": "lines", "Polygon": "areas"}
_PAGE = """<!DOCTYPE html>
<html lang="{language}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>{title} - {plugin}</title>
<link rel="stylesheet" href="help.css">
</head>
<body>
<p class="path"><a href="{index}">{plugin}</a> &rsaquo; {group}</p>
<h1>{title}</h1>
{body}
</body>
</html>
"""


def help_pages(language: str = ENGLISH) -> dict[str, str]:
    """Return the pages of the commands as HTML, by the names of their files.

    Parameters
    ----------
    language : str
        One of `leakgeo.wording.languages`.

    Examples
    --------
    >>> "Zone probability" in help_pages()["locate.html"]
    True
    >>> "Probabilidad de las zonas" in help_pages("es")["locate_es.html"]
    True
    """
    catalog: Part = describe()
    words = wording(language=language)
    return {
        page_name(command["name"], language): _page(command, catalog, words)
        for command in commands_of(catalog)
    }


def page_name(name: str, language: str) -> str:
    """Return the file of a page; the plugin looks for that of the language of QGIS first.

    Examples
    --------
    >>> page_name("locate", "en"), page_name("locate", "es")
    ('locate.html', 'locate_es.html')
    """
    return f"{name}.html" if language == ENGLISH else f"{name}_{language}.html"


def commands_of(catalog: Part) -> list[Part]:
    """Return the commands of a catalog that the toolbox has: run, tools such as check, and steps.

    Examples
    --------
    >>> [command["name"] for command in commands_of(describe())][0]
    'run'
    """
    run, *steps = catalog["steps"]
    return [run, *catalog.get("tools", ()), *steps]


def algorithm_list(language: str = ENGLISH) -> str:
    """Return the list of all commands, with links to their pages, as HTML.

    Parameters
    ----------
    language : str
        One of `leakgeo.wording.languages`.

    Examples
    --------
    >>> algorithm_list().splitlines()[1][:48]
    '<tr><td><a href="run.html">Run the whole chain</'
    """
    words = wording(language=language)
    rows = (
        f'<tr><td><a href="{page_name(command["name"], language)}">'
        f"{escape(words.title(command['title']))}</a></td>"
        f"<td>{escape(words.help(command['summary']))}</td></tr>"
        for command in commands_of(describe())
    )
    return "\n".join(("<table>", *rows, "</table>"))


def label(parameter: Part) -> str:
    """Return the name of a parameter in words, without its unit, as the dialog shows it.

    Examples
    --------
    >>> label({"name": "join_gap_m", "unit": "m"})
    'Join gap'
    """
    unit = f"_{parameter['unit'].lower()}" if parameter["unit"] else ""
    words = str(parameter["name"]).removesuffix(unit).replace("_", " ")
    return f"{words[:1].upper()}{words[1:]}"


def _page(step: Part, catalog: Part, words: Wording) -> str:
    both = (words, words.english())
    caution = (
        each.term(code)
        for each in both
        if each is not None
        for code in ("terminal_caution", "terminal_caution_where")
    )
    parts = [
        f"<p><b>{escape(words.help(step['summary']))}</b></p>",
        f"<p>{escape(words.help(step['help']))}</p>",
        f'<p class="caution">{escape(" ".join(caution))}</p>', _inputs(step, catalog, words),
        *_parameters(step, words), _results(step, catalog, words), _examples(step, words),
    ]  # fmt: skip
    return _PAGE.format(
        language=words.language, plugin=escape(words.term("plugin", "page")),
        index=page_name("index", words.language), title=escape(words.title(step["title"])),
        group=escape(words.title(step["group"])), body="\n".join(parts),
    )  # fmt: skip


def _inputs(step: Part, catalog: Part, words: Wording) -> str:
    rows = []
    takes = step.get("takes", ("layers",))
    for layer in catalog["input_layers"] if "layers" in takes else ():
        kinds = dict.fromkeys(
            words.term(_KINDS[kind.removeprefix("Multi")], "page")
            for kind in layer["geometry_types"]
        )
        needed = layer["required"] or layer["name"] in step["needs"]
        kind = ", ".join(kinds) or words.term("table", "page")
        more = f"{kind}; {words.term('needed' if needed else 'optional', 'page')}"
        rows.append((words.title(layer["title"]), more, words.help(layer["description"])))
    choose = f"<p>{escape(words.term('choose', 'page'))}</p>\n"
    return _section(words.term("layers", "page"), rows, choose) if rows else ""


def _parameters(step: Part, words: Wording) -> Iterable[str]:
    groups: dict[str, list[tuple[str, str, str]]] = {}
    for parameter in step["parameters"]:
        if parameter["kind"] != "job":  # layers take its place
            name, text = words.title(label(parameter)), words.help(parameter["help"])
            row = (name, _values(parameter, words), text)
            groups.setdefault(words.title(parameter["group"]), []).append(row)
    return [_section(group, rows) for group, rows in groups.items()]


def _values(parameter: Part, words: Wording) -> str:
    """Return option, unit, choices, range and default of a parameter in words."""
    between = f" {words.term('or', 'page')} "
    said = [parameter["option"]] if parameter["option"] else []
    if parameter["unit"]:
        said.append(words.text(Reason("page_in", unit=parameter["unit"])))
    said += [between.join(map(str, parameter["choices"]))] if parameter["choices"] else []
    limits = ("page_least", parameter["minimum"]), ("page_most", parameter["maximum"])
    for code, value in limits:
        if value is not None:
            said.append(words.text(Reason(code, value=str(value))))
    if parameter["default"] not in (None, "", [], False):
        default = parameter["default"]
        shown = words.term("on", "page") if default is True else str(default)
        said.append(words.text(Reason("page_default", value=shown)))
    required = [words.term("required", "page")] if parameter["required"] else []
    return "; ".join([*said, *required])


def _results(step: Part, catalog: Part, words: Wording) -> str:
    layers = {layer["name"]: layer for layer in catalog["output_layers"]}
    rows = [
        (
            words.title(layers[name]["title"]),
            f"result.gpkg, {name}",
            words.help(layers[name]["description"]),
        )
        for name in step["makes"]
        if name in layers
    ]
    if not step["makes"]:
        return ""
    files = [*(name for name in step["makes"] if name not in layers), *catalog["files"]]
    listed = ", ".join(f"<code>{escape(name)}</code>" for name in dict.fromkeys(files))
    above = _section(words.term("results", "page"), rows)
    return f"{above}\n<p>{escape(words.term('files', 'page'))}: {listed}.</p>"


def _examples(step: Part, words: Wording) -> str:
    calls = "".join(f"<li><code>{escape(call)}</code></li>" for call in step["examples"])
    return f"<h2>{escape(words.term('calls', 'page'))}</h2>\n<ul>{calls}</ul>"


def _section(head: str, rows: list[tuple[str, str, str]], above: str = "") -> str:
    listed = "\n".join(
        f"<tr><td>{escape(name)}<small>{escape(more)}</small></td><td>{escape(text)}</td></tr>"
        for name, more, text in rows
    )
    return f"<h2>{escape(head)}</h2>\n{above}" + (f"<table>\n{listed}\n</table>" if rows else "")
