"""`suppose`: prices up, an ingredient gone, demand up: each case worked out and held against what is now."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Generator, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from formulate.describe.suppose_record import Supposed
from formulate.errors import FormulateError
from formulate.files.models import InMemory, Source, path_of
from formulate.files.scenarios import load_scenarios
from formulate.planning.case_comparison import supposed_record
from formulate.planning.case_outcomes import outcome_of, subject_as_it_is
from formulate.planning.cases import Case, cases_of, refuse_strange
from formulate.planning.results_file import StoredResults, day_begun, key_of, open_results
from formulate.planning.subjects import Subject, SubjectFiles, subject_path

__all__ = ["StoppedError", "suppose"]

TRIED_HERE_S, WORTH_PROCESSES_S = 2.0, 6.0
"""Cases are begun in this process; when so much of them is still to come, others are worth their start."""

Progress = Callable[[int, int], None]


class StoppedError(FormulateError):
    """The person stopped it.

    Parameters
    ----------
    done, count : int
        Cases worked out, and cases in all.
    results : Path or None
        Where those are that are done.
    """

    def __init__(self, done: int, count: int, results: Path | None) -> None:
        self.done, self.count, self.results = done, count, results
        super().__init__(done, count, results)

    def __str__(self) -> str:
        if self.results is None:
            return f"Stopped after {self.done} of {self.count} cases. With --results they would be kept."
        return (
            f"Stopped: {self.done} of {self.count} cases are in {self.results.as_posix()}. Run the same "
            "command again to go on from there."
        )


def suppose(
    file: Source,
    *,
    results: Path | None = None,
    workers: int | None = None,
    scheduler: str | None = None,
    tls: tuple[Path, Path, Path] | None = None,
    progress: Progress | None = None,
    today: date | None = None,
) -> Supposed:
    """Work out every case of a scenarios file.

    Parameters
    ----------
    results : Path, optional
        Where results are appended as they finish, and taken from if they are there already.
    workers : int, optional
        Processes; all cores if not given, where that is worth their start.
    scheduler : str, optional
        Address of a scheduler whose workers do it instead; it is trusted as this program is.
    tls : tuple of Path, optional
        Certificate of the authority, own certificate and its key, for a ``tls://`` address.
    progress : callable, optional
        Told how many cases are done, and how many there are.
    today : date, optional
        What the age of the stock is counted to; the day it is if not given, or the day the results were
        begun.

    Raises
    ------
    SpecError
        If a file is wrong.
    FormulateError
        If the results file, or the scheduler, cannot be used.
    StoppedError
        If the person stopped it.
    """
    path = path_of(file)
    scenarios = load_scenarios(path)
    if results is not None and results.exists() and path.is_file() and results.samefile(path):
        raise FormulateError(f"{results.as_posix()}: is what is read here. Name another file for results.")
    day = day_begun(results, today or date.today())
    is_menu = scenarios.menu is not None
    if isinstance(scenarios.subject_path, InMemory) and (results is not None or scheduler is not None):
        raise FormulateError(
            "What was built in Python is worked out here and now: results are kept, and other machines work, "
            "for files only. Save it, and give its path."
        )
    subject, files, as_it_is = subject_as_it_is(subject_path(scenarios), day, is_menu=is_menu)
    refuse_strange(scenarios, subject)
    cases = cases_of(scenarios)
    by_key = {key_of(case): case for case in cases}
    with open_results(results, files) as stored:
        todo = {key: case for key, case in by_key.items() if key not in stored.results}
        work = _worker(len(todo), workers, scheduler, tls)
        outcomes_found = work(subject, files, list(todo.values())) if todo else iter(())
        try:
            _store(stored, list(todo), outcomes_found, len(by_key), progress)
        except KeyboardInterrupt:
            done = sum(key in stored.results for key in by_key)
            raise StoppedError(done, len(by_key), results) from None
        outcomes = [stored.results[key_of(case)] for case in cases]
    return supposed_record(scenarios, subject, day, as_it_is, cases, outcomes)


Outcomes = Iterator[tuple[int, dict[str, Any]]]
Work = Callable[[Subject, SubjectFiles, Sequence[Case]], Outcomes]


def _worker(
    count: int, workers: int | None, scheduler: str | None, tls: tuple[Path, Path, Path] | None
) -> Work:
    """Choose where the cases are worked out; the results are the same."""
    if scheduler is not None:
        from formulate.jobs.side_by_side import Certificates, on_cluster

        known_by = None if tls is None else Certificates(*tls)
        return lambda _, files, cases: on_cluster(files, cases, scheduler, known_by)
    if workers is None:
        return _where_it_pays
    if workers == 1 or count < 2:
        return _in_this_process
    from formulate.jobs.side_by_side import on_cores

    processes = min(workers, count)
    return lambda _, files, cases: on_cores(files, cases, processes)


def _in_this_process(subject: Subject, files: SubjectFiles, cases: Sequence[Case]) -> Outcomes:
    del files
    for number, case in enumerate(cases):
        yield number, outcome_of(subject, case)


def _where_it_pays(subject: Subject, files: SubjectFiles, cases: Sequence[Case]) -> Outcomes:
    """Begin here, and go on in as many processes as there are cores where much is left to do."""
    started = time.perf_counter()
    begun = 0
    for number, outcome in _in_this_process(subject, files, cases):
        yield number, outcome
        begun = number + 1
        spent = time.perf_counter() - started
        if spent > TRIED_HERE_S and spent / begun * (len(cases) - begun) > WORTH_PROCESSES_S:
            break
    rest = cases[begun:]
    if not rest:
        return
    from formulate.jobs.side_by_side import cores, on_cores

    with contextlib.closing(on_cores(files, rest, min(cores(), len(rest)))) as elsewhere:
        for number, outcome in elsewhere:
            yield begun + number, outcome


def _store(
    stored: StoredResults, keys: Sequence[str], outcomes: Outcomes, count: int, progress: Progress | None
) -> None:
    """Keep what is found as it comes, and end the work when this ends."""
    done = count - len(keys)
    try:
        for number, outcome in outcomes:
            stored.add(keys[number], outcome)
            done += 1
            if progress is not None:
                progress(done, count)
    finally:
        if isinstance(outcomes, Generator):
            outcomes.close()
