"""Requests and answers of a panel, and what an answer says of each place."""

from __future__ import annotations

import io
import json

import numpy as np
import pytest

from leakgeo.answer.document import answer_document
from leakgeo.answer.serve import Waiting, serve
from leakgeo.answer.warm_job import WarmJob
from leakgeo.wording import set_locale
from tests.test_cli import leakgeo_command
from tests.town import write_few

LINE, STOP = "H-126", "H-126/007"


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    return WarmJob(write_few(tmp_path_factory.mktemp("few") / "job.gpkg"))


@pytest.fixture(autouse=True)
def _own_locale():
    yield
    set_locale()


def said(kept, *requests):
    """Return the answers to requests, in order, without the greeting."""
    lines = [one if isinstance(one, str) else json.dumps(one) for one in requests]
    out = io.StringIO()
    serve(kept, io.StringIO("\n".join(lines) + "\n"), out, units="us")
    ready, *answers = map(json.loads, out.getvalue().splitlines())
    assert ready["ready"]
    return answers


def test_each_request_has_an_answer_with_its_number(kept):
    answers = said(
        kept,
        {"id": 1},
        {"id": 2, "panel": "a", "line": LINE, "aside": [STOP, "gone"], "language": "es"},
        {"id": 3, "panel": "b", "line": "H-1"},
        {"id": 4, "panel": "c", "line": LINE, "units": "ells"},
        {"id": 5, "panel": "d", "line": LINE, "rows": [1]},
        "no JSON",
    )
    by_id = {answer["id"]: answer for answer in answers}
    assert set(by_id) == {None, 1, 2, 3, 4, 5}
    assert {"line": LINE, "address": "126 Heron Street"} in by_id[1]["lines"]
    found = by_id[2]["answer"]
    assert (found["aside"], found["units"]) == ([STOP], "us")
    assert found["what_if"].startswith("¿Y si")
    assert "no line H-1" in by_id[3]["error"]["message"]
    assert "ells" in by_id[4]["error"]["message"]
    assert "rows" in by_id[5]["error"]["message"]
    assert by_id[None]["error"]["kind"] == "ParameterError"


def test_the_newest_request_of_a_panel_supersedes_those_that_wait():
    dropped = []
    waiting = Waiting(dropped.append)
    for number, panel in enumerate("aabaa"):
        waiting.put({"id": number, "panel": panel, "line": LINE})
    waiting.put({"id": 5, "panel": "a"})
    waiting.end()
    taken = list(iter(waiting.take, None))
    assert [one["id"] for one in taken] == [2, 4, 5]
    assert [one["id"] for one in dropped] == [0, 1, 3]


def test_a_fault_of_the_program_is_an_answer_too(kept, monkeypatch):
    monkeypatch.setattr(kept, "ask", lambda *_, **__: 1 / 0)
    (answer,) = said(kept, {"id": 7, "line": LINE})
    assert answer["id"] == 7
    assert "ZeroDivisionError" in answer["error"]["message"]


def test_the_plot_has_every_stop_and_the_odds_of_the_result(kept):
    result = kept.ask(LINE, aside=[STOP])
    found = answer_document(result, LINE, units="us", aside=[STOP])
    plot, mark = found["plot"], result["marks"].iloc[0]
    states = {reading["id"]: reading["state"] for reading in plot["readings"]}
    table = result["readings_on_route"].set_index("reading_id")
    assert set(states) == set(table.index)
    assert states.pop(STOP) == "aside"
    assert all((states[name] == "used") == bool(table.at[name, "used"]) for name in states)
    left_out = next(reading for reading in plot["readings"] if reading["id"] == STOP)
    assert left_out["x"] == pytest.approx(7.16, abs=0.3)
    assert 'this "what if" alone' in left_out["says"][-1]
    assert "Taped 7.16 m" in left_out["says"]
    x, density = np.array(plot["odds"]["x"]), np.array(plot["odds"]["density"])
    total = (np.diff(x) * (density[1:] + density[:-1]) / 2).sum() / plot["unit"]["metres"]
    leak = result["lines"]["leak_probability"].iloc[0]
    assert total == pytest.approx(leak, rel=0.05)
    here = plot["here"]["says"][round(plot["marks"][0]["x"] / plot["here"]["step"])]
    share = round(100 * mark["probability_within_1ft"])
    assert any(f"{near} % that there is a leak within one foot" in here[1]
               for near in range(share - 4, share + 5))  # fmt: skip
    assert np.interp(
        mark["chainage_m"], plot["route"]["x"], np.transpose(plot["route"]["at"])[0]
    ) == pytest.approx(result.to_crs(result.job.output_crs)["marks"].geometry.x.iloc[0], abs=0.1)


def test_a_mark_keeps_its_hold_and_its_caution(kept):
    found = answer_document(kept.ask(LINE), LINE, units="us")
    assert found["card"]["held"].startswith("HOLD: ")
    assert found["card"]["next"].endswith("Nothing here clears the dig.")
    assert found["caution"] == "Nothing here clears the dig."
    assert found["holds"]


def test_the_command_prints_the_answer_once(few):
    job = few[0]
    done = leakgeo_command("ask", job, LINE, "--aside", STOP, "--units", "us")
    assert done.returncode == 0, done.stderr
    assert f"What if: without {STOP}" in done.stdout
    assert "HOLD: " in done.stdout
    assert "How sure" in done.stdout
    assert done.stdout.rstrip().endswith("Nothing here clears the dig.")
    document = json.loads(leakgeo_command("ask", job, LINE, "--json").stdout)
    assert document["answer"]["line"] == LINE
    assert leakgeo_command("ask", job).returncode == 2
    assert leakgeo_command("ask", job, LINE, "--aside", "x").returncode == 2
