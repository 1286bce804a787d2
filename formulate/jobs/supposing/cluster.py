"""Cases worked out on other machines: the one door to the library that talks to a scheduler.

The files travel with the work, so a worker needs this program in the same version and nothing else.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from formulate.errors import FormulateError
from formulate.jobs.supposing.cases import Case
from formulate.jobs.supposing.world import World, WorldFiles, open_world, outcome_of

if TYPE_CHECKING:
    from distributed import Client

__all__ = ["on_cluster"]

SECONDS_TO_ANSWER = 10


def on_cluster(
    files: WorldFiles, cases: Sequence[Case], address: str
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Work out cases on the workers of a scheduler; yield them as they finish.

    Parameters
    ----------
    files : WorldFiles
    cases : sequence of Case
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

        _refuse_strangers(client, files.version)
        here = client.scatter(files, broadcast=True)
        numbers = range(len(cases))
        futures = client.map(_worked, [here] * len(cases), numbers, list(cases), pure=False)
        try:
            for _, found in as_completed(futures, with_results=True):
                yield found
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


def _refuse_strangers(client: Client, version: str) -> None:
    """Refuse a cluster without workers, or with workers of another version."""
    try:
        versions: dict[str, str] = client.run(_version)
    except (ImportError, AttributeError):
        versions = {"": "none"}
    if not versions:
        raise FormulateError("--scheduler: it has no workers. Start some, then run the command again.")
    others = {found for found in versions.values() if found != version}
    if others:
        raise FormulateError(
            f"--scheduler: its workers have formulate {', '.join(sorted(others))}, this is {version}. "
            "Install the same everywhere."
        )


def _version() -> str:
    from formulate import __version__

    return __version__


def _worked(files: WorldFiles, number: int, case: Case) -> tuple[int, dict[str, Any]]:
    return number, outcome_of(_world(files), case)


@lru_cache(maxsize=1)
def _world(files: WorldFiles) -> World:
    """Lay the files out in a folder of this worker's own, once per process."""
    from distributed import get_worker

    folder = Path(tempfile.mkdtemp(prefix="formulate-", dir=get_worker().local_directory))
    for name, raw in files.files:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(raw)
    return open_world(folder / files.subject, files.day, is_menu=files.is_menu)
