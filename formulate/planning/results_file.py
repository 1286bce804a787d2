"""The file that results are appended to as they finish, so that nothing is lost and nothing is done twice.

The first line says what the results are results of; each other line is one result under a key made of
what the case changes. A line counts once its end is on the disk: one that was being written when the
power went is dropped. While a run has the file open no other can.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import IO, Any

from formulate.errors import FormulateError
from formulate.planning.cases import Case, content_of
from formulate.planning.subjects import SubjectFiles

__all__ = ["FORMAT", "StoredResults", "day_begun", "dumped", "inputs_of", "key_of", "open_results"]

FORMAT = 3
WHAT = "formulate suppose results"
BEGINNING = b'{"day":"'
"""How a first line begins, for one that was torn."""


def dumped(content: object) -> str:
    """Write content as one line that is the same for the same content."""
    return json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def key_of(case: Case) -> str:
    """Name a case by what it changes."""
    return hashlib.sha256(dumped(content_of(case)).encode()).hexdigest()[:32]


def inputs_of(files: SubjectFiles) -> dict[str, str]:
    """Name each input file with the hash of what stands in it."""
    return {name: hashlib.sha256(raw).hexdigest() for name, raw in files.files}


@dataclass
class StoredResults:
    """Results by key, and the open file they go to; without a file they are only remembered."""

    results: dict[str, dict[str, Any]] = field(default_factory=dict)
    stream: IO[bytes] | None = None

    def add(self, key: str, outcome: dict[str, Any]) -> None:
        """Keep a result; when this returns it is on the disk.

        Raises
        ------
        FormulateError
            If it cannot be written.
        """
        row = {"key": key, "outcome": outcome}
        line = f"{dumped({**row, 'sum': _sum_of(row)})}\n".encode()
        # As it would come back from the file, so that a run that went on tells the same, byte by byte.
        # Counted before it is written: when a person stops it in between, closing the file writes it.
        self.results[key] = json.loads(line)["outcome"]
        self._append(line)

    def _append(self, line: bytes) -> None:
        if self.stream is None:
            return
        try:
            while line:
                line = line[self.stream.write(line) :]
            os.fsync(self.stream.fileno())
        except OSError as error:
            raise FormulateError(
                f"{Path(self.stream.name).as_posix()}: cannot be written ({error.strerror}). What stands in "
                "it counts: make room and run the same command again."
            ) from error


def _sum_of(row: Mapping[str, Any]) -> str:
    """Sum up a result, so that one that changed on the disk is known by it."""
    return hashlib.sha256(dumped({"key": row["key"], "outcome": row["outcome"]}).encode()).hexdigest()[:32]


def day_begun(path: Path | None, today: date) -> date:
    """Return the day that results were begun on, which those to come are counted to as well.

    Parameters
    ----------
    path : Path or None
        Results file; it may not be there yet.

    Raises
    ------
    FormulateError
        If it cannot be read, or holds something else.
    """
    if path is None or not path.is_file():
        return today
    try:
        head = _head(path, path.read_bytes().split(b"\n", 1))
        return today if head is None else date.fromisoformat(head["day"])
    except OSError as error:
        raise FormulateError(f"{path.as_posix()}: cannot be read ({error.strerror}).") from error
    except (KeyError, TypeError, ValueError):
        raise _something_else(path) from None


@contextlib.contextmanager
def open_results(path: Path | None, files: SubjectFiles) -> Iterator[StoredResults]:
    """Open a results file, take what is in it, and keep others out.

    Parameters
    ----------
    files : SubjectFiles
        What the results are results of.

    Raises
    ------
    FormulateError
        If it holds something else, results of other files, or is open in another run.
    """
    if path is None:
        yield StoredResults()
        return
    try:
        if path.exists() and not path.is_file():
            raise FormulateError(f"{path.as_posix()}: is no file that results can be kept in. Name another.")
        # Without a buffer of our own: what a full disk did not take is not tried again when it is closed.
        stream = open(path, "a+b", buffering=0)  # noqa: SIM115  # closed below, after the lock is given back
    except OSError as error:
        raise FormulateError(f"{path.as_posix()}: cannot be written ({error.strerror}).") from error
    try:
        _lock(stream, path)
        stored = StoredResults(_taken(stream, path, files), stream)
        if stream.tell() == 0:
            stored._append(f"{dumped(_header(files))}\n".encode())
        yield stored
    finally:
        stream.close()


def _header(files: SubjectFiles) -> dict[str, Any]:
    return {
        "holds": WHAT,
        "format": FORMAT,
        "version": files.version,
        "subject": files.subject,
        "day": files.day.isoformat(),
        "inputs": inputs_of(files),
    }


def _head(path: Path, lines: list[bytes]) -> dict[str, Any] | None:
    """Read the first line; None where there is none that is whole."""
    if len(lines) < 2:
        if not BEGINNING.startswith(lines[0][: len(BEGINNING)]):
            raise _something_else(path)
        return None
    try:
        head = json.loads(lines[0])
    except ValueError:
        head = None
    if not isinstance(head, dict) or head.get("holds") != WHAT:
        raise _something_else(path)
    return head


def _something_else(path: Path) -> FormulateError:
    return FormulateError(f"{path.as_posix()}: holds something else than results. Name another file.")


def _taken(stream: IO[bytes], path: Path, files: SubjectFiles) -> dict[str, dict[str, Any]]:
    """Read the results that are whole, and cut off what was being written when a run ended."""
    stream.seek(0)
    raw = stream.read()
    lines = raw.split(b"\n")
    head = _head(path, lines)
    if head is None:
        stream.truncate(0)
        stream.seek(0)
        return {}
    _refuse_others(path, head, files)
    results: dict[str, dict[str, Any]] = {}
    good = read = len(lines[0]) + 1
    for line in lines[1:-1]:
        row = _whole_row(line)
        read += len(line) + 1
        if row is not None:  # else torn when the power went, or changed on the disk: worked out again
            results[row["key"]] = row["outcome"]
            good = read
    if good < len(raw):
        stream.truncate(good)
    stream.seek(0, os.SEEK_END)
    return results


def _whole_row(line: bytes) -> dict[str, Any] | None:
    """Read a result; None where it is not, to the last bit, what was written."""
    try:
        row = json.loads(line)
        if isinstance(row, dict) and isinstance(row["outcome"], dict) and row["sum"] == _sum_of(row):
            return row
    except (ValueError, KeyError, TypeError, RecursionError):
        pass
    return None


def _refuse_others(path: Path, head: Mapping[str, Any], files: SubjectFiles) -> None:
    """Refuse results of other files, or of another version of this program."""
    now = _header(files)
    if head.get("inputs") != now["inputs"] or head.get("subject") != now["subject"]:
        before, after = dict(head.get("inputs") or {}), now["inputs"]
        other = sorted(name for name in {*before, *after} if before.get(name) != after.get(name))
        names = ", ".join(other) or str(head.get("subject"))
        raise FormulateError(
            f"{path.as_posix()}: holds results of other files: {names} was different then. Name another file "
            "for what is there now, or put the files back to go on."
        )
    for what in ("format", "version"):
        if head.get(what) != now[what]:
            raise FormulateError(
                f"{path.as_posix()}: was begun by version {head.get('version')}, this is {now['version']}. "
                "Name another file."
            )


def _lock(stream: IO[bytes], path: Path) -> None:
    """Lock the file for this process; the system unlocks it whatever the process dies of."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(stream.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        raise FormulateError(
            f"{path.as_posix()}: another run is writing to it. Wait for it, or name another file."
        ) from None
