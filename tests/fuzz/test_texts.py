"""A sample of the spoilt mappings and tables; more: `python -m tests.fuzz.texts`."""

from tests.fuzz.texts import Target, plain


def test_a_spoilt_text_is_told_or_read(tmp_path):
    counts = plain(Target(tmp_path), 11, lambda number: number < 30)
    assert counts.total() == 30
    assert {what.partition(": ")[2] for what in counts} == {"read", "refused"}
