"""Who watches a long search: what it is doing, how far it is, the best so far, and whether to stop.

Between a command and the loop that takes its time stand a dozen functions that have nothing to say about it.
So a watch is not handed down: it is set for the time of one call (`watched`) and asked where the time goes.
Without one nothing is told and nothing stops early. A watch changes when a search ends, never what it finds.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator
from contextvars import ContextVar
from dataclasses import dataclass, field

__all__ = ["Progress", "Watch", "current_watch", "is_stopped", "tell", "watched"]


@dataclass(frozen=True)
class Progress:
    """How far a piece of work is.

    Attributes
    ----------
    doing : str
        In a cook's words: `looking for a plan`.
    done, count : int or None
        Steps done, and steps in all, where they are known.
    best : float or None
        What the best found costs.
    gap : float or None
        How much dearer than any other it may be at most, relative.
    """

    doing: str = ""
    done: int | None = None
    count: int | None = None
    best: float | None = None
    gap: float | None = None


@dataclass
class Watch:
    """What a person sees of a search, and their word to stop it.

    Parameters
    ----------
    show : callable, optional
        Given the progress whenever there is news, from whatever thread has it.
    """

    show: Callable[[Progress], None] | None = None
    progress: Progress = field(default_factory=Progress)
    _stop: threading.Event = field(default_factory=threading.Event)

    @property
    def stopped(self) -> bool:
        """Whether the person has seen enough."""
        return self._stop.is_set()

    def stop(self) -> None:
        """Let whatever is searching end with the best that it has."""
        self._stop.set()


_current: ContextVar[Watch | None] = ContextVar("watch", default=None)


@contextlib.contextmanager
def watched(watch: Watch) -> Iterator[Watch]:
    """Let a watch see everything that is searched for inside."""
    token = _current.set(watch)
    try:
        yield watch
    finally:
        _current.reset(token)


def current_watch() -> Watch | None:
    """Return who is watching, if anybody."""
    return _current.get()


def is_stopped() -> bool:
    """Whether somebody watches and has seen enough."""
    watch = _current.get()
    return watch is not None and watch.stopped


def tell(
    doing: str | None = None,
    *,
    done: int | None = None,
    count: int | None = None,
    best: float | None = None,
    gap: float | None = None,
    to: Watch | None = None,
) -> None:
    """Tell whoever watches; what is left out stays as it was, and new work begins without a best.

    Parameters
    ----------
    doing : str, optional
        A new piece of work.
    done, count : int, optional
    best, gap : float, optional
    to : Watch, optional
        From a thread that was not started by the watched call.
    """
    watch = to or _current.get()
    if watch is None:
        return
    known = watch.progress if doing is None or doing == watch.progress.doing else Progress(doing)
    watch.progress = Progress(
        known.doing,
        known.done if done is None else done,
        known.count if count is None else count,
        known.best if best is None else best,
        known.gap if gap is None else gap,
    )
    if watch.show is not None:
        watch.show(watch.progress)
