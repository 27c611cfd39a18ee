"""
A sweep across the line
=======================

A sweep is a row of stops across the pipe at one chainage. It tells whether the sound comes from
under the trace, from a pipe that lies beside its trace, or from another line. The three lines are
simulated.
"""

import matplotlib.pyplot as plt

import leakgeo
from leakgeo import datasets

lines = {
    "A-201": ("o-", "#0072B2", "loudest over the trace"),
    "A-209": ("s--", "#D55E00", "pipe 1.6 m beside its trace"),
    "A-205": ("^:", "k", "another pipe, 3 m away"),
}
job = leakgeo.read_job(datasets.town(), lines=list(lines))
readings = leakgeo.profile(job)["readings_on_route"]
swept = readings[readings["walk_id"].str.endswith("/across", na=False)]

# %%
# The level is drawn below the loudest stop of its sweep. Seen from the trace, a positive offset is
# to the left.

figure, axes = plt.subplots(figsize=(4.2, 3.8), dpi=200, layout="constrained")
for line, (style, colour, meaning) in lines.items():
    own = swept[swept["line_id"] == line]
    # The sweep that is loudest, where a line has several.
    own = own[own["sweep_m"] == own.loc[own["level_db"].idxmax(), "sweep_m"]]
    own = own.sort_values("offset_m")
    level = own["level_db"] - own["level_db"].max()
    axes.plot(own["offset_m"], level, style, color=colour, label=f"{line}: {meaning}")
axes.axvline(0.0, color="0.6", lw=1)
axes.set(xlabel="offset from the trace, m", ylabel="level below the loudest stop, dB")
axes.legend(fontsize="small", loc="upper center", bbox_to_anchor=(0.5, -0.18))
axes.set_title("Sweeps across three simulated lines", fontsize="medium")
plt.show()
