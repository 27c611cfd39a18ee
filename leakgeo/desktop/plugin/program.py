"""The leakgeo program: where it is, what it is asked in, and what steps it has."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

#: Version of leakgeo's JSON that this plugin reads.
FORMAT = 1
WINDOWS = sys.platform == "win32"
_NAME = "leakgeo.exe" if WINDOWS else "leakgeo"
_BIN = "Scripts" if WINDOWS else "bin"
# Environments where people put it, and where pipx does.
_USUAL = (".venvs/leakgeo", "leakgeo/.venv", "leakgeo-env", ".local/pipx/venvs/leakgeo",
          ".local/share/pipx/venvs/leakgeo", "pipx/venvs/leakgeo", ".venv")  # fmt: skip
# The host's own: they would lead leakgeo's Python, GDAL and PROJ to files of other versions.
_OF_HOST = (
    "PYTHONHOME", "PYTHONPATH", "PYTHONEXECUTABLE", "PYTHONSTARTUP", "PYTHONINSPECT",
    "__PYVENV_LAUNCHER__", "GDAL_DATA", "GDAL_DRIVER_PATH", "GDAL_PYTHON_DRIVER_PATH", "PROJ_LIB",
    "PROJ_DATA", "GEOTIFF_CSV", "OGR_DRIVER_PATH", "LD_LIBRARY_PATH", "LD_PRELOAD",
    "DYLD_LIBRARY_PATH", "DYLD_FRAMEWORK_PATH", "DYLD_INSERT_LIBRARIES", "QT_PLUGIN_PATH",
)  # fmt: skip


class ProgramError(Exception):
    """leakgeo is not there, or this plugin can't talk to it; the message says what to do."""


def install_words():
    """Say how leakgeo is installed, in commands."""
    place = "%USERPROFILE%\\leakgeo-env" if WINDOWS else "~/.venvs/leakgeo"
    python, pip = ("py -3", "\\Scripts\\pip") if WINDOWS else ("python3", "/bin/pip")
    return (
        f"Install it, in a terminal, from its folder or its wheel: {python} -m venv {place} && "
        f"{place}{pip} install PATH_OF_LEAKGEO (Python 3.11 or newer). Then run the algorithm "
        "'Set up leakgeo', or give the path of the program under Settings > Options > Processing "
        "> Providers > leakgeo."
    )


def find(setting=""):
    """Give the path of leakgeo: that of the setting, or of the first place that has it.

    Raises
    ------
    ProgramError
        If the setting names no program, or none is found.
    """
    told = str(setting or "").strip()
    if told:
        path = Path(told).expanduser()
        found = path / _BIN / _NAME if path.is_dir() else path
        if found.is_file():
            return found
        raise ProgramError(f"There is no program at {told}. {install_words()}")
    for place in _places():
        if place.is_file() and os.access(place, os.X_OK):
            return place
    raise ProgramError(f"leakgeo was not found on this computer. {install_words()}")


def _places():
    named = os.environ.get("LEAKGEO_EXECUTABLE", "")
    if named:
        yield Path(named).expanduser()
    on_path = shutil.which("leakgeo")
    if on_path:
        yield Path(on_path)
    home = Path.home()
    yield from (home / place / _BIN / _NAME for place in _USUAL)
    yield home / ".local" / "bin" / _NAME
    yield Path(_built().get("executable") or home / "nowhere")


def _built():
    """Give what the builder of the plugin noted: the leakgeo that it was built by."""
    try:
        return json.loads(Path(__file__).with_name("built.json").read_text("utf-8"))
    except (OSError, ValueError):
        return {}


def environment(scratch=None):
    """Give the environment that leakgeo runs in: this one, without what is the host's own."""
    clean = {k: v for k, v in os.environ.items() if k.upper() not in _OF_HOST}
    clean.update(PYTHONUTF8="1", PYTHONIOENCODING="utf-8", NO_COLOR="1")
    if scratch:
        clean.update(TMPDIR=str(scratch), TEMP=str(scratch), TMP=str(scratch))
    return clean


def no_window():
    """Give the settings by which a child opens no console window."""
    return {"creationflags": subprocess.CREATE_NO_WINDOW} if WINDOWS else {}


def steps(executable, cache):
    """Give what ``leakgeo steps --json`` says, from the cache where nothing has changed.

    Raises
    ------
    ProgramError
        If it can't be run, or speaks another version of JSON.
    """
    key = _key(executable)
    try:
        kept = json.loads(Path(cache).read_text("utf-8"))
        if kept["key"] == key and kept["said"]["format"] == FORMAT:
            return kept["said"]
    except (OSError, ValueError, KeyError, TypeError):
        pass  # no cache, or a damaged one
    said = _ask(executable)
    keep(cache, key, said)
    return said


def keep(cache, key, said):
    """Write the cache; without one it only takes longer."""
    beside = Path(f"{cache}.{os.getpid()}")
    try:
        beside.parent.mkdir(parents=True, exist_ok=True)
        beside.write_text(json.dumps({"key": key, "said": said}), "utf-8")
        beside.replace(cache)
    except OSError:
        pass


def _key(executable):
    """Name a program by its path and age, and by the age of the packages beside it."""
    own = Path(executable).resolve()
    beside = [*own.parent.parent.glob("lib/python*/site-packages"),
              *own.parent.parent.glob("Lib/site-packages")]  # fmt: skip
    return [[str(p), p.stat().st_mtime_ns] for p in (own, *sorted(beside))] + [FORMAT]


def _ask(executable):
    try:
        done = subprocess.run(
            [str(executable), "steps", "--json"], env=environment(), timeout=120, check=False,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **no_window(),
        )  # fmt: skip
    except (OSError, subprocess.SubprocessError) as error:
        raise ProgramError(f"{executable} can't be run ({error}). {install_words()}") from error
    try:
        said = json.loads(done.stdout.decode("utf-8"))
        known = said["format"], said["leakgeo"], said["steps"]
    except (ValueError, KeyError, TypeError) as error:
        last = done.stderr.decode("utf-8", "replace").strip().splitlines()[-1:]
        raise ProgramError(
            f"{executable} doesn't list its steps: it is no leakgeo, or one that is too old or "
            f"broken{': ' + last[0] if last else ''}. {install_words()}"
        ) from error
    if known[0] != FORMAT:
        newer = "newer" if known[0] > FORMAT else "older"
        raise ProgramError(
            f"leakgeo {known[1]} at {executable} speaks format {known[0]} of its JSON, which is "
            f"{newer} than format {FORMAT} that this plugin reads. Build the plugin of that "
            "leakgeo with: leakgeo plugin leakgeo.zip, and install it from the ZIP."
        )
    return said
