"""
Advice, stop by stop
====================

After each stop leakgeo proposes the place where the next one is expected to tell the most. A
simulated crew begins with a walk in steps of 3 m, then listens where it is told to, one stop at a
time.
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
site = draw_site(np.random.default_rng(4), conditions)
stops = np.arange(0.6, 24.0, 3.0)
first, rounds = len(stops), []
for _ in range(7):
    layers = fields_to_layers([site.field(stops, np.arange(len(stops)) // first > 0)])
    leak = layers.pop("truth")["chainage_m"].iloc[0]
    result = leakgeo.advise(leakgeo.locate(layers), how_many=1)
    rounds.append((result["search_zones"], stops))
    if result["next_readings"].empty:
        break
    stops = np.append(stops, result["next_readings"]["chainage_m"].iloc[0])

# %%
# Each row is a round. The bars are the stretches that hold the leak with 90 % probability, if there
# is one; the triangle is the stop that was proposed after the row above.

figure, axes = plt.subplots(figsize=(4.2, 4.2), dpi=200, layout="constrained")
for place, (zones, heard) in enumerate(rounds):
    axes.barh(
        [place] * len(zones), zones["length_m"], left=zones["from_chainage_m"], height=0.5,
        color="#56B4E9", edgecolor="k", lw=0.6, label="to search, 90 %" if not place else None,
    )  # fmt: skip
    new = heard if not place else heard[-1:]
    axes.plot(
        new, [place] * len(new), "ko" if not place else "v", color="k" if not place else "#D55E00",
        ms=4 if not place else 7, label=(None, "first walk", "next stop")[min(place, 1) + 1]
        if place < 2 else None,
    )  # fmt: skip
axes.axvline(leak, color="k", ls=":", label="simulated leak")
axes.set(xlabel="chainage along the pipe, m", ylabel="stops listened at", xlim=(0.0, 24.0))
axes.set_yticks(range(len(rounds)), [str(len(heard)) for _, heard in rounds])
axes.invert_yaxis()
axes.legend(fontsize="small", loc="upper center", bbox_to_anchor=(0.5, -0.15), ncols=2)
axes.set_title("A simulated crew that follows the advice", fontsize="medium")
plt.show()
