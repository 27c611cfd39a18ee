"""Texts of the catalog of leakgeo that the plugin shows; no other module is needed to read them."""

from __future__ import annotations


def label_words(parameter):
    """Return the label of a parameter: its name in words, without its unit.

    Parameters
    ----------
    parameter : dict
        Of the catalog.
    """
    name, unit = parameter["name"], parameter["unit"]
    if unit and name.endswith(f"_{unit.lower()}"):
        name = name[: -len(unit) - 1]
    words = name.replace("_", " ")
    return f"{words[:1].upper()}{words[1:]}"


def catalog_texts(catalog):
    """Return titles, headings, labels and help texts of a catalog, each once.

    Parameters
    ----------
    catalog : dict
        Document of ``leakgeo steps --json``.
    """
    layers = catalog["input_layers"]
    found = [layer[key] for layer in layers for key in ("title", "description")]
    for command in (*catalog["steps"], *catalog["tools"]):
        found += [command["title"], command["group"], command["summary"], command["help"]]
        for parameter in command["parameters"]:
            found += [parameter["group"], label_words(parameter), parameter["help"]]
    return list(dict.fromkeys(found))
