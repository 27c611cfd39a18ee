"""Progress on stderr: bars on a terminal, plain lines in a log, JSON lines for a program."""

from __future__ import annotations

import json
import time
from typing import TYPE_CHECKING

import click

from leakgeo.progress import CHUNKS

if TYPE_CHECKING:
    import rich.progress
    from rich.console import Console

    from leakgeo.progress import Progress

# Shortest time between two reports.
_SECONDS_APART = {"json": 0.25, "lines": 10.0}


class Clock:
    """Estimates the time left in a step from the duration of the parts already done.

    Where parts run one after the other, the first is left out: it may include work that is done
    only once, such as compiling a loop.
    """

    def __init__(self) -> None:
        self.step, self.begin, self.first, self.warm = "", 0.0, 0, False

    def seconds_left(self, progress: Progress) -> float | None:
        """Return the time left in seconds; None while it is not known."""
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


class ProgressLines:
    """Prints a plain line when a step begins, and its progress at intervals."""

    kind = "lines"

    def __init__(self) -> None:
        self.clock, self.step, self.last = Clock(), "", 0.0

    def __call__(self, progress: Progress) -> None:
        """Print progress, unless the last report is recent."""
        left, now = self.clock.seconds_left(progress), time.monotonic()
        new = progress.step != self.step
        ends = self.kind == "json" and progress.done == progress.total
        if new or ends or now - self.last >= _SECONDS_APART[self.kind]:
            self.step, self.last = progress.step, now
            self.show(progress, left)

    def show(self, progress: Progress, left: float | None) -> None:
        """Print progress and the time left."""
        more = "" if left is None else f", about {_duration(left)} left"
        begins = progress.total and not progress.done
        click.echo(f"{progress.step} ..." if begins else f"{progress}{more}", err=True)

    def close(self) -> None:
        """Do nothing: a plain line is complete."""


class ProgressEvents(ProgressLines):
    """Prints progress as JSON lines."""

    kind = "json"

    def show(self, progress: Progress, left: float | None) -> None:
        """Print progress and the time left as a JSON object."""
        counted = progress.total > 0
        event = {
            "event": "progress", "step": progress.step,
            "done": progress.done if counted else None,
            "total": progress.total if counted else None,
            "seconds_left": None if left is None else round(left, 1),
        }  # fmt: skip
        click.echo(json.dumps(event), err=True)


class ProgressBars:
    """One bar for each step on a terminal, with the time taken and the time left."""

    def __init__(self, console: Console) -> None:
        self.console, self.clock, self.step = console, Clock(), ""
        self.bars: rich.progress.Progress | None = None

    def __call__(self, progress: Progress) -> None:
        """Update the bar of the current step."""
        if self.bars is None:
            self.step, self.bars = "", _bars(self.console)
            self.bars.start()
        if progress.step != self.step:
            self._end()
            self.step = progress.step
            self.bars.add_task(progress.step, total=None, parts="", left="")
        left = self.clock.seconds_left(progress)
        self.bars.update(
            self.bars.task_ids[-1], completed=progress.done, total=progress.total or None,
            parts=f"{progress.done}/{progress.total}" if progress.total else "",
            left=f"about {_duration(left)} left" if left else "",
        )  # fmt: skip

    def _end(self) -> None:
        """Fill the bar of the finished step."""
        if self.bars is not None and self.step:
            self.bars.update(self.bars.task_ids[-1], completed=1, total=1, left="")

    def close(self) -> None:
        """Stop the bars, so that other text can be printed."""
        if self.bars is not None:
            self._end()
            self.bars.stop()
        self.bars = None


def _bars(console: Console) -> rich.progress.Progress:
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    bar = BarColumn(30, complete_style="cyan", finished_style="cyan", pulse_style="cyan")
    return Progress(
        TextColumn("{task.description:<10}"), bar, TimeElapsedColumn(),
        TextColumn("{task.fields[parts]}"), TextColumn("{task.fields[left]}"),
        console=console, redirect_stdout=False, redirect_stderr=False,
    )  # fmt: skip


def _duration(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else (
        f"{minutes} min" if seconds >= 90 else f"{round(seconds)} s")  # fmt: skip
