"""The help pages of the plugin: one for each command of the catalog."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

from leakgeo.cli.document import CAUTION
from leakgeo.commands import describe

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    Part = Mapping[str, Any]

#: Comment in the pages of the plugin in whose place the list of algorithms is written.
ALGORITHMS = "<!-- algorithms -->"
_KINDS = {"Point": "points", "LineString": "lines", "Polygon": "areas"}
_JOB = "<p>Choose layers of the project, or in their place the file of a job that has them.</p>\n"
_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>{title} - leakgeo in QGIS</title>
<link rel="stylesheet" href="help.css">
</head>
<body>
<p class="path"><a href="index.html">leakgeo in QGIS</a> &rsaquo; {group}</p>
<h1>{title}</h1>
{body}
</body>
</html>
"""


def help_pages() -> dict[str, str]:
    """Return the pages of the commands as HTML, by name.

    Examples
    --------
    >>> "Zone probability" in help_pages()["locate"]
    True
    """
    catalog: Part = describe()
    return {command["name"]: _page(command, catalog) for command in commands_of(catalog)}


def commands_of(catalog: Part) -> list[Part]:
    """Return the commands of a catalog that the toolbox has: run, tools such as check, and steps.

    Examples
    --------
    >>> [command["name"] for command in commands_of(describe())][0]
    'run'
    """
    run, *steps = catalog["steps"]
    return [run, *catalog.get("tools", ()), *steps]


def algorithm_list() -> str:
    """Return the list of all commands, with links to their pages, as HTML.

    Examples
    --------
    >>> algorithm_list().splitlines()[1][:48]
    '<tr><td><a href="run.html">Run the whole chain</'
    """
    rows = (
        f'<tr><td><a href="{command["name"]}.html">{escape(title(command))}</a></td>'
        f"<td>{escape(command['summary'])}</td></tr>"
        for command in commands_of(describe())
    )
    return "\n".join(("<table>", *rows, "</table>"))


def title(command: Part) -> str:
    """Return the name of a command as the toolbox shows it.

    Examples
    --------
    >>> title({"name": "run"}), title({"name": "locate"})
    ('Run the whole chain', 'Locate')
    """
    name = str(command["name"])
    return command.get("title") or ("Run the whole chain" if name == "run" else name.capitalize())


def _page(step: Part, catalog: Part) -> str:
    parts = [
        f"<p><b>{escape(step['summary'])}</b></p>", f"<p>{escape(step['help'])}</p>",
        f'<p class="caution">{escape(" ".join(CAUTION))}</p>', _inputs(step, catalog),
        *_parameters(step), _results(step, catalog), _examples(step),
    ]  # fmt: skip
    return _PAGE.format(
        title=escape(title(step)), group=escape(step["group"]), body="\n".join(parts)
    )


def _inputs(step: Part, catalog: Part) -> str:
    rows = []
    takes = step.get("takes", ("layers",))
    for layer in catalog["input_layers"] if "layers" in takes else ():
        kinds = dict.fromkeys(
            _KINDS[kind.removeprefix("Multi")] for kind in layer["geometry_types"]
        )
        needed = layer["required"] or layer["name"] in step["needs"]
        more = f"{', '.join(kinds) or 'table'}; {'needed' if needed else 'optional'}"
        rows.append((layer["title"], more, layer["description"]))
    return _section("Layers", rows, _JOB) if rows else ""


def _parameters(step: Part) -> Iterable[str]:
    groups: dict[str, list[tuple[str, str, str]]] = {}
    for parameter in step["parameters"]:
        if parameter["kind"] != "job":  # layers take its place
            row = (_label(parameter), _values(parameter), parameter["help"])
            groups.setdefault(parameter["group"], []).append(row)
    return [_section(group, rows) for group, rows in groups.items()]


def _label(parameter: Part) -> str:
    """Return the name of a parameter in words, without its unit, as the dialog shows it."""
    unit = f"_{parameter['unit'].lower()}" if parameter["unit"] else ""
    return str(parameter["name"]).removesuffix(unit).replace("_", " ").capitalize()


def _values(parameter: Part) -> str:
    """Return option, unit, choices, range and default of a parameter in words."""
    said = [parameter["option"]] if parameter["option"] else []
    said += [f"in {parameter['unit']}"] if parameter["unit"] else []
    said += [" or ".join(map(str, parameter["choices"]))] if parameter["choices"] else []
    said += [f"at least {parameter['minimum']}"] if parameter["minimum"] is not None else []
    said += [f"at most {parameter['maximum']}"] if parameter["maximum"] is not None else []
    if parameter["default"] not in (None, "", [], False):
        default = "on" if parameter["default"] is True else parameter["default"]
        said.append(f"default {default}")
    return "; ".join([*said, *(["required"] if parameter["required"] else [])])


def _results(step: Part, catalog: Part) -> str:
    layers = {layer["name"]: layer for layer in catalog["output_layers"]}
    rows = [
        (layers[name]["title"], f"result.gpkg, {name}", layers[name]["description"])
        for name in step["makes"]
        if name in layers
    ]
    if not step["makes"]:
        return ""
    files = [*(name for name in step["makes"] if name not in layers), *catalog["files"]]
    listed = ", ".join(f"<code>{escape(name)}</code>" for name in dict.fromkeys(files))
    return f"{_section('Results', rows)}\n<p>Files: {listed}.</p>"


def _examples(step: Part) -> str:
    calls = "".join(f"<li><code>{escape(call)}</code></li>" for call in step["examples"])
    return f"<h2>On the command line</h2>\n<ul>{calls}</ul>"


def _section(head: str, rows: list[tuple[str, str, str]], above: str = "") -> str:
    listed = "\n".join(
        f"<tr><td>{escape(name)}<small>{escape(more)}</small></td><td>{escape(text)}</td></tr>"
        for name, more, text in rows
    )
    return f"<h2>{escape(head)}</h2>\n{above}" + (f"<table>\n{listed}\n</table>" if rows else "")
