"""
A town's list of digs
=====================

Digs are ranked by the water that each is expected to stop: what the line loses, times the
probability that the hole shows the leak. All of these are on hold, so their order says what to
clear first, not what to dig. Lines, leaks and tests are simulated.
"""

import matplotlib.pyplot as plt

import leakgeo
from leakgeo import datasets

lines = ["H-101", "H-102", "H-118", "S-101", "A-201", "A-206", "H-109", "A-208", "A-209"]
job = leakgeo.read_job(datasets.town(), lines=lines)
found = leakgeo.clearance(leakgeo.locate(leakgeo.meter(job)))["lines"]
found = found[found["line_id"].isin(lines)]
digs = found.dropna(subset=["dig_water_l_per_day"]).sort_values("dig_water_l_per_day")
listen = found[found["dig_water_l_per_day"].isna()]
for line in digs[::-1].itertuples():
    print(f"{line.line_id} ({line.dig_status}): {line.held_by}")
print("No mark to dig at yet:", ", ".join(listen["line_id"]))

# %%
# A line without a meter test counts as the median of those that have one; its bar is hatched.

figure, axes = plt.subplots(figsize=(4.2, 3.8), dpi=200, layout="constrained")
looks = {"meter": ("#0072B2", "", "loss measured"), "median": ("#F0E442", "////", "loss assumed")}
names = digs["line_id"].tolist()
for source, (colour, hatch, label) in looks.items():
    own = digs[digs["expected_loss_from"] == source]
    axes.barh(
        [names.index(n) for n in own["line_id"]], own["dig_water_l_per_day"] / 1000, color=colour,
        hatch=hatch, edgecolor="k", lw=0.6, label=label,
    )  # fmt: skip
held = (digs["dig_status"] == "hold").map({True: "hold", False: "no hold recorded"})
axes.set_yticks(range(len(digs)), digs["line_id"] + "\n" + held)
axes.set_xlabel("water that the dig is expected to stop, m³ a day")
axes.legend(fontsize="small", loc="upper center", bbox_to_anchor=(0.4, -0.18), ncols=2)
axes.set_title("Marks of a simulated town", fontsize="medium")
plt.show()
