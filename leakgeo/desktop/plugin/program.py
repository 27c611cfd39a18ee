"""The program leakgeo: its path, its environment, and its catalog of steps."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

from .language import tr

#: Version of leakgeo's JSON that this plugin reads.
FORMAT = 1
WINDOWS = sys.platform == "win32"
_NAME = "leakgeo.exe" if WINDOWS else "leakgeo"
_BIN = "Scripts" if WINDOWS else "bin"
# Usual places of environments in the home folder, those of pipx included.
_COMMON_ENVIRONMENTS = (
    ".venvs/leakgeo", "leakgeo/.venv", "leakgeo-env", ".local/pipx/venvs/leakgeo",
    ".local/share/pipx/venvs/leakgeo", "pipx/venvs/leakgeo", ".venv",
)  # fmt: skip
# Variables of QGIS that would point leakgeo's Python, GDAL and PROJ to files of other versions.
_HOST_VARIABLES = (
    "PYTHONHOME", "PYTHONPATH", "PYTHONEXECUTABLE", "PYTHONSTARTUP", "PYTHONINSPECT",
    "__PYVENV_LAUNCHER__", "GDAL_DATA", "GDAL_DRIVER_PATH", "GDAL_PYTHON_DRIVER_PATH", "PROJ_LIB",
    "PROJ_DATA", "GEOTIFF_CSV", "OGR_DRIVER_PATH", "LD_LIBRARY_PATH", "LD_PRELOAD",
    "DYLD_LIBRARY_PATH", "DYLD_FRAMEWORK_PATH", "DYLD_INSERT_LIBRARIES", "QT_PLUGIN_PATH",
)  # fmt: skip


class ProgramError(Exception):
    """leakgeo is not found or can't be used by this plugin."""


def install_instructions():
    """Return how to install leakgeo, with the commands for this system."""
    place = "%USERPROFILE%\\leakgeo-env" if WINDOWS else "~/.venvs/leakgeo"
    python, pip = ("py -3", "\\Scripts\\pip") if WINDOWS else ("python3", "/bin/pip")
    commands = f"{python} -m venv {place} && {place}{pip} install PATH_OF_LEAKGEO"
    return tr(
        "Install it in a terminal, from its source folder or wheel: {commands} (Python 3.11 or "
        "newer). Then run the algorithm 'Set up leakgeo', or give the path of the program under "
        "Settings > Options > Processing > Providers > leakgeo."
    ).format(commands=commands)


def find(setting=""):
    """Return the path of leakgeo: that of the setting, or the first one found in the usual places.

    Raises
    ------
    ProgramError
        If the setting names no program, or none is found.
    """
    given = str(setting or "").strip()
    if given:
        path = Path(given).expanduser()
        found = path / _BIN / _NAME if path.is_dir() else path
        if found.is_file():
            return found
        missing = tr("There is no program at {path}.").format(path=given)
        raise ProgramError(f"{missing} {install_instructions()}")
    for path in _candidates():
        if path.is_file() and os.access(path, os.X_OK):
            return path
    missing = tr("leakgeo was not found on this computer.")
    raise ProgramError(f"{missing} {install_instructions()}")


def _candidates():
    named = os.environ.get("LEAKGEO_EXECUTABLE", "")
    if named:
        yield Path(named).expanduser()
    on_path = shutil.which("leakgeo")
    if on_path:
        yield Path(on_path)
    home = Path.home()
    yield from (home / place / _BIN / _NAME for place in _COMMON_ENVIRONMENTS)
    yield home / ".local" / "bin" / _NAME
    yield Path(_build_record().get("executable") or home / "nowhere")


def _build_record():
    """Return version and path of the leakgeo that built the plugin; empty if not recorded."""
    try:
        return json.loads(Path(__file__).with_name("built.json").read_text("utf-8"))
    except (OSError, ValueError):
        return {}


def environment(scratch=None):
    """Return the environment variables for leakgeo: the current ones without those of QGIS."""
    clean = {k: v for k, v in os.environ.items() if k.upper() not in _HOST_VARIABLES}
    clean.update(PYTHONUTF8="1", PYTHONIOENCODING="utf-8", NO_COLOR="1")
    if scratch:
        clean.update(TMPDIR=str(scratch), TEMP=str(scratch), TMP=str(scratch))
    return clean


def no_window():
    """Return the arguments of `subprocess` that keep a child from opening a console window."""
    return {"creationflags": subprocess.CREATE_NO_WINDOW} if WINDOWS else {}


def read_catalog(executable, cache):
    """Return the document of ``leakgeo steps --json``, from the cache if leakgeo is unchanged.

    Raises
    ------
    ProgramError
        If leakgeo can't be run, or writes another version of the document.
    """
    key = _cache_key(executable)
    try:
        cached = json.loads(Path(cache).read_text("utf-8"))
        if cached["key"] == key and cached["catalog"]["format"] == FORMAT:
            return cached["catalog"]
    except (OSError, ValueError, KeyError, TypeError):
        pass  # no cache, or a damaged one
    catalog = _request_catalog(executable)
    _write_cache(cache, key, catalog)
    return catalog


def _write_cache(cache, key, catalog):
    """Write the cache; a failure is ignored, as the cache only saves time."""
    temporary = Path(f"{cache}.{os.getpid()}")
    try:
        temporary.parent.mkdir(parents=True, exist_ok=True)
        temporary.write_text(json.dumps({"key": key, "catalog": catalog}), "utf-8")
        temporary.replace(cache)
    except OSError:
        pass


def _cache_key(executable):
    """Return path and modification time of the program and of the packages installed with it."""
    path = Path(executable).resolve()
    prefix = path.parent.parent
    packages = [*prefix.glob("lib/python*/site-packages"), *prefix.glob("Lib/site-packages")]
    return [[str(p), p.stat().st_mtime_ns] for p in (path, *sorted(packages))] + [FORMAT]


def _request_catalog(executable):
    try:
        done = subprocess.run(
            [str(executable), "steps", "--json"], env=environment(), timeout=120, check=False,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **no_window(),
        )  # fmt: skip
    except (OSError, subprocess.SubprocessError) as error:
        fails = tr("{program} can't be run ({error}).").format(program=executable, error=error)
        raise ProgramError(f"{fails} {install_instructions()}") from error
    try:
        catalog = json.loads(done.stdout.decode("utf-8"))
        known = catalog["format"], catalog["leakgeo"], catalog["steps"]
    except (ValueError, KeyError, TypeError) as error:
        last = done.stderr.decode("utf-8", "replace").strip().splitlines()[-1:]
        no_list = tr(
            "{program} doesn't list its steps: it is not leakgeo, or is too old or broken."
        ).format(program=executable)
        raise ProgramError(" ".join((no_list, *last, install_instructions()))) from error
    if known[0] != FORMAT:
        raise ProgramError(tr(
            "leakgeo {version} at {program} writes format {format} of its JSON, and this plugin "
            "reads format {known}. Build the plugin of that version with: leakgeo plugin "
            "leakgeo.zip, and install it from the ZIP."
        ).format(version=known[1], program=executable, format=known[0], known=FORMAT))  # fmt: skip
    return catalog
