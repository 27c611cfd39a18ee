"""The mutants themselves: what is changed, and what is left out."""

from __future__ import annotations

import ast

from tests.mutation.__main__ import PACKAGES, sources
from tests.mutation.mutants import mutants

SOURCE = '''"""A text of 3 things."""
LIMIT: int | None = 20


@cache(8)
def over(x: int | float) -> int | None:
    """Return 1."""
    if not x > LIMIT:
        return None
    return f"{x + 1}" and x - 0
'''
EXPECTED = {
    (None, "20 -> 40"), (None, "20 -> 200"),
    ("over", "not x > LIMIT -> not not x > LIMIT"),
    ("over", "x > LIMIT -> x <= LIMIT"), ("over", "x > LIMIT -> x >= LIMIT"),
    ("over", "return f'{x + 1}' and x - 0 -> return None"),
    ("over", "f'{x + 1}' and x - 0 -> f'{x + 1}' or x - 0"),
    ("over", "x - 0 -> x + 0"), ("over", "0 -> 1"), ("over", "0 -> 50"),
}  # fmt: skip


def test_limits_and_operators_are_changed_and_texts_and_annotations_are_not(tmp_path):
    path = tmp_path / "module.py"
    path.write_text(SOURCE)
    found = mutants(path)
    assert {(m.owner, m.text) for m in found} == EXPECTED
    assert len(found) == len(EXPECTED)
    plain = ast.dump(ast.parse(SOURCE))
    trees = [ast.dump(m.tree()) for m in found]
    assert plain not in trees
    assert len(set(trees)) == len(found)


def test_every_package_has_sources():
    assert all(sources(name) for name in PACKAGES)
