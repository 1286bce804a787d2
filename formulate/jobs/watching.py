"""A long search watched from outside: what it tells of itself, and Ctrl-C as the word to stop."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator
from types import FrameType

from formulate.optimise.watch import Progress, Watch, watched

__all__ = ["Watch", "watched", "watching"]


@contextlib.contextmanager
def watching(show: Callable[[Progress], None] | None) -> Iterator[Watch]:
    """Let what is searched for inside be seen; Ctrl-C ends it with the best found, a second one at once.

    Parameters
    ----------
    show : callable or None
        Given the progress as it comes. With None nobody watches, and Ctrl-C ends the command as any other.
    """
    watch = Watch(show)
    if show is None or threading.current_thread() is not threading.main_thread():
        yield watch
        return

    def stop(_number: int, _frame: FrameType | None) -> None:
        watch.stop()
        signal.signal(signal.SIGINT, before)

    before = signal.signal(signal.SIGINT, stop)
    try:
        with watched(watch):
            yield watch
    finally:
        signal.signal(signal.SIGINT, before)
