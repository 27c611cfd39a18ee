"""
Evidence for and against a leak
===============================

Levels are one kind of evidence. Meter and isolation tests, sweeps across, air and holes are others.
The table ``evidence`` has a Bayes factor for each: how many times likelier it is what was found if
this line leaks than if it doesn't. These lines of Alewife Court are simulated.
"""

import matplotlib.pyplot as plt

import leakgeo
from leakgeo import datasets

job = leakgeo.read_job(datasets.town(), lines=["A-201", "A-203", "A-205"])
found = leakgeo.locate(job)["evidence"]
found = found[found["kind"] != "prior"].reset_index(drop=True)
for line, own in found.groupby("line_id"):
    print(line, *own["message"], sep="\n  ")

# %%
# A factor of 10 is 1 on this axis, and one of 100 is 2, so the bars of a line add up, with 0.95 for
# the leak prior of 90 %. On A-201 the sum is far to the right, on the others to the left.

figure, axes = plt.subplots(figsize=(4.2, 4.2), dpi=200, layout="constrained")
strength = found["log10_bayes_factor"]
looks = {True: ("#0072B2", "", "for a leak"), False: ("#F0B07F", "////", "against a leak")}
for speaks_for, (colour, hatch, label) in looks.items():
    own = strength[(strength > 0) == speaks_for]
    axes.barh(own.index, own, color=colour, hatch=hatch, edgecolor="k", lw=0.6, label=label)
axes.axvline(0.0, color="k", lw=1)
axes.set_yticks(found.index, found["line_id"] + "  " + found["kind"])
axes.invert_yaxis()
axes.set(xlabel="log10 of the Bayes factor", xlim=(-2.1, 2.1))
axes.legend(fontsize="small", loc="upper center", bbox_to_anchor=(0.5, -0.16), ncols=2)
axes.set_title("Three lines of a simulated street", fontsize="medium")
plt.show()
