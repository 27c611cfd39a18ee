"""
Levels along a line, and the odds of its leak
=============================================

A crew walked one line and wrote down a level at each stop. leakgeo interpolates the level between
the stops, with its error, and computes from it how probable a leak is at each place. The line is
simulated, so we know where its leak is: at 6.11 m.
"""

import matplotlib.pyplot as plt

import leakgeo
from leakgeo import datasets

result = leakgeo.locate(datasets.in_feet())
profile, readings, mark = result["profile"], result["readings_on_route"], result["marks"].iloc[0]

# %%
# The level is loudest over the leak and falls on both sides. The odds are narrower than the hump of
# the level, because many stops together fix its middle: the lower panel shows the four metres about
# the mark.

blue, red = "#0072B2", "#D55E00"
figure, (levels, odds) = plt.subplots(2, figsize=(4.2, 4.8), dpi=200, layout="constrained")
x, level, sd = (profile[c] for c in ("chainage_m", "level_comparable_db", "level_comparable_sd_db"))
levels.fill_between(x, level - sd, level + sd, color=blue, alpha=0.25, lw=0)
levels.plot(x, level, color=blue, label="interpolated, ± 1 sd")
levels.plot(
    readings["chainage_m"], readings["level_comparable_db"], "ko", ms=3, label="stops of the crew"
)
levels.set(xlabel="chainage along the pipe, m", ylabel="comparable level, dB")
odds.fill_between(x, profile["leak_density_per_m"], color=blue, alpha=0.4)
odds.axvline(mark["chainage_m"], color=red, ls="--", label="mark of leakgeo")
odds.set(xlabel="chainage along the pipe, m", ylabel="probability density, 1/m")
odds.set_xlim(mark["chainage_m"] - 2.0, mark["chainage_m"] + 2.0)
for axes in (levels, odds):
    axes.axvline(6.11, color="k", ls=":", label="simulated leak")
    axes.legend(fontsize="small")
figure.suptitle("A simulated line, walked twice", fontsize="medium")
plt.show()
