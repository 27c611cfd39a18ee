"""How lengths and names are written in holds, cautions and actions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

FOOT_M = 0.3048
_HAZARDS = {
    "gas": "GAS", "oil": "OIL", "steam": "STEAM", "gas_oil_steam": "GAS, OIL or STEAM",
}  # fmt: skip


def metres(length_m: float) -> str:
    """Write a length in both units, since the same sheet goes to both kinds of crew.

    Examples
    --------
    >>> metres(0.4572)
    '0.46 m (1.5 ft)'
    """
    return f"{length_m:.2f} m ({length_m / FOOT_M:.1f} ft)"


def kind_text(kind: str | None) -> str:
    """Name a kind of utility; what burns, scalds or explodes in capitals.

    Examples
    --------
    >>> kind_text("gas_oil_steam"), kind_text("sewer_drain"), kind_text(None)
    ('GAS, OIL or STEAM', 'sewer drain', 'utility')
    """
    kind = kind or "utility"
    return _HAZARDS.get(kind, kind.replace("_", " "))


def names_of(pairs: pd.DataFrame) -> np.ndarray[tuple[int], np.dtype[np.object_]]:
    """Name each utility so that a person knows which one is meant, whatever is missing.

    Parameters
    ----------
    pairs : pandas.DataFrame
        Columns utility_id, kind, owner (null where not known) and utility (row in its layer).
    """
    columns = (pairs[c] for c in ("kind", "utility_id", "owner", "utility"))
    return np.array(
        [
            f"{kind_text(kind)} {which or f'in row {row + 1}'} ({owner or 'owner not known'})"
            for kind, which, owner, row in zip(*columns, strict=True)
        ],
        dtype=object,
    )
