"""
Levels along a line, and where its leak is
==========================================

The readings of one simulated line, the level that leakgeo interpolates between them, and the
probability density of the leak. The dashed line is the leak that was simulated.
"""

import matplotlib.pyplot as plt

import leakgeo
from leakgeo.simulate.town import simulate_town

layers = simulate_town()
truth = layers.pop("truth").set_index("line_id")
result = leakgeo.locate(leakgeo.read_job(layers, lines=["H-101"]))
profile, readings = result["profile"], result["readings_on_route"]
profile = profile[profile["line_id"] == "H-101"]
readings = readings[(readings["line_id"] == "H-101") & readings["used"]]

# %%
# Both curves have the chainage along the pipe as their axis, in metres on the ground.

figure, (levels, density) = plt.subplots(2, sharex=True, figsize=(7, 4.5), layout="constrained")
levels.plot(profile["chainage_m"], profile["level_comparable_db"], label="interpolated level")
levels.plot(readings["chainage_m"], readings["level_comparable_db"], "k.", label="readings")
levels.set_ylabel("comparable level, dB")
density.fill_between(profile["chainage_m"], profile["leak_density_per_m"], alpha=0.4)
density.set(xlabel="chainage, m", ylabel="leak, per metre")
for axes in (levels, density):
    axes.axvline(truth.loc["H-101", "chainage_m"], color="k", ls="--", label="simulated leak")
levels.legend()
figure.suptitle("Line H-101 of the invented town (simulated)")
plt.show()
