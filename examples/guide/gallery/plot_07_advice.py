"""
Advice, stop by stop
====================

After each stop leakgeo proposes the place where the next one is expected to tell the most. A
simulated crew begins with a walk in steps of 6 m, far too few, and listens where it is told to
until the leak is located.
"""

import matplotlib.pyplot as plt
import numpy as np

import leakgeo
from leakgeo.simulate import Conditions
from leakgeo.simulate.job import fields_to_layers
from leakgeo.simulate.site import draw_site

conditions = Conditions(
    length_m=(24.0, 24.0), tape_share=1.0, scale_share=0.0, leak_share=1.0, surface="soil",
    other_source_share=0.0, unknown_gain_share=0.0, known_gain_share=0.0,
)  # fmt: skip
site = draw_site(np.random.default_rng(7), conditions)
stops = np.arange(0.6, 24.0, 6.0)
first, rounds = len(stops), []
while True:
    layers = fields_to_layers([site.field(stops, np.arange(len(stops)) // first > 0)])
    leak = layers.pop("truth")["chainage_m"].iloc[0]
    result = leakgeo.locate(layers)
    rounds.append((result["search_zones"], stops))
    if result["lines"]["status"].iloc[0] == "located":
        break
    proposed = leakgeo.advise(result, how_many=1)["next_readings"]
    stops = np.append(stops, proposed["chainage_m"])

# %%
# Each row is a round: the bar is the stretch that holds the leak with 90 % probability, if there is
# one; dots are stops of the first walk, triangles those that were proposed after the row above.

figure, axes = plt.subplots(figsize=(4.2, 4.2), dpi=200, layout="constrained")
before = 0
for row, (zones, heard) in enumerate(rounds):
    axes.barh(
        [row] * len(zones), zones["length_m"], left=zones["from_chainage_m"], height=0.5,
        color="#56B4E9", edgecolor="k", lw=0.6, label="" if row else "to search, 90 %",
    )  # fmt: skip
    style, colour = ("v", "#D55E00") if row else ("o", "k")
    label = ("first walk", "stop proposed")[row] if row < 2 else ""
    new = heard[before:]
    axes.plot(new, [row] * len(new), style, color=colour, mec="k", ms=6, label=label)
    before = len(heard)
axes.axvline(leak, color="k", ls=":", label="simulated leak")
axes.set(xlabel="chainage along the pipe, m", ylabel="number of stops so far", xlim=(0.0, 24.0))
axes.set_yticks(range(len(rounds)), [str(len(heard)) for _, heard in rounds])
axes.invert_yaxis()
axes.legend(fontsize="small", loc="upper center", bbox_to_anchor=(0.5, -0.15), ncols=2)
axes.set_title("A simulated crew that follows the advice", fontsize="medium")
plt.show()
