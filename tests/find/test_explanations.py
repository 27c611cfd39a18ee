"""What may be true of each line: the layer, and the probabilities read from it."""

import numpy as np

from leakgeo.find.advise.explanations import explanations_by_line


def test_they_sum_to_one_and_agree_with_the_lines(town):
    result, _ = town
    table, lines = result["explanations"], result["lines"].set_index("line_id")
    total = table.groupby("line_id")["probability"].sum()
    assert np.allclose(total, 1.0, atol=1e-9)
    leak = table[table["kind"] == "leak"].set_index("line_id")["probability"]
    assert np.allclose(leak, lines["leak_probability"].reindex(leak.index))
    assert {"fitting", "beyond_end", "unknown", "nearby_line"} <= set(table["kind"])


def test_places_share_the_probability_of_a_leak(town):
    result, _ = town
    places = np.array([1.0, 2.0, 3.0])
    found = explanations_by_line(result["explanations"], lambda _: places)
    table = result["explanations"].groupby("line_id")
    assert set(found) == set(table.groups)
    for name, own in found.items():
        rows = table.get_group(name)
        assert np.isclose(own.weights().sum(), 1.0, atol=1e-9)
        assert np.allclose(own.place_probability * 3, rows["probability"][rows["kind"] == "leak"])
        assert len(own.rivals) + len(own.nearby) + 2 == len(rows)
        one_each = own.each(places, np.array(0.5), 0.25, 0.125)
        assert one_each[:3].tolist() == [1.0, 2.0, 3.0]
        assert one_each[-1] == 0.125
        assert len(one_each) == len(own.weights())
