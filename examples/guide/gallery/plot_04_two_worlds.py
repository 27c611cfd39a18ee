"""
One world's noise against another's
===================================

How well a leak can be placed depends on the ground. Here is one simulated pipe with one leak, heard
in two simulated worlds: in the second, the ground couples to the sensor three times as unevenly
from place to place. Everything else is the same.
"""

import matplotlib.pyplot as plt
import numpy as np

import leakgeo
from leakgeo.simulate import Conditions, World, simulate_field
from leakgeo.simulate.job import fields_to_layers

worlds = {
    "even ground": World().scaled("coupling_sd_db", 0.5),
    "uneven ground": World().scaled("coupling_sd_db", 1.5),
}
lines = {}
for name, world in worlds.items():
    conditions = Conditions(
        world, length_m=(30.0, 30.0), tape_share=1.0, scale_share=0.0, leak_share=1.0,
        other_source_share=0.0, unknown_gain_share=0.0, known_gain_share=0.0,
    )  # fmt: skip
    lines[name] = simulate_field(np.random.default_rng(5), conditions)

# %%
# Scatter that is alike at neighbouring stops can't be averaged away, so the odds grow wider: the
# lower panel shows the three metres about the leak.

figure, (levels, odds) = plt.subplots(2, figsize=(4.2, 4.8), dpi=200, layout="constrained")
styles = {"even ground": ("o-", "#0072B2"), "uneven ground": ("^--", "#D55E00")}
for name, field in lines.items():
    style, colour = styles[name]
    layers = fields_to_layers([field])
    leak = layers.pop("truth")["chainage_m"].iloc[0]
    result = leakgeo.locate(layers)
    heard = result["readings_on_route"].sort_values("chainage_m")
    levels.plot(
        heard["chainage_m"], heard["level_comparable_db"], style, color=colour, ms=4, lw=0.7,
        fillstyle="none", label=name,
    )  # fmt: skip
    profile = result["profile"]
    odds.plot(
        profile["chainage_m"], profile["leak_density_per_m"], style[1:], color=colour, label=name
    )
for axes in (levels, odds):
    axes.axvline(leak, color="k", ls=":", label="simulated leak")
levels.set(xlabel="chainage along the pipe, m", ylabel="comparable level, dB")
odds.set(xlabel="chainage along the pipe, m", ylabel="probability density, 1/m")
odds.set_xlim(leak - 1.5, leak + 1.5)
levels.legend(fontsize="small")
figure.suptitle("One simulated line in two worlds", fontsize="medium")
plt.show()
