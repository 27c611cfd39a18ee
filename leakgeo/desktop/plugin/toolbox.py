"""Order of the toolbox: QGIS sorts groups and algorithms by name, so both have numbers."""

from __future__ import annotations

from dataclasses import dataclass

from .language import tr, tr_catalog

_BEGIN = "begin"


@dataclass(frozen=True)
class Place:
    """Title of an algorithm, and its group; both ``""`` for none."""

    title: str
    group: str = ""
    group_id: str = ""


def place_of_new_job():
    """Return the place of the algorithm that writes an empty job."""
    return Place(f"1 {tr('New job')}", f"1 {tr_catalog('Begin')}", _BEGIN)


def places(catalog):
    """Return each command of the catalog with its place, in the order of work.

    Parameters
    ----------
    catalog : dict

    Returns
    -------
    list of (dict, Place)
    """
    run, *steps = catalog["steps"]
    tools = catalog.get("tools", [])
    groups = {_BEGIN: [None]}
    for command in (*tools, *steps):
        groups.setdefault(_group_id(command), []).append(command)
    placed = [(run, Place(_title(run)))]
    for number, (group_id, commands) in enumerate(groups.items(), 1):
        digits = len(str(len(commands)))
        for count, command in enumerate(commands, 1):
            if command is not None:
                title = f"{count:0{digits}} {_title(command)}"
                group = f"{number} {tr_catalog(command['group'])}"
                placed.append((command, Place(title, group, group_id)))
    return placed


def _title(command):
    return tr_catalog(command.get("title") or command["name"].capitalize())


def _group_id(command):
    return command["group"].lower().replace(" ", "_")
