"""The README's table of outside checks is the one that the tests make."""

from __future__ import annotations

from tests.outside.table import BEGIN, END, README, outside_table


def test_the_table_is_as_the_tests_make_it():
    # Renew it with: python -m tests.outside.table
    text = README.read_text("utf-8")
    assert text.partition(BEGIN)[2].partition(END)[0].strip() == outside_table()
