"""Elements of the XML of a project."""

from __future__ import annotations


def elements(parent, *names):
    """Return the elements of the last name below those of the names before, one in the other."""
    *outer, name = names
    for one in outer:
        parent = parent.firstChildElement(one)
    found, child = [], parent.firstChildElement(name)
    while not child.isNull():
        found.append(child)
        child = child.nextSiblingElement(name)
    return found
