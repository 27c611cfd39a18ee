"""The results in the open project: as in result.qgz, once for each folder, the user's own kept."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

ONLY_HERE = "Only of this folder"


def folder_of_results(few, out: Path) -> Path:
    """Copy what QGIS opens; QGIS leaves files beside a GeoPackage that it has open."""
    out.mkdir(parents=True)
    for name in ("result.gpkg", "result.qgz", "faults.csv"):
        shutil.copy2(few[1] / name, out)
    return out


def say(out: Path, message: str) -> None:
    """Change the holds of a result, as another run would."""
    with closing(sqlite3.connect(out / "result.gpkg")) as base, base:
        base.execute("UPDATE holds SET message = ?", [message])


@pytest.fixture(name="told", scope="module")
def _told(host, few, tmp_path_factory):
    """Give what the project has after each action, in a project that was empty."""
    folder = tmp_path_factory.mktemp("opened")
    first, second = (folder_of_results(few, folder / name / "out")
                     for name in ("a & <leakgeo_marks>", "b"))  # fmt: skip
    say(second, ONLY_HERE)
    by_hand = host.scene("placed", [["by hand", first / "result.qgz", "by_hand"]])
    actions = [["by plugin", first, "opened"], ["user", few[0], ""], ["by plugin", first, "again"],
               ["by plugin", second, ""], ["by plugin", second, "both"]]  # fmt: skip
    return first, {**by_hand, **host.scene("placed", actions)}


def without_faults(told):
    """Return layers and tree without the table of faults, which result.qgz does not have."""
    layers = {name: layer for name, layer in told["layers"].items() if "faults" not in name}
    return layers, [node for node in told["tree"] if node[0] != "Faults"]


def test_a_result_is_opened_as_its_project_is_by_hand(told):
    folder, seen = told
    opened, by_hand = seen["opened"], seen["by_hand"]
    ((title, *shown, tree),) = opened["tree"]
    assert (title, shown) == ("leakgeo: out", [True, True])
    assert without_faults({**opened, "tree": tree}) == without_faults(by_hand)
    assert len(by_hand["layers"]) > 10
    for part in ("order", "cards", "layouts", "themes", "bookmarks", "time", "crs", "caution"):
        assert opened[part] == by_hand[part]
        assert by_hand[part]
    assert tree[-1][0] == "Faults"
    assert opened["layers"]["leakgeo_faults"][2:] == [
        len((folder / "faults.csv").read_text("utf-8-sig").splitlines()) - 1, True
    ]  # fmt: skip


def test_a_second_run_replaces_what_is_its_own_and_nothing_of_the_user(told):
    _, seen = told
    again, opened = seen["again"], seen["opened"]
    assert [node[0] for node in again["tree"]] == ["on top", "leakgeo: out"]
    marks = next(node for node in again["tree"][1][3] if node[0] == "Marks")
    assert marks[3][-1][0] == "mine"
    assert len(again["layers"]) == len(opened["layers"]) + 2
    assert again["layouts"].keys() == {*opened["layouts"], "my sheet"}
    for name in ("my sheet", "Dig sheet"):
        assert again["layouts"][name] == opened["layouts"]["Dig sheet"]
    assert opened["layers"].items() <= again["layers"].items()
    assert again["bookmarks"] == opened["bookmarks"]
    assert again["themes"] == {**opened["themes"], "mine": ["leakgeo_marks"]}
    assert again["of_user"] == 1


def test_two_folders_refer_to_their_own_layers(told):
    _, seen = told
    both, again = seen["both"], seen["again"]
    assert [node[0] for node in both["tree"]] == ["leakgeo: b/out", "on top", "leakgeo: out"]
    own = {name for name in both["layers"] if name.endswith("_2")}
    assert both["layers"].keys() - own == again["layers"].keys()
    assert all(ONLY_HERE in card for card in both["cards"]["leakgeo_marks_2"])
    assert not any(ONLY_HERE in card for card in both["cards"]["leakgeo_marks"])
    assert both["themes"]["Before a dig (b/out)"] == [
        f"{name}_2" for name in both["themes"]["Before a dig"]
    ]  # fmt: skip
    sheet = both["layouts"]["Dig sheet (b/out)"]
    assert (sheet["covers"], sheet["theme"]) == ("leakgeo_marks_2", ["Before a dig (b/out)"])
    assert ONLY_HERE in sheet["texts"]["holds"]
    assert both["layouts"]["Dig sheet"] == again["layouts"]["Dig sheet"]
    assert len({name for name, *_ in both["bookmarks"]}) == 2 * len(again["bookmarks"])
    order = [name for name in both["order"] if name.startswith("leakgeo")]
    assert order == [f"{name}_2" for name in seen["opened"]["order"]] + seen["opened"]["order"]


def test_a_project_opened_by_hand_is_renewed_in_place(host, few, tmp_path):
    out, newer = (folder_of_results(few, tmp_path / name) for name in ("out", "newer"))
    say(newer, ONLY_HERE)
    mine, again = host.scene("placed", [
        ["by hand", out / "result.qgz", ""], ["user", few[0], "mine"], ["outside", newer, ""],
        ["by plugin", out, "again"],
    ]).values()  # fmt: skip
    assert without_faults(again) == without_faults(mine)
    names = [node[0] for node in again["tree"]]
    assert names[:3] == ["on top", "What holds the dig", "Marks"]
    assert names[-1] == "Faults"
    assert all(ONLY_HERE in card for card in again["cards"]["leakgeo_marks"])
    assert not any(ONLY_HERE in card for card in mine["cards"]["leakgeo_marks"])
    for part in ("order", "themes", "bookmarks", "time", "of_user"):
        assert again[part] == mine[part]
    assert again["layouts"].keys() == {"Dig sheet", "my sheet"}
    assert ONLY_HERE in again["layouts"]["Dig sheet"]["texts"]["holds"]
