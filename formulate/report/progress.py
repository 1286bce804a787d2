"""How far a long piece of work is, on standard error."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from formulate.report.numbers import money, percent
from formulate.report.plain import shortened
from formulate.report.terminal import make_console

if TYPE_CHECKING:
    from rich.status import Status

    from formulate.optimise.watch import Progress

__all__ = ["progress_bar", "progress_text", "shown_progress"]

QUIET_S = 1.0
"""What is done sooner shows nothing on the way."""
ROOM_FOR_SPINNER = 3


def progress_text(progress: Progress, seconds: float) -> str:
    """Say in a line what is being done, how far it is, and the best so far.

    Parameters
    ----------
    progress : Progress
    seconds : float
        Since the command began.
    """
    parts = [progress.doing or "working"]
    if progress.done is not None and progress.count:
        parts[0] += f" {progress.done} of {progress.count}"
    if progress.best is not None:
        best = f"best so far {money(progress.best)}"
        if progress.gap is not None and progress.gap < 1.0:
            best += f", at most {percent(progress.gap)} % above any other"
        parts.append(best)
    parts.append(f"{seconds:.0f} s")
    return " · ".join([*parts, "Ctrl-C takes the best so far"])


@contextlib.contextmanager
def shown_progress() -> Iterator[Callable[[Progress], None] | None]:
    """Show on standard error what a search tells of itself, where that is a terminal; else yield None."""
    console = make_console(stderr=True)
    if not console.is_terminal:
        yield None
        return
    began, status = time.monotonic(), list["Status"]()

    def show(progress: Progress) -> None:
        seconds = time.monotonic() - began
        if seconds < QUIET_S:
            return
        text = shortened(progress_text(progress, seconds), console.width - ROOM_FOR_SPINNER)
        if status:
            status[0].update(text)
        else:
            status.append(console.status(text))
            status[0].start()

    try:
        yield show
    finally:
        if status:
            status[0].stop()


@contextlib.contextmanager
def progress_bar(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """Show on standard error how far something is, where that is a terminal; else yield None.

    Parameters
    ----------
    what : str
        What is counted.
    """
    console = make_console(stderr=True)
    if not console.is_terminal:
        yield None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn(compact=True))
    with Bar(*columns, console=console, transient=True) as bar:
        task = bar.add_task(what, total=None)

        def shown(done: int, count: int) -> None:
            bar.update(task, completed=done, total=count)

        yield shown
