"""
What a second walk adds
=======================

The first walk has steps of a metre or more along the whole line. The second goes in steps of a foot
about its loudest stop, and narrows the odds. The line is simulated, with a leak at 8.10 m.
"""

import geopandas as gpd
import matplotlib.pyplot as plt

import leakgeo
from leakgeo import datasets

path = datasets.two_walks()
layers = {name: gpd.read_file(path, layer=name) for name in ("routes", "readings")}
first = layers["readings"][layers["readings"]["walk_id"] == "W-1/coarse"]
results = {
    "first walk": leakgeo.locate({**layers, "readings": first}),
    "both walks": leakgeo.locate(layers),
}

# %%
# The ticks below the curves are the stops; these are the four metres about the leak.

figure, axes = plt.subplots(figsize=(4.2, 3.8), dpi=200, layout="constrained")
styles = {"first walk": ("--", "#D55E00"), "both walks": ("-", "#0072B2")}
for row, (name, result) in enumerate(results.items(), 1):
    line, colour = styles[name]
    profile, mark = result["profile"], result["marks"].iloc[0]
    axes.plot(profile["chainage_m"], profile["leak_density_per_m"], line, color=colour, label=name)
    stops = result["readings_on_route"]["chainage_m"]
    axes.plot(stops, [-0.2 * row] * len(stops), "|", color=colour, ms=8)
    print(
        f"{name}: {mark['probability_within_1ft']:.0%} within a foot of {mark['chainage_m']:.2f} m"
    )
axes.axvline(8.10, color="k", ls=":", label="simulated leak")
axes.set(xlabel="chainage along the pipe, m", ylabel="probability density, 1/m", xlim=(6.1, 10.1))
axes.legend(fontsize="small")
axes.set_title("A simulated line, walked once and twice", fontsize="medium")
plt.show()
