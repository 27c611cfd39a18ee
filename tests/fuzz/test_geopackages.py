"""A sample of the spoilt GeoPackages; thousands more: `python -m tests.fuzz.geopackages`."""

from tests.fuzz.geopackages import read_all, table
from tests.fuzz.mutations import MUTATIONS


def test_a_spoilt_geopackage_is_told_or_read_right():
    rows = list(read_all(range(1, 21), seed=11, whole_each=20))
    assert len(rows) == 20
    assert len({r["mutation"] for r in rows}) > len(MUTATIONS) / 2
    wrong = [r for r in rows if str(r["outcome"]).startswith("WRONG")]
    assert not wrong, f"{table(rows)}\n{wrong}"
    assert {"refused", "read, same"} <= {r["outcome"] for r in rows}
