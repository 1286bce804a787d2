"""Cases worked out side by side, on the cores of this machine or on others: the one door to both libraries.

The files travel with the work, so a worker elsewhere needs this program in the same version and nothing else.
"""

from __future__ import annotations

import json
import os
import signal
import tempfile
import threading
import time
import warnings
from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from formulate.errors import FormulateError
from formulate.planning.case_outcomes import outcome_of
from formulate.planning.cases import Case
from formulate.planning.results_file import dumped
from formulate.planning.subjects import Subject, SubjectFiles

if TYPE_CHECKING:
    from distributed import Client

__all__ = ["Certificates", "cores", "on_cluster", "on_cores"]

SECONDS_TO_ANSWER = 10
PARENT_SEEN_TO_S = 0.5


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
        with joblib.parallel_config(
            backend="loky", inner_max_num_threads=1, initializer=partial(_work_for, os.getpid())
        ):
            pool = joblib.Parallel(n_jobs=workers, return_as="generator_unordered", batch_size=1)
            outcomes = pool(
                joblib.delayed(_outcome_here)(files, number, case) for number, case in enumerate(cases)
            )
        yield from cast("Iterator[tuple[int, dict[str, Any]]]", outcomes)


def _work_for(parent: int) -> None:
    """Let the process that started this one stop it: an interrupt here would print where it was.

    And end with it, whatever it dies of: a worker that nobody waits for any more works for nobody.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(PARENT_SEEN_TO_S)
    os._exit(1)


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
    files: SubjectFiles, cases: Sequence[Case], address: str, certificates: Certificates | None = None
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Work out cases on the workers of a scheduler; yield them as they finish.

    Who runs the scheduler is trusted as who runs this program: what travels between them is run, on both
    sides. Use one of your own, and ``tls://`` on any network that others use.

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
    client = _client(address, certificates)
    with client:
        from distributed import as_completed

        _refuse_other_versions(client, files.version)
        sent = client.scatter(files, broadcast=True)
        numbers = range(len(cases))
        futures = client.map(_outcome_there, [sent] * len(cases), numbers, list(cases), pure=False)
        try:
            for _, outcome in as_completed(futures, with_results=True):
                yield _plain(outcome, len(cases))
        finally:
            client.cancel(futures)


def _plain(outcome: Any, count: int) -> tuple[int, dict[str, Any]]:
    """Hold what came from elsewhere to what an outcome is: a number of a case, and plain data.

    Raises
    ------
    FormulateError
    """
    try:
        number, found = outcome
        if type(number) is int and 0 <= number < count and type(found) is dict:
            return number, dict(json.loads(dumped(found)))
    except (TypeError, ValueError, RecursionError):
        pass
    raise FormulateError(
        "--scheduler: a worker answered with something else than a result. Look at it there."
    )


@dataclass(frozen=True, slots=True)
class Certificates:
    """Files that a scheduler at a ``tls://`` address and this program know each other by."""

    authority: Path
    certificate: Path
    key: Path


def _security(address: str, certificates: Certificates | None) -> Any:
    if certificates is None:
        if address.startswith("tls://"):
            raise FormulateError(
                "--scheduler: a tls:// address needs certificates. Add --tls-ca, --tls-cert and --tls-key."
            )
        return None
    if not address.startswith("tls://"):
        raise FormulateError(f"--tls-ca: certificates are for a tls:// address, got {address}.")
    for path in (certificates.authority, certificates.certificate, certificates.key):
        if not path.is_file():
            raise FormulateError(f"{path.as_posix()}: no certificate file there. Check the path.")
    from distributed.security import Security

    return Security(
        tls_ca_file=str(certificates.authority),
        tls_client_cert=str(certificates.certificate),
        tls_client_key=str(certificates.key),
        require_encryption=True,
    )


def _client(address: str, certificates: Certificates | None) -> Client:
    try:
        from distributed import Client
    except ImportError:
        raise FormulateError(
            "--scheduler: needs what is not installed. "
            "Type pip install '.[cluster]' in the folder of the program."
        ) from None
    security = _security(address, certificates)
    try:
        return Client(address, timeout=SECONDS_TO_ANSWER, security=security)
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
