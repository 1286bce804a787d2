"""How far a long piece of work is, on standard error."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator

from formulate.report.terminal import make_console

__all__ = ["progress_bar"]


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
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn(compact=True))
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(what, total=None)

        def shown(done: int, count: int) -> None:
            bar.update(task, completed=done, total=count)

        yield shown
