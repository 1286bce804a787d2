"""Cases worked out on the cores of this machine: the one door to the library that starts the processes."""

from __future__ import annotations

import signal
import warnings
from collections.abc import Generator, Iterator, Sequence
from functools import lru_cache
from typing import Any, cast

from formulate.errors import FormulateError
from formulate.jobs.supposing.cases import Case
from formulate.jobs.supposing.world import World, WorldFiles, open_world, outcome_of

__all__ = ["cores", "on_cores"]


def cores() -> int:
    """Return how many cores this process may use."""
    import joblib

    return int(joblib.cpu_count())


def on_cores(files: WorldFiles, cases: Sequence[Case], workers: int) -> Generator[tuple[int, dict[str, Any]]]:
    """Work out cases in several processes, each on one core; yield them as they finish.

    Parameters
    ----------
    files : WorldFiles
    cases : sequence of Case
    workers : int

    Yields
    ------
    int, dict
        Position of the case, and its outcome.

    Raises
    ------
    FormulateError
        If a file changed since it was read.
    """
    import joblib

    with warnings.catch_warnings():
        # Said when a person stops it: that the cases in work are given up is what is meant.
        warnings.filterwarnings("ignore", message=".*tasks which were still being processed")
        with joblib.parallel_config(backend="loky", inner_max_num_threads=1, initializer=_leave_stopping):
            pool = joblib.Parallel(n_jobs=workers, return_as="generator_unordered", batch_size=1)
            found = pool(joblib.delayed(_worked)(files, number, case) for number, case in enumerate(cases))
        yield from cast("Iterator[tuple[int, dict[str, Any]]]", found)


def _leave_stopping() -> None:
    """Let the process that started this one stop it: an interrupt here would print where it was."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _worked(files: WorldFiles, number: int, case: Case) -> tuple[int, dict[str, Any]]:
    return number, outcome_of(_world(files), case)


@lru_cache(maxsize=1)
def _world(files: WorldFiles) -> World:
    """Read the files once per process, and see that they are those the run began with."""
    for name, raw in files.files:
        if (files.root / name).read_bytes() != raw:
            raise FormulateError(f"{name} changed while the cases were worked out. Run the command again.")
    return open_world(files.root / files.subject, files.day, is_menu=files.is_menu)
