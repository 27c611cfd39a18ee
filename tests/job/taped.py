"""The town's lines as a crew without a GIS would write them: a taped list, no coordinates."""

import pandas as pd
import pyogrio
import shapely

from leakgeo.job.lengths import INCH_M

TOWN = "examples/town/job.gpkg"
# Of the zone where the town is, near enough for a tape.
SCALE = 0.9996
LAYERS = ("routes", "readings", "contacts", "meter_tests")


def drawn(*lines):
    """Layers of some lines as drawn, with fittings at both ends, and readings placed by tape."""
    layers = {name: pyogrio.read_dataframe(TOWN, layer=name) for name in LAYERS}
    routes, contacts = (layers[n].to_crs(26916) for n in ("routes", "contacts"))
    routes = routes[routes["line_id"].isin(lines)].reset_index(drop=True)
    own = {n: t[t["line_id"].isin(lines)].reset_index(drop=True) for n, t in layers.items()}
    ends = [
        {"contact_id": f"{line} {end}", "line_id": line, "kind": "other", "geometry": point}
        for line, trace in zip(routes["line_id"], routes.geometry, strict=True)
        for end, point in zip(("start", "end"), shapely.points(trace.coords)[[0, -1]], strict=True)
    ]
    fittings = contacts[contacts["line_id"].isin(lines)]
    both = pd.concat([fittings, pd.DataFrame(ends)], ignore_index=True)
    readings = pd.DataFrame(own["readings"].drop(columns="geometry"))
    contacts = fittings.iloc[:0].reindex(range(len(both))).assign(**both)
    return {**own, "routes": routes, "readings": readings, "contacts": contacts.set_crs(26916)}


def taped(layers, *lines, feet=True):
    """Layers in which some lines have a taped list, to half an inch, and no geometry."""
    routes, contacts = layers["routes"].copy(), layers["contacts"].copy()
    contacts["seq"], contacts["tape_from_previous"], contacts["tape_unit"] = None, None, None
    for line in lines:
        trace = routes.loc[routes["line_id"] == line].geometry.iloc[0]
        own = contacts.index[contacts["line_id"] == line]
        at = contacts.geometry[own].map(trace.project) / SCALE
        before = 0.0
        for seq, (row, metres) in enumerate(at.sort_values(kind="stable").items(), start=1):
            inches = round((metres - before) / INCH_M * 2) / 2
            before += inches * INCH_M
            written = f"{int(inches // 12)}' {inches % 12:g}\"" if feet else f"{inches * INCH_M} m"
            contacts.loc[row, ["seq", "tape_from_previous"]] = seq, None if seq == 1 else written
    contacts.loc[contacts["line_id"].isin(lines), "geometry"] = None
    routes.loc[routes["line_id"].isin(lines), "geometry"] = None
    if routes.geometry.isna().all():
        routes, contacts = (pd.DataFrame(t.drop(columns="geometry")) for t in (routes, contacts))
    return {**layers, "routes": routes, "contacts": contacts}
