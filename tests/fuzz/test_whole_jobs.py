"""Any mix of faults: never a traceback, counts add up, and a good line is as it was.

`LEAKGEO_FUZZ=500` tries so many mixes instead of a few.
"""

import json
import os
import tempfile
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import leakgeo
from leakgeo.deliver.folder.record import counts
from leakgeo.errors import JobError
from tests.battery import test_places, test_rows, test_traces, test_walks
from tests.battery.check import good_result, lines_of, write
from tests.battery.good import LAST, TAPED, layers, rows

EXAMPLES = int(os.environ.get("LEAKGEO_FUZZ", "4"))
KNOWN = {
    name: case.spoil
    for module in (test_places, test_traces, test_walks, test_rows)
    for name, case in module.CASES.items()
    if LAST in case.untouched
}
# Columns of one line's rows set to what no one measured.
WILD = {
    "readings": {
        "sound_level": (np.nan, np.inf, 1e300, -1e-300, 0.0, 300.0, -300.0),
        "gain_db": (np.nan, np.inf, 1e6, -1e6), "chainage_m": (np.nan, -5.0, 0.0, 1e9, np.inf),
        "chainage_sd_m": (0.0, -1.0, 1e9, 1e-300), "position_sd_m": (0.0, -1.0, 1e9, 1e-12),
        "seq": (np.nan, -1, 0, 2**31), "sound_unit": ("scale", "dB", "volts", None, ""),
        "band": ("low", "high", "mid", None), "air": ("on", "off", "?", None),
        "stop_id": ("s", None), "walk_id": (None, "w", "x" * 3000), "sensor": (None, "ear"),
        "set_aside": (True, False), "surface": (None, "grass", "lawn"), "line_id": (None, "nobody"),
    },
    "routes": {
        "depth_m": (0.0, 1e-6, 30.0, -1.0, np.nan, 1e6), "material": (None, "gold", "PVC"),
        "diameter_mm": (0.0, 1e9, np.nan), "pressure_kpa": (0.0, -1.0, 1e9),
        "position_sd_m": (0.0, 1e9, 1e-12, np.nan), "line_id": (None, "", "<b>", LAST + "x"),
    },
}  # fmt: skip
cell = st.sampled_from([(layer, c) for layer, columns in WILD.items() for c in columns])
wild = cell.flatmap(
    lambda at: st.tuples(
        st.just(at[0]), st.just(at[1]), st.sampled_from(WILD[at[0]][at[1]]), st.integers(1, 4)
    )
)
mixes = st.tuples(
    st.lists(st.sampled_from(sorted(KNOWN)), max_size=3, unique=True),
    st.lists(wild, max_size=4),
    st.booleans(),
).filter(lambda mix: mix[0] or mix[1])


def spoilt(mix):
    """Set cells first: a fault may take rows away, or rename them."""
    known, wilds, _ = mix
    job = layers()
    for layer, column, value, each in wilds:
        table = job[layer].copy()
        table[column] = table[column].astype(object)
        table.iloc[rows(table, TAPED)[::each], table.columns.get_loc(column)] = value
        job[layer] = table.infer_objects()
    for name in known:
        job = KNOWN[name](job)
    return job


@settings(max_examples=EXAMPLES, deadline=None, derandomize=EXAMPLES < 100,
          suppress_health_check=list(HealthCheck))  # fmt: skip
@given(mixes)
def test_any_mix_of_faults(mix):
    with tempfile.TemporaryDirectory() as folder:
        try:
            tables = spoilt(mix)
        except (IndexError, KeyError, ValueError, TypeError, AttributeError):
            return  # faults that can't be put together
        path = write(tables, Path(folder) / "job.gpkg")
        refused = None
        try:
            if mix[2]:
                result = leakgeo.run(path, Path(folder) / "out")
                record = json.loads((Path(folder) / "out" / "run.json").read_text("utf-8"))
                assert record["counts"]["readings"] == counts(result)["readings"]
            else:
                result = leakgeo.clearance(leakgeo.locate(path))
        except JobError as error:
            refused = error
    if refused is None:
        hold(result, len(tables["readings"]))
    else:
        assert refused.faults


def hold(result, came_in):
    """Hold what is true of every result."""
    account = counts(result)["readings"]
    assert account["in"] == came_in == account["used"] + account["rejected"]
    lines, before = lines_of(result), lines_of(good_result()).loc[LAST]
    heard = lines[lines["leak_probability"].notna()]
    assert np.isfinite(heard["leak_probability"].astype(float)).all()
    assert not set(heard["status"]) & {"rejected", "not_listened_to"}
    assert heard["leak_probability"].between(0.0, 1.0).all()
    assert lines["message"].str.len().gt(0).all()
    now = lines.loc[LAST]
    assert now["status"] == before["status"]
    np.testing.assert_allclose(now["chainage_m"], before["chainage_m"], atol=0.005)
    np.testing.assert_allclose(now["leak_probability"], before["leak_probability"], atol=0.005)
    for name, layer in result.layers.items():
        for column in layer.select_dtypes("number"):
            assert not np.isinf(layer[column].astype(float)).any(), (name, column)
