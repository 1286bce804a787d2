"""Cases worked out side by side, on the cores of this machine or on others: the one door to both libraries.

The files travel with the work, so a worker elsewhere needs this program in the same version and nothing else.
"""

from __future__ import annotations

import signal
import tempfile
import warnings
from collections.abc import Generator, Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from formulate.errors import FormulateError
from formulate.planning.case_outcomes import outcome_of
from formulate.planning.cases import Case
from formulate.planning.subjects import Subject, SubjectFiles

if TYPE_CHECKING:
    from distributed import Client

__all__ = ["cores", "on_cluster", "on_cores"]

SECONDS_TO_ANSWER = 10


def cores() -> int:
    """Return how many cores this process may use."""
    import joblib

    return int(joblib.cpu_count())


def on_cores(
    files: SubjectFiles, cases: Sequence[Case], workers: int
) -> Generator[tuple[int, dict[str, Any]]]:
    """Work out cases in several processes, each on one core; yield them as they finish.

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
            outcomes = pool(
                joblib.delayed(_outcome_here)(files, number, case) for number, case in enumerate(cases)
            )
        yield from cast("Iterator[tuple[int, dict[str, Any]]]", outcomes)


def _leave_stopping() -> None:
    """Let the process that started this one stop it: an interrupt here would print where it was."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _outcome_here(files: SubjectFiles, number: int, case: Case) -> tuple[int, dict[str, Any]]:
    return number, outcome_of(_read_here(files), case)


@lru_cache(maxsize=1)
def _read_here(files: SubjectFiles) -> Subject:
    """Read the files once per process, and see that they are those the run began with."""
    for name, raw in files.files:
        if (files.root / name).read_bytes() != raw:
            raise FormulateError(f"{name} changed while the cases were worked out. Run the command again.")
    return files.read()


def on_cluster(
    files: SubjectFiles, cases: Sequence[Case], address: str
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Work out cases on the workers of a scheduler; yield them as they finish.

    Parameters
    ----------
    address : str
        Of the scheduler, such as ``tcp://10.0.0.5:8786``.

    Yields
    ------
    int, dict
        Position of the case, and its outcome.

    Raises
    ------
    FormulateError
        If the extra is not installed, nobody answers there, or a worker has another version.
    """
    client = _client(address)
    with client:
        from distributed import as_completed

        _refuse_other_versions(client, files.version)
        sent = client.scatter(files, broadcast=True)
        numbers = range(len(cases))
        futures = client.map(_outcome_there, [sent] * len(cases), numbers, list(cases), pure=False)
        try:
            for _, outcome in as_completed(futures, with_results=True):
                yield outcome
        finally:
            client.cancel(futures)


def _client(address: str) -> Client:
    try:
        from distributed import Client
    except ImportError:
        raise FormulateError(
            "--scheduler: needs what is not installed. "
            "Type pip install '.[cluster]' in the folder of the program."
        ) from None
    try:
        return Client(address, timeout=SECONDS_TO_ANSWER)
    except (OSError, ValueError) as error:
        raise FormulateError(
            f"--scheduler: nobody answers at {address}. Check the address; one looks like tcp://10.0.0.5:8786."
        ) from error


def _refuse_other_versions(client: Client, version: str) -> None:
    """Refuse a cluster without workers, or with workers of another version."""
    try:
        versions: dict[str, str] = client.run(_version)
    except (ImportError, AttributeError):
        versions = {"": "none"}
    if not versions:
        raise FormulateError("--scheduler: it has no workers. Start some, then run the command again.")
    others = {there for there in versions.values() if there != version}
    if others:
        raise FormulateError(
            f"--scheduler: its workers have formulate {', '.join(sorted(others))}, this is {version}. "
            "Install the same everywhere."
        )


def _version() -> str:
    from formulate import __version__

    return __version__


def _outcome_there(files: SubjectFiles, number: int, case: Case) -> tuple[int, dict[str, Any]]:
    return number, outcome_of(_laid_out_there(files), case)


@lru_cache(maxsize=1)
def _laid_out_there(files: SubjectFiles) -> Subject:
    """Lay the files out in a folder of this worker's own, once per process."""
    from distributed import get_worker

    folder = Path(tempfile.mkdtemp(prefix="formulate-", dir=get_worker().local_directory))
    for name, raw in files.files:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(raw)
    return files.read(folder)
