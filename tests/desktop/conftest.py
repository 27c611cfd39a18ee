"""QGIS without a window, with the plugin installed in a temporary profile."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import threading
import zipfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from leakgeo.desktop import write_plugin

HERE = Path(__file__).parent
# Debian's wrapper passes qgis_process an unknown option.
PROCESS = shutil.which("qgis_process.bin") or shutil.which("qgis_process")
PYTHON = "/usr/bin/python3"
PROGRAM = Path(sys.executable).with_name("leakgeo")


@cache
def has_host():
    if PROCESS is None:
        return False
    command = [PYTHON, "-c", "import qgis.core"]
    return subprocess.run(command, capture_output=True, check=False).returncode == 0


# As in host.py, which can't be imported here.
ANSWERED = "answered"


@dataclass
class Host:
    """A QGIS profile with the plugin, and the process of QGIS that runs most scenes."""

    root: Path
    shared: subprocess.Popen[str] | None = None

    @property
    def profile(self) -> Path:
        """Return the folder of the profile."""
        return self.root / "profiles" / "default"

    def environment(self, **more: str) -> dict[str, str]:
        """Return the environment variables for QGIS."""
        runtime = self.root / "runtime"
        runtime.mkdir(mode=0o700, exist_ok=True)
        # QGIS uses the Python of the system, not that of the tests.
        variables = {
            "PATH": os.defpath, "XDG_RUNTIME_DIR": str(runtime), "QT_QPA_PLATFORM": "offscreen",
            "QGIS_CUSTOM_CONFIG_PATH": str(self.root), "LEAKGEO_EXECUTABLE": str(PROGRAM),
        }  # fmt: skip
        return {**os.environ, **variables, **more}

    def scene(self, name: str, *arguments: object, **more: str):
        """Run a scene of host.py, and return its answer.

        With other environment variables it has a process of its own.
        """
        if more:
            started = self._started(**more)
            try:
                return self._played(started, name, arguments)
            finally:
                ended(started)
        if self.shared is None or self.shared.poll() is not None:
            self.close()
            self.shared = self._started()
        return self._played(self.shared, name, arguments)

    def _started(self, **more: str) -> subprocess.Popen[str]:
        with (self.root / "host.log").open("w") as log:
            return subprocess.Popen(
                [PYTHON, str(HERE / "host.py"), str(self.profile)], env=self.environment(**more),
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=log, text=True,
            )  # fmt: skip

    def _played(self, process: subprocess.Popen[str], name: str, arguments: tuple[object, ...]):
        answer = self.root / "answer.json"
        answer.unlink(missing_ok=True)
        process.stdin.write(json.dumps([name, arguments, str(answer)], default=str) + "\n")
        process.stdin.flush()
        late = threading.Timer(180.0, process.kill)
        late.start()
        try:
            any(line.strip() == ANSWERED for line in process.stdout)
        finally:
            late.cancel()
        assert answer.exists(), (self.root / "host.log").read_text("utf-8")[-4000:]
        return json.loads(answer.read_text("utf-8"))

    def close(self) -> None:
        """End the process that runs scenes."""
        if self.shared is not None:
            ended(self.shared)
            self.shared = None

    def process(self, *arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
        """Run qgis_process."""
        assert PROCESS
        return subprocess.run([PROCESS, *arguments], env=self.environment(**more), text=True,
                              capture_output=True, timeout=180, check=False)  # fmt: skip


def ended(process: subprocess.Popen[str]) -> None:
    """Close the input of a process, which is its end, and wait for it."""
    process.stdin.close()
    for _ in process.stdout:
        pass
    process.wait(60.0)
    process.stdout.close()


def unpack_plugin(profile: Path) -> None:
    """Put the plugin into a profile of QGIS as "Install from ZIP" does."""
    plugins = profile / "python" / "plugins"
    plugins.mkdir(parents=True)
    with zipfile.ZipFile(write_plugin(profile / "leakgeo.zip")) as packed:
        packed.extractall(plugins)


def install(root: Path) -> Host:
    """Install the plugin, and enable it."""
    host = Host(root)
    unpack_plugin(host.profile)
    assert host.process("plugins", "enable", "leakgeo_desktop").returncode == 0
    return host


@pytest.fixture(scope="session")
def host(tmp_path_factory):
    """Give QGIS with the plugin; without QGIS skip, or fail if `CI` is set."""
    if not has_host():
        if os.environ.get("CI"):
            pytest.fail("QGIS is not installed: apt-get install qgis python3-qgis")
        pytest.skip("no QGIS")
    installed = install(tmp_path_factory.mktemp("host"))
    yield installed
    installed.close()


def layers_of(job: Path, *names: str) -> dict[str, str]:
    """Return the sources of layers of a job, as QGIS opens them."""
    return {name: f"{job}|layername={name}" for name in names}
