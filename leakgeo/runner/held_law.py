"""The law of noise that updates hold, and when it is learned again."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from leakgeo.errors import parameter_label
from leakgeo.faults import Fault
from leakgeo.find.ground.step import LEAST_READINGS
from leakgeo.job.digest import LayerDigest
from leakgeo.job.model import without_fault
from leakgeo.provenance import NEUTRAL_PARAMETERS, content_of, json_sha256
from leakgeo.reason import Reason
from leakgeo.runner.line_digests import as_if_selected
from leakgeo.runner.task import PlannedStep

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from leakgeo.job.model import Job
    from leakgeo.runner.kept_lines import KeptLines

#: File in the output folder with the law.
FILE = "ground.toml"
# Share of new lines, of those that teach, that asks for another law.
_NEW = 0.2
# What is noted of a law that the user gave: the next update learns one, unless it is given again.
_GIVEN = {"given": True}


@dataclass(frozen=True)
class HeldLaw:
    """What an update needs to know of the law in its folder.

    Parameters
    ----------
    path : pathlib.Path or None
        File with the law to use; None if it is learned from the job.
    faults : tuple of Fault
        That it is held, or why it is learned again.
    """

    path: Path | None
    faults: tuple[Fault, ...] = ()

    @classmethod
    def of(
        cls, job: Job, out: Path, noted: Mapping[str, Any], settings: Mapping[str, object], *,
        relearn: bool,
    ) -> HeldLaw:  # fmt: skip
        """Return whether the law in a folder is held for a job.

        Parameters
        ----------
        job : Job
        out : pathlib.Path
        noted : mapping
            What `note` returned when the law was learned; empty if nothing is known.
        settings : mapping
            Of the step that would learn it now.
        relearn : bool
            Whether the user asks for another law.
        """
        path = out / FILE
        if not noted:
            return cls(None)
        why = "asked" if relearn else _why(job, path, noted)
        if why:
            return cls(None, _noted(Reason("law_learned_again", why=why)))
        before, now = noted.get("settings", {}), _of_settings(settings)
        unlike = [
            parameter_label(n) for n, digest in now.items() if before.get(n, digest) != digest
        ]
        other = Reason("law_held_with_other", parameters=unlike) if unlike else None
        return cls(path, _noted(Reason("law_held", other, lines=len(noted["lines"]))))


def with_held_law(
    steps: Sequence[PlannedStep], job: Job, kept: KeptLines, *, relearn: bool
) -> list[PlannedStep]:
    """Return the steps of an update with the law that it holds, unless the user gave one."""
    step = next(one for one in steps if one.step.name == "ground")
    if step.settings["ground"] is not None:
        kept.law = dict(_GIVEN)
        return list(steps)
    held = HeldLaw.of(job, kept.folder.parent, kept.law, step.settings, relearn=relearn)
    kept.faults += held.faults
    if held.path is None:
        kept.law = {}
        return list(steps)
    with_law = PlannedStep(step.step, {**step.settings, "ground": held.path})
    return [with_law if one is step else one for one in steps]


def note(job: Job, out: Path, settings: Mapping[str, object]) -> dict[str, object]:
    """Return what is to be known of a law that was just learned from a job and written.

    Parameters
    ----------
    job : Job
    out : pathlib.Path
        Folder with the law.
    settings : mapping
        Of the step that learned it.
    """
    return {
        "file": _sha256(out / FILE), "lines": sorted(_teaching(job)), "digs": _digs(job),
        "settings": _of_settings(settings),
    }  # fmt: skip


def _of_settings(settings: Mapping[str, object]) -> dict[str, str]:
    """Return the digest of each setting that a law which is learned depends on."""
    own = {n: v for n, v in settings.items() if n not in {*NEUTRAL_PARAMETERS, "ground"}}
    return {name: json_sha256(content_of(value)) for name, value in own.items()}


def _why(job: Job, path: Path, noted: Mapping[str, Any]) -> str:
    """Return why the law is learned again; ``""`` if it is not."""
    if noted == _GIVEN:
        return "given"
    if _sha256(path) != noted.get("file") or not isinstance(noted.get("lines"), list):
        return "file"
    if _digs(job) != noted.get("digs"):
        return "digs"
    before, now = set(noted["lines"]), _teaching(job)
    return "lines" if len(now - before) > _NEW * len(before) else ""


def _noted(reason: Reason) -> tuple[Fault]:
    return (Fault("job", reason, effect="noted"),)


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""


def _teaching(job: Job) -> set[str]:
    """Return the lines that have enough readings to teach."""
    good = job.readings[without_fault(job.readings["reason"])]
    count = good["line_id"].value_counts()
    return {str(name) for name in count.index[count >= LEAST_READINGS]}


def _digs(job: Job) -> str:
    digs = job.dig_outcomes
    if digs is None:
        return ""
    # A law of some lines is that of all: it is learned from all of them.
    return LayerDigest.of(as_if_selected(pd.DataFrame(digs.drop(columns="geometry"))))
