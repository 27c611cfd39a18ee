"""Products with kept pieces have the bytes of those made anew, whichever pieces are there."""

from dataclasses import replace

import pandas as pd
import pytest

from leakgeo.deliver.formats.density_raster import write_density
from leakgeo.kept_pieces import Kept, Shelf
from leakgeo.reason import Reason, columns_of
from tests.deliver.fixture import many_lines, street
from tests.deliver.test_map import data_in, written


@pytest.fixture(params=["town", "many"])
def result(request):
    if request.param == "many":
        return many_lines(220)
    return request.getfixturevalue("town")[0]


def spoil(pieces) -> None:
    """Remove a third of the pieces, and damage a third."""
    for k, key in enumerate(sorted(pieces)):
        if k % 3 == 0:
            del pieces[key]
        elif k % 3 == 1:
            piece = pieces[key]
            pieces[key] = [b"", piece[:-1], piece.swapcase(), b"{" * 30][k % 4]


def kept_of(result, digest="a", **other) -> Kept:
    """Give a digest to each line; `other` ones by the end of its name."""
    names = [str(name) for name in result.job.routes["line_id"]]
    ends = {name: end for name in names for end in other if name.endswith(end.strip("_"))}
    return Kept({name: other[ends[name]] if name in ends else digest for name in names})


def changed(result, end):
    """Give the result with other rows of the lines whose names have this end: texts and places."""
    lines, marks = result.layers["lines"], result.layers["marks"]
    told = lines["line_id"].str.endswith(end)
    new = columns_of("message", [Reason("first_walk")] * int(told.sum()))
    lines = lines.assign(**{name: lines[name].mask(told, new[name][0]) for name in new})
    moved = marks.geometry.where(~marks["line_id"].str.endswith(end), marks.translate(0.7, 0.2))
    return result.adding({"lines": lines, "marks": marks.set_geometry(moved)})


def test_the_page_is_the_same_with_no_all_some_and_damaged_pieces(result, tmp_path):
    fresh, kept = written(tmp_path / "fresh", result), kept_of(result)
    with_kept = replace(result, kept=kept)
    assert written(tmp_path / "first", with_kept) == fresh
    assert written(tmp_path / "again", with_kept) == fresh
    spoil(kept.pieces)
    assert written(tmp_path / "some", with_kept) == fresh


def test_changed_lines_are_made_again_and_the_order_is_that_of_this_run(result, tmp_path):
    kept = kept_of(result)
    written(tmp_path / "before", replace(result, kept=kept))
    after = changed(result, "7")
    lines = after.layers["lines"]
    after = after.adding({"lines": lines.assign(priority=lines["priority"].to_numpy()[::-1])})
    now = replace(kept_of(result, _7="b"), pieces=kept.pieces)
    fresh = written(tmp_path / "fresh", after, map_lines=27)
    assert written(tmp_path / "now", replace(after, kept=now), map_lines=27) == fresh


def test_lines_of_the_same_digest_are_not_worked_out(tmp_path):
    kept = kept_of(street())
    before = data_in(written(tmp_path / "before", replace(street(), kept=kept)))["lines"]
    other = replace(changed(street(), "4"), kept=kept)
    assert data_in(written(tmp_path / "after", other))["lines"] == before
    assert data_in(written(tmp_path / "anew", replace(other, kept=None)))["lines"] != before


@pytest.mark.parametrize("how", [{"units": "us"}, {"language": "es"}, {"step": True}, {"crs": 1}])
def test_what_enters_a_piece_beside_its_line_makes_it_another(how, tmp_path):
    result, kept = street(), kept_of(street())
    written(tmp_path / "before", replace(result, kept=kept))
    if how.pop("step", False):
        result = replace(result, layers={n: f for n, f in result.items() if n != "dig_zones"})
    if how.pop("crs", False):
        result = replace(result, job=replace(result.job, output_crs=result.job.crs))
    fresh = written(tmp_path / "fresh", result, **how)
    assert written(tmp_path / "kept", replace(result, kept=kept), **how) == fresh


def test_a_line_without_digest_is_worked_out_and_not_kept(tmp_path):
    kept = Kept({"Alder 12": "a"})
    fresh = written(tmp_path / "fresh", street())
    assert written(tmp_path / "kept", replace(street(), kept=kept)) == fresh
    assert {key.split("/")[0] for key in kept.pieces} == {"map", "texts"}
    assert all(key.endswith("/a/Alder 12") for key in kept.pieces)


def test_lines_of_one_digest_have_their_own_pieces():
    shelf = Shelf(Kept({"a": "0", "b": "0"}), "text", ["si"])
    shelf.put("a", b"of a")
    assert (shelf.get("a"), shelf.get("b")) == (b"of a", None)


def same(one, other) -> None:
    """Hold two results to have the same layers, to the last bit."""
    assert list(one.layers) == list(other.layers)
    for name, frame in one.layers.items():
        pd.testing.assert_frame_equal(frame, other.layers[name], check_exact=True, obj=name)


def test_texts_are_the_same_with_no_all_some_and_damaged_pieces(result):
    fresh, kept = result.worded("us", "es"), kept_of(result)
    with_kept = replace(result, kept=kept)
    for _ in range(2):
        same(with_kept.worded("us", "es"), fresh)
    spoil(kept.pieces)
    same(with_kept.worded("us", "es"), fresh)


def test_texts_of_changed_lines_are_written_anew_and_those_of_others_are_not():
    kept = kept_of(street())
    replace(street(), kept=kept).worded()
    after = changed(street(), "2")
    same(replace(after, kept=replace(kept_of(street(), _2="b"), pieces=kept.pieces)).worded(),
         after.worded())  # fmt: skip
    now = replace(changed(street(), "4"), kept=kept).worded().layers["lines"]
    assert now["message"].tolist() == street().worded().layers["lines"]["message"].tolist()


def test_a_line_with_other_rows_than_its_texts_is_written_anew():
    kept = kept_of(street())
    replace(street(), kept=kept).worded()
    fewer = street().adding({"holds": street().layers["holds"].iloc[1:]})
    same(replace(fewer, kept=kept).worded(), fewer.worded())


def test_the_raster_is_the_same_with_no_all_some_and_damaged_pieces(tmp_path):
    def raster(result, name) -> bytes:
        (tmp_path / name).mkdir()
        write_density(result, tmp_path / name, 0.1)
        return (tmp_path / name / "leak_density.tif").read_bytes()

    fresh, kept = raster(street(), "fresh"), kept_of(street())
    with_kept = replace(street(), kept=kept)
    assert raster(with_kept, "first") == fresh
    assert len(kept.pieces) > 2
    assert raster(with_kept, "again") == fresh
    spoil(kept.pieces)
    assert raster(with_kept, "some") == fresh
    profile = street().layers["profile"]
    other = street().adding({"profile": profile.assign(
        leak_density_per_m=profile["leak_density_per_m"].to_numpy()[::-1])})  # fmt: skip
    assert raster(replace(other, kept=kept), "other") == raster(other, "other fresh") != fresh
