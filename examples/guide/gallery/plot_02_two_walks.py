"""
Two walks made comparable
=========================

On the second walk the sensor had another gain, and nobody wrote down which. So its levels can't be
compared with those of the first walk as they stand. leakgeo estimates the difference from the
places where the walks overlap, together with the odds of the leak. The line is simulated.
"""

import matplotlib.pyplot as plt

import leakgeo
from leakgeo import datasets

readings = leakgeo.profile(datasets.two_walks())["readings_on_route"]

# %%
# Above, the fine walk seems to be quieter than its surroundings. Below, both walks follow one
# curve.

figure, panels = plt.subplots(
    2, sharex=True, sharey=True, figsize=(4.2, 4.4), dpi=200, layout="constrained"
)
styles = {"W-1/coarse": ("o", "#0072B2", "full"), "W-1/fine": ("^", "#D55E00", "none")}
columns = {"level_db": "as read", "level_comparable_db": "made comparable"}
for axes, (column, title) in zip(panels, columns.items(), strict=True):
    for walk, (marker, colour, fill) in styles.items():
        own = readings[readings["walk_id"] == walk].sort_values("chainage_m")
        axes.plot(
            own["chainage_m"], own[column], marker, color=colour, fillstyle=fill, ms=5,
            label=f"{walk.partition('/')[2]} walk",
        )  # fmt: skip
    axes.set_title(f"Levels {title}", loc="left", fontsize="medium")
    axes.set_ylabel("level, dB")
panels[0].legend()
panels[1].set_xlabel("chainage along the pipe, m")
figure.suptitle("One simulated line, walked twice", fontsize="medium")
plt.show()
