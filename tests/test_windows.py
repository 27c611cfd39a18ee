"""Windows, as far as another system can try it: what it lacks, its paths, its lock of a folder."""

from __future__ import annotations

import ast
import errno
import os
import re
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from leakgeo import staging
from leakgeo.errors import FolderInUseError, JobError
from leakgeo.job.sources import is_database, open_source
from leakgeo.job.sources.address import display_address, is_local
from leakgeo.staging import exclusive

PACKAGE = Path(staging.__file__).parent
# What the Python of Windows lacks.
MODULES = {
    "fcntl",
    "grp",
    "posix",
    "pty",
    "pwd",
    "readline",
    "resource",
    "syslog",
    "termios",
    "tty",
}
NAMES = {
    "os": {
        "chown", "fchmod", "fchown", "fork", "forkpty", "geteuid", "getgid", "getloadavg",
        "getpgid", "getuid",
        "killpg", "lockf", "mkfifo", "mknod", "nice", "O_DIRECTORY", "O_NOFOLLOW", "posix_spawn",
        "pread", "pwrite", "sched_getaffinity", "setpgid", "setsid", "setuid", "statvfs", "sysconf",
        "uname", "wait", "waitpid", "WEXITSTATUS", "WNOHANG",
    },
    "signal": {
        "alarm", "pause", "pthread_kill", "pthread_sigmask", "setitimer", "SIG_BLOCK",
        "SIG_SETMASK", "SIGALRM", "SIGCHLD", "SIGHUP", "SIGKILL", "SIGPIPE", "SIGUSR1", "sigwait",
    },
}  # fmt: skip
#: Where they are used, on POSIX alone.
GUARDED = {
    ("desktop/plugin/child.py", "os.killpg"),
    ("desktop/plugin/child.py", "signal.SIGKILL"),
    ("processes.py", "signal.pthread_sigmask"),
    ("processes.py", "signal.SIG_BLOCK"),
    ("processes.py", "signal.SIG_SETMASK"),
}


def missing_there(source):
    """Give what a source uses and Windows lacks."""
    # Most files have none of these words, and need no parsing.
    words = set(re.findall(r"\w+", source))
    if words.isdisjoint(MODULES.union(*NAMES.values())):
        return
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Import(names=names):
                yield from ({one.name for one in names} & MODULES)
            case ast.ImportFrom(module=module):
                yield from ({module} & MODULES)
            case ast.Attribute(value=ast.Name(id=owner), attr=name):
                if name in NAMES.get(owner, ()):
                    yield f"{owner}.{name}"


def test_what_windows_lacks_is_used_behind_a_guard_alone():
    found = {
        (path.relative_to(PACKAGE).as_posix(), name)
        for path in PACKAGE.rglob("*.py")
        for name in missing_there(path.read_text("utf-8"))
    }
    assert found == GUARDED
    # All of them are there where the tests run: a name that is wrong would find nothing.
    if os.name == "posix":
        assert all(hasattr(sys.modules[m], n) for m, names in NAMES.items() for n in names)


@pytest.mark.parametrize(
    "path",
    [r"C:\jobs\town.gpkg", "C:/jobs/town.gpkg", r"\\server\share\town.gpkg", r"jobs\a b.gpkg"],
)
def test_paths_of_windows_are_paths_and_no_addresses(path):
    assert is_local(path)
    assert not is_database(path)
    assert display_address(path) == path
    with pytest.raises(JobError, match="There is no such file"), open_source(path):
        pass


@pytest.fixture(name="windows")
def _windows(monkeypatch):
    """Lock as Windows does, by a module that has its errors."""
    fcntl = pytest.importorskip("fcntl")

    def locking(handle, mode, count):
        assert (mode, count) == (2, 1)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise PermissionError(errno.EACCES, "Permission denied") from error

    monkeypatch.setattr(staging, "_WINDOWS", True)
    monkeypatch.setattr(os, "O_TEMPORARY", 0, raising=False)
    monkeypatch.setitem(sys.modules, "msvcrt", SimpleNamespace(LK_NBLCK=2, locking=locking))


@pytest.mark.usefixtures("windows")
def test_a_folder_is_locked_on_windows_too(tmp_path):
    out = tmp_path / "out"
    with exclusive(out):
        with pytest.raises(FolderInUseError, match="another run is writing there"), exclusive(out):
            pass
        dead = out / f"{staging.PREFIX}dead"
        dead.mkdir()
    with exclusive(out):
        assert not dead.exists()
        # Windows takes the file away with its last handle.
        assert [path.name for path in out.iterdir()] == [".leakgeo-lock"]


@pytest.mark.usefixtures("windows")
def test_a_folder_of_a_system_that_can_not_lock_is_used_without(tmp_path, monkeypatch):
    def no_lock(*_):
        raise OSError(errno.EINVAL, "Invalid argument")

    monkeypatch.setattr(sys.modules["msvcrt"], "locking", no_lock)
    with exclusive(tmp_path), exclusive(tmp_path):
        pass
