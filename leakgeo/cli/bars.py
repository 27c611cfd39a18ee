"""Progress on stderr: a bar on a terminal, plain lines in a log, JSON lines for a script."""

from __future__ import annotations

import json
import sys
import time
from typing import TYPE_CHECKING, Any

import click

from leakgeo.progress import CHUNKS

if TYPE_CHECKING:
    from leakgeo.progress import Progress

# A script or a log needs no more news than that.
_SECONDS_APART = {"json": 0.25, "lines": 10.0}


class Clock:
    """How long a step takes still, from how long its parts took so far.

    The first part does not count where parts are done one after the other: it may hold what is
    done once, such as compiling a loop.
    """

    def __init__(self) -> None:
        self.step, self.begin, self.first, self.warm = "", 0.0, 0, False

    def seconds_left(self, progress: Progress) -> float | None:
        """Give the time left; None where it can't be told yet."""
        now = time.monotonic()
        if progress.step != self.step or not progress.total or progress.done < self.first:
            self.step, self.begin, self.first = progress.step, now, progress.done
            self.warm = progress.step == CHUNKS
        done = progress.done - self.first
        if done and not self.warm:
            self.begin, self.first, self.warm = now, progress.done, True
            return 0.0 if progress.done == progress.total else None
        if not done:
            return None
        return (now - self.begin) / done * (progress.total - progress.done)


class Teller:
    """Plain lines: each step as it begins, and now and then how far it is."""

    kind = "lines"

    def __init__(self) -> None:
        self.clock, self.step, self.last = Clock(), "", 0.0

    def __call__(self, progress: Progress) -> None:
        """Tell progress, unless something was told just now."""
        left, now = self.clock.seconds_left(progress), time.monotonic()
        new = progress.step != self.step
        ends = self.kind == "json" and progress.done == progress.total
        if new or ends or now - self.last >= _SECONDS_APART[self.kind]:
            self.step, self.last = progress.step, now
            self.show(progress, left)

    def show(self, progress: Progress, left: float | None) -> None:
        """Show it."""
        more = "" if left is None else f", about {_in_words(left)} left"
        begins = progress.total and not progress.done
        click.echo(f"{progress.step} ..." if begins else f"{progress}{more}", err=True)

    def close(self) -> None:
        """Leave the line, so that other words can be written."""


class Events(Teller):
    """JSON lines."""

    kind = "json"

    def show(self, progress: Progress, left: float | None) -> None:
        """Show it."""
        counted = progress.total > 0
        event = {
            "event": "progress", "step": progress.step,
            "done": progress.done if counted else None,
            "total": progress.total if counted else None,
            "seconds_left": None if left is None else round(left, 1),
        }  # fmt: skip
        click.echo(json.dumps(event), err=True)


class Bar:
    """A bar for each step that counts its parts; the others by name."""

    def __init__(self) -> None:
        self.step = ""
        self.bar: Any = None

    def __call__(self, progress: Progress) -> None:
        """Draw how far it is."""
        if progress.step != self.step:
            self.close()
            self.step = progress.step
            click.echo(f"{progress.step:<10} ...", err=True, nl=False)
        if not progress.total:
            return
        if self.bar is None:
            self.bar = click.progressbar(
                length=progress.total, label=f"\r{progress.step:<10}", show_pos=True,
                file=sys.stderr, width=30,
            )  # fmt: skip
        self.bar.update(progress.done - self.bar.pos)

    def close(self) -> None:
        """Leave the line, so that other words can be written."""
        if self.bar is not None:
            self.bar.render_finish()
        elif self.step:
            click.echo(err=True)
        self.bar, self.step = None, ""


def _in_words(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else (
        f"{minutes} min" if seconds >= 90 else f"{round(seconds)} s")  # fmt: skip
