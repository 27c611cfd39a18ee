"""
A tape against satellite fixes
==============================

The same stops with the same levels, placed once by a tape along the pipe, and once by satellite
fixes with an error of some three metres. The job says how large each error is, so with worse
positions the odds of the leak grow wider. The line is simulated, with a leak at 8.10 m.
"""

import geopandas as gpd
import matplotlib.pyplot as plt

import leakgeo
from leakgeo import datasets

path = datasets.two_walks()
taped = {name: gpd.read_file(path, layer=name) for name in ("routes", "readings")}
untaped = taped["readings"].drop(columns=["chainage_m", "chainage_sd_m"])
tape = leakgeo.locate(taped)
fixes = leakgeo.locate({"routes": taped["routes"], "readings": untaped})

# %%
# Above: how far each fix alone would misplace its stop. Below: the odds from each kind of position.
# The fixes alone leave a longer stretch to search.

route = taped["routes"].geometry.iloc[0]
stops = taped["readings"].sort_values("chainage_m")
misplaced = stops.geometry.map(route.project) - stops["chainage_m"]

figure, (error, odds) = plt.subplots(
    2, sharex=True, figsize=(4.2, 4.6), dpi=200, layout="constrained"
)
error.axhline(0.0, color="0.6", lw=1)
error.plot(stops["chainage_m"], misplaced, "^", color="#D55E00", fillstyle="none", ms=5)
error.set_ylabel("fix minus tape,\nm along the pipe")
for result, name, style in ((tape, "tape", "-"), (fixes, "satellite fixes", "--")):
    colour = "#0072B2" if name == "tape" else "#D55E00"
    profile = result["profile"]
    odds.plot(profile["chainage_m"], profile["leak_density_per_m"], style, color=colour, label=name)
    zone = result["search_zones"]["length_m"].sum()
    print(f"{name}: the stretches to search are {zone:.1f} m long.")
odds.axvline(8.10, color="k", ls=":", label="simulated leak")
odds.set(xlabel="chainage along the pipe, m", ylabel="probability density, 1/m")
odds.set_xlim(0.0, 18.0)
odds.legend(fontsize="small")
figure.suptitle("One simulated line, placed in two ways", fontsize="medium")
plt.show()
