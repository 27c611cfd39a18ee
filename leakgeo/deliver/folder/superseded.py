"""Keep the result that another one replaces, and mark it: nothing may be dug by it."""

from __future__ import annotations

import hashlib
import json
import re
from typing import TYPE_CHECKING

from leakgeo.job.results.which_run import NOTICE, superseded_fault
from leakgeo.provenance import utc_time
from leakgeo.staging import RECORD
from leakgeo.wording import wording

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from leakgeo.result import Result
    from leakgeo.staging import Staging

#: Notice for people, in the folder of a superseded result.
FOR_PEOPLE = "superseded.txt"
# The record of an earlier run may be anything, and names a folder.
_RUN = re.compile(r"[0-9a-z-]{1,40}")


def keep(result: Result, staging: Staging, names: Iterable[str], language: str) -> str:
    """Keep the files of the result in a folder, for the commit of the one that replaces it.

    Parameters
    ----------
    result : Result
        The one that replaces it.
    staging : Staging
        Of that one. Files of the earlier result are linked or copied into its folder for
        superseded ones, with a notice for people and one for programs.
    names : iterable of str
        Files that the earlier result has or may have, relative to the folder.
    language : str
        Of the notice, which is in English as well.

    Returns
    -------
    str
        Name for ``Staging.commit``: when it was written, and its run id. ``""`` if there is no
        earlier result.

    Raises
    ------
    OutputError
        If it can't be kept.
    """
    there = [name for name in names if (staging.out / name).is_file()]
    if not there:
        return ""
    kept = staging.superseding(there)
    notice = {**_of_earlier(staging.out), "superseded_by": result.run_id,
              "superseded_at": result.written, "files": _digests(kept)}  # fmt: skip
    (kept / NOTICE).write_text(f"{json.dumps(notice, indent=2)}\n", encoding="utf-8")
    (kept / FOR_PEOPLE).write_text(_for_people(notice, language), encoding="utf-8")
    return _name(notice)


def _of_earlier(folder: Path) -> dict[str, object]:
    """Return run and time of the result in a folder; empty texts if its record can't be read."""
    try:
        record = json.loads((folder / RECORD).read_text("utf-8"))
    except (OSError, ValueError):
        record = {}
    record = record if isinstance(record, dict) else {}
    return {key: str(record.get(key) or "") for key in ("run_id", "written")}


def _digests(kept: Path) -> dict[str, str]:
    """Return the SHA-256 of each file, by which it is known to be as it was."""
    found = {}
    for path in sorted(kept.rglob("*")):
        if path.is_file():
            with path.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
            found[path.relative_to(kept).as_posix()] = digest
    return found


def _for_people(notice: dict[str, object], language: str) -> str:
    reason = superseded_fault(notice).reason
    says = [wording("si", name) for name in dict.fromkeys((language, "en"))]
    return "\n\n".join(f"{say.text(reason)} {say.part(reason, 'remedy')}" for say in says) + "\n"


def _name(notice: dict[str, object]) -> str:
    when, run = utc_time(str(notice["written"])), str(notice["run_id"])
    date = "undated" if when is None else f"{when:%Y%m%dT%H%M%SZ}"
    return f"{date}-{run if _RUN.fullmatch(run) else 'unknown'}"
