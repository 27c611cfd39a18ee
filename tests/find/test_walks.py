"""Walks by satellite: orders, turns, sensors, laws that a job teaches, and bad input."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import shapely

import leakgeo
from leakgeo.errors import ParameterError
from leakgeo.find.ground.file import ground_toml, walk_law_from
from leakgeo.find.ground.walks import learned_walk_law
from leakgeo.find.levels.readings import tabulate, visits_of
from leakgeo.find.levels.step import readings_on_route
from leakgeo.reason import reasons_in
from leakgeo.route.lines import lines_of
from leakgeo.sound.constants import load_constants
from leakgeo.sound.noise_law import NoiseLaw
from leakgeo.sound.walk_law import WalkLaw
from leakgeo.wording.catalogue import wording
from tests.benchmarks.own import _job
from tests.worlds.satellite import draw_with_secrets

SHIPPED = load_constants()


def placed(layers):
    """Readings on route, lines and table of a job."""
    job = _job(layers)
    lines = lines_of(job, 0.3)
    readings, _ = readings_on_route(job, lines, 1.5, 0.1, trust_declarations=False)
    return readings, lines, tabulate(readings, lines, SHIPPED)


@pytest.fixture(scope="module")
def world():
    return draw_with_secrets(6, 7, "white", 1.5)


def with_readings(world, **columns):
    layers = dict(world.layers)
    layers["readings"] = layers["readings"].assign(**columns)
    return layers


def notes(layers):
    """Code of each note, and how many walks have it."""
    return pd.Series([note[2] for note in placed(layers)[2].notes]).value_counts().to_dict()


def test_a_table_is_kept_for_the_same_readings_lines_and_law_alone(world):
    readings, lines, table = placed(world[0].layers)
    assert tabulate(readings, lines, SHIPPED) is table
    assert tabulate(readings.copy(), lines, SHIPPED) is not table
    assert tabulate(readings, lines_of(_job(world[0].layers), 0.3), SHIPPED) is not table
    law = replace(SHIPPED.walk_law, step_weight=SHIPPED.walk_law.step_weight[::-1])
    other = tabulate(readings, lines, replace(SHIPPED, walk_law=law))
    assert other is not table
    assert not np.array_equal(other.numbers["chainage_m"], table.numbers["chainage_m"])


def test_good_walks_have_no_note_and_runs_break_where_the_crew_turns(world):
    drawn, secrets = world
    readings, _, table = placed(drawn.layers)
    assert table.notes == ()
    run = pd.Series(table.codes["run"], readings["reading_id"].iloc[table.row])
    part = secrets.set_index("reading_id")["part"].loc[run.index]
    assert (run >= 0).all()
    # Most stops of a run are of one part of the visit.
    same = part.groupby(run).agg(lambda p: p.value_counts().iloc[0]).sum()
    assert same >= 0.9 * len(part)


def test_walks_without_order_stay_at_their_fixes_and_say_so(world):
    drawn, _ = world
    walks = drawn.layers["readings"]["walk_id"].nunique()
    bare = with_readings(drawn, seq=None, time=pd.NaT)
    assert notes(bare) == {"walk_without_order": walks}
    readings, _, table = placed(bare)
    assert (table.numbers["stops_from_middle"] == 0.0).all()
    on_line = np.asarray(readings["chainage_m"])[table.row]
    inside = (on_line > 0.0) & (table.numbers["chainage_m"] == on_line)
    assert inside.mean() > 0.9
    assert np.median(table.numbers["paced_sd_m"]) > 1.0


def test_repeated_and_shuffled_numbers_are_noted_unless_times_order_them(world):
    drawn, _ = world
    readings = drawn.layers["readings"]
    halved = readings["seq"] // 2
    assert notes(with_readings(drawn, seq=halved)) == {}
    repeated = notes(with_readings(drawn, seq=halved, time=pd.NaT))
    assert set(repeated) == {"walk_order_repeats"}
    shuffled = readings.groupby("walk_id")["seq"].transform(
        lambda s: np.random.default_rng(len(s)).permutation(s.to_numpy())
    )
    assert notes(with_readings(drawn, seq=shuffled)) == {}
    unlike = notes(with_readings(drawn, seq=shuffled, time=pd.NaT))
    assert set(unlike) == {"walk_order_unlike"}
    assert unlike["walk_order_unlike"] >= 5


def test_a_note_names_walk_and_line_on_the_terminal_and_the_line_is_located(world):
    drawn, _ = world
    first = drawn.truth.index[0]
    layers = with_readings(drawn, seq=None, time=pd.NaT)
    layers = {name: layer[layer["line_id"] == first] for name, layer in layers.items()}
    result = leakgeo.locate(_job(layers))
    fault = next(f for f in result.faults if f.code == "walk_without_order")
    assert (fault.feature, fault.effect) == (first, "noted")
    assert f"{first}/a" in str(fault)
    assert result.layers["lines"]["line_id"].tolist() == [first]


def test_a_change_of_sensor_or_gain_does_not_move_a_stop(world):
    drawn, _ = world
    changed = np.where(drawn.layers["readings"]["seq"] > 8, "ground_spike", "ground_plate")
    one = placed(with_readings(drawn, sensor="ground_plate"))[2]
    two = placed(with_readings(drawn, sensor=changed))[2]
    for name in ("chainage_m", "paced_sd_m", "shift_sd_m", "stops_from_middle"):
        assert one.numbers[name].tolist() == two.numbers[name].tolist()


def test_the_order_of_rows_and_other_lines_do_not_matter(world):
    drawn, _ = world
    _, _, whole = placed(drawn.layers)
    layers = dict(drawn.layers)
    layers["readings"] = layers["readings"].sample(frac=1.0, random_state=1)
    assert placed(layers)[2].numbers["chainage_m"].tolist() == whole.numbers["chainage_m"].tolist()
    last = drawn.truth.index[-1]
    alone = {name: layer[layer["line_id"] == last] for name, layer in drawn.layers.items()}
    own = whole.numbers["chainage_m"][whole.line == whole.line.max()]
    assert placed(alone)[2].numbers["chainage_m"].tolist() == own.tolist()


def test_good_fixes_are_left_alone(world):
    drawn, _ = world
    _, _, table = placed(with_readings(drawn, position_sd_m=0.05))
    assert (table.codes["run"] == -1).all()


def test_a_tape_at_three_stops_places_a_walk(world):
    drawn, secrets = world
    true, readings = secrets["true_m"], drawn.layers["readings"]
    fine = secrets["part"] == 1
    taped = fine & secrets.groupby(["line_id", "part"]).cumcount().isin([1, 5, 9])
    layers = with_readings(drawn, chainage_m=true.where(taped), walk_id=readings["line_id"])
    off = {}
    for name, tables in (("fixes", drawn.layers), ("taped", layers)):
        own, _, table = placed(tables)
        there = pd.Series(table.numbers["chainage_m"], own["reading_id"].iloc[table.row])
        error = there - secrets.set_index("reading_id")["true_m"].loc[there.index]
        off[name] = np.sqrt((error[fine.to_numpy()[table.row]] ** 2).mean())
    assert off["taped"] < 0.2
    assert off["taped"] < 0.4 * off["fixes"]


@pytest.mark.parametrize(
    ("kind", "shared"), [("white", (0.0, 0.3)), ("drift", (0.55, 0.9)), ("jumps", (0.2, 0.75))]
)
def test_a_job_teaches_errors_and_steps_and_what_is_claimed_of_stops_holds(kind, shared):
    drawn, secrets = draw_with_secrets(40, 11, kind, 1.5)
    readings, lines, _ = placed(drawn.layers)
    law = learned_walk_law(list(visits_of(readings, lines)), SHIPPED.walk_law)
    assert law.visits == 40
    assert shared[0] <= law.shared_share <= shared[1]
    near = [law.step_weight[np.abs(np.log(law.steps_m / s)) < 0.15].sum()
            for s in secrets.groupby("part")["step_m"].median()[:2]]  # fmt: skip
    before = [SHIPPED.walk_law.step_weight[np.abs(np.log(law.steps_m / s)) < 0.15].sum()
              for s in secrets.groupby("part")["step_m"].median()[:2]]  # fmt: skip
    assert sum(near) > 1.5 * sum(before)
    table = tabulate(readings, lines, replace(SHIPPED, walk_law=law))
    number, order = table.numbers, readings["reading_id"].iloc[table.row]
    known = secrets.set_index("reading_id").loc[order]
    error = number["chainage_m"] - known["true_m"].to_numpy()
    stretch = number["spacing_sd_m"] * number["stops_from_middle"]
    sd = np.sqrt(number["paced_sd_m"] ** 2 + number["shift_sd_m"] ** 2 + stretch**2)
    assert 0.75 < np.sqrt(np.mean((error / sd) ** 2)) < 1.25
    routes = drawn.layers["routes"].set_index("line_id").geometry
    points = drawn.layers["readings"].set_index("reading_id").loc[order]
    fix = shapely.line_locate_point(
        routes.loc[points["line_id"]].to_numpy(), points.geometry.to_numpy()
    )
    plain = fix - known["true_m"].to_numpy()
    assert np.mean(error**2) < {"white": 0.3, "drift": 0.95, "jumps": 0.5}[kind] * np.mean(plain**2)


def test_a_law_of_walks_is_carried_in_ground_toml_to_the_last_bit(tmp_path):
    law = replace(SHIPPED.walk_law, visits=7, walks=12)
    law = replace(law, step_weight=np.roll(law.step_weight, 3))
    path = tmp_path / "ground.toml"
    path.write_text(ground_toml(SHIPPED.noise_law, law))
    pd.testing.assert_frame_equal(walk_law_from(path, SHIPPED.walk_law).table(), law.table())
    again = WalkLaw.from_table(law.table())
    pd.testing.assert_frame_equal(again.table(), law.table())
    path.write_text(ground_toml(NoiseLaw.of([[1.0, 1.0, 1.0, 1.0]])))
    assert walk_law_from(path, law) is law


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[walk_law]\nerrors = 1", "can't be read"),
        ("[walk_law]\nvisits = 1\nwalks = 1\nerrors = [[1, 2]]\nsteps = [[1, 1]]", "4 numbers"),
        ("[walk_law]\nvisits = 1\nwalks = 1\nerrors = [[0, 2, 0, 1]]\nsteps = [[0, 1]]", "above"),
        ("[walk_law]\nvisits = 1\nwalks = 1\nerrors = [[1, 2, 0, 1]]\nsteps = [[1, 1]]", "shares"),
        ("[walk_law]\nvisits = 1\nwalks = 1\nerrors = [[0, 2, 0, 0]]\nsteps = [[1, 1]]", "weights"),
    ],
)
def test_a_bad_law_of_walks_is_refused(tmp_path, text, says):
    path = tmp_path / "ground.toml"
    path.write_text(text)
    with pytest.raises(ParameterError, match=says):
        walk_law_from(path, SHIPPED.walk_law)


def test_a_tape_is_an_improvement_of_a_walk_by_satellite_with_its_gain(world):
    drawn, _ = world
    improved = leakgeo.improvements(leakgeo.locate(_job(drawn.layers))).layers["improvements"]
    taped = improved[improved["improvement"] == "position"]
    assert len(taped) > 0
    assert (taped["expected_sd_after_m"] < taped["expected_sd_before_m"]).all()
    message = reasons_in(taped, "message")[0]
    assert wording().text(message).startswith("Tape three stops")
