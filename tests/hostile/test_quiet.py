"""Nothing is reached for over a network, and nothing but our own sentences is heard."""

import os
import re
import subprocess
import sys

import pyogrio

from leakgeo.simulate.town import simulate_town
from tests.battery import test_places, test_rows
from tests.battery.check import write
from tests.battery.good import layers

# A warning of a library names its class, file or line.
RAW = re.compile(r"Warning|Traceback|site-packages|ERROR \d|PROJ:|CPLE_|GDAL|\.py:\d")

NO_NETWORK = """
import socket, sys
def refuse(*a, **k):
    sys.stderr.write("REACHED FOR A NETWORK\\n")
    raise OSError("no network")
for name in ("connect", "connect_ex", "sendto"):
    setattr(socket.socket, name, refuse)
for name in ("getaddrinfo", "gethostbyname", "create_connection"):
    setattr(socket, name, refuse)
sys.argv = ["leakgeo", *sys.argv[1:]]
from leakgeo.cli import main
main()
"""


def call(*args, code="from leakgeo.cli import main; main()", **env):
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, args)], capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONWARNINGS": "default", **env}, timeout=300,
    )  # fmt: skip


def spoilt(folder, *spoils):
    tables = layers()
    for spoil in spoils:
        tables = spoil(tables)
    return write(tables, folder / "job.gpkg")


DIRTY = (
    test_places.CASES["utilities in the next zone"], test_places.CASES["Z in some vertices"],
    test_rows.CASES["texts among numbers"], test_rows.CASES["a text of 10 MB"],
    test_rows.CASES["times without zone"],
)  # fmt: skip


def test_only_our_sentences_are_heard(tmp_path):
    path = spoilt(tmp_path, *(case.spoil for case in DIRTY))
    done = call("run", path, "--out", tmp_path / "out")
    assert done.returncode in (0, 1), done.stderr
    said = f"{done.stdout}\n{done.stderr}"
    assert not RAW.search(said), RAW.search(said)
    told = (tmp_path / "out" / "faults.csv").read_text("utf-8-sig")
    assert all(word in told for case in DIRTY[1:] for word in case.words)


def test_the_demo_reaches_for_no_network(tmp_path):
    """Sockets are taken away; GDAL and PROJ would be heard: their own network is closed off."""
    # A town of few lines.
    few = "import leakgeo.simulate.town as t; t.write_town.__defaults__ = (20, 2)\n"
    few += "t.write_town.__kwdefaults__ = {'evidence': False}\n"
    code = few + NO_NETWORK
    closed = dict.fromkeys(("http_proxy", "https_proxy", "ALL_PROXY"), "http://127.0.0.1:9")
    done = call("demo", tmp_path / "out", "--seed", 1, code=code, **closed)
    assert done.returncode in (0, 1), done.stderr
    assert "REACHED" not in done.stderr
    assert (tmp_path / "out" / "report.pdf").exists()
    there = pyogrio.read_dataframe(tmp_path / "out" / "town.gpkg", layer="routes")
    drawn = simulate_town(1, 2, evidence=False)["routes"]
    assert there["pressure_kpa"].tolist() == drawn["pressure_kpa"].tolist()


def test_proj_has_no_network():
    code = "import leakgeo.job.crs, pyproj.network as n; print(n.is_network_enabled())"
    assert call(code=code, PROJ_NETWORK="ON").stdout.strip() == "False"
