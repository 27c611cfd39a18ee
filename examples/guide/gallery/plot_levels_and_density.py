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

# %%
# Both curves have the chainage along the pipe, on the ground, as their axis.

figure, (upper, lower) = plt.subplots(2, sharex=True, figsize=(7, 4.5), layout="constrained")
print(profile.columns.tolist(), readings.columns.tolist(), truth.columns.tolist())
