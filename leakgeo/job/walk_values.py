"""What a new row takes from the one before, in forms and where one is typed."""

from __future__ import annotations

#: Columns that hold for a walk, by layer: the next row begins with those of the last one.
KEPT = {
    "readings": ("sensor", "sound_unit", "gain_db", "band", "surface", "position_sd_m"),
    "contacts": ("sound_unit", "gain_db"),
}
#: A walk ends when nothing was heard for so many hours; the next stop begins another.
WALK_H = 4
