"""The one place that touches the disk: bounded reads of plain files, and writes that are whole or not there.

What stands at a path may be a pipe, a device without end, a link to itself or a name no disk holds: none of
them hangs a command or ends it in a trace. Several outputs of one command are all written or none.
"""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Callable, Mapping
from pathlib import Path

from formulate.errors import NotWrittenError

__all__ = [
    "Content",
    "NotPlainError",
    "is_there",
    "read_plain",
    "resolved",
    "write_all",
]

Content = str | bytes | Callable[[Path], None]
"""What goes into a file: text (as UTF-8), bytes, or what writes it to a path."""


class NotPlainError(OSError):
    """What stands at a path is no file with an end: a pipe, a socket or a device."""


def is_there(path: Path) -> bool:
    """Tell whether a path leads to something; a path no disk can hold leads to nothing."""
    try:
        return path.exists()
    except PermissionError:
        return True  # reading it says what is in the way
    except (OSError, ValueError):
        return False


def resolved(path: Path) -> Path:
    """Follow the links of a path as far as they lead; a link to itself is left as it is."""
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError):
        return path.absolute()


def read_plain(path: Path, most_bytes: int) -> bytes:
    """Read a plain file, at most so much of it and one byte more.

    Raises
    ------
    OSError
        If it cannot be read; `NotPlainError` if it is a pipe or a device, which may never end.
    """
    # A pipe that nobody writes to would keep an ordinary open waiting for ever.
    try:
        number = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except ValueError:
        raise FileNotFoundError(2, "no file has such a name") from None
    with open(number, "rb") as stream:
        kind = os.fstat(number).st_mode
        if stat.S_ISDIR(kind):
            raise IsADirectoryError(21, "this is a folder")
        if not stat.S_ISREG(kind):
            raise NotPlainError(22, "this is a pipe or a device")
        return stream.read(most_bytes + 1)


def write_all(contents: Mapping[Path, Content], *, replace: bool = True) -> None:
    """Write files, each of them whole, and all of them or none.

    Each is written under a name of its own beside its place and brought safely to the disk first; only when
    all are there do they take their names. A link stays a link, and a file that is replaced keeps its mode.

    Parameters
    ----------
    contents : mapping of Path to Content
    replace : bool
        Whether files that are there may be replaced; if not, one that somebody else wrote meanwhile stays.

    Raises
    ------
    NotWrittenError
        If one of them cannot be written; then none was.
    """
    path = Path()
    parts: dict[Path, Path] = {}
    taken: list[tuple[Path, Path | None]] = []
    try:
        for path, content in contents.items():
            parts[path] = _beside(path, "part")
            _write_part(parts[path], content, resolved(path))
        for path, part in parts.items():
            taken.append(_take_place(part, resolved(path), replace=replace))
        for folder in {resolved(path).parent for path in contents}:
            _bring_to_disk(folder)
    except (OSError, ValueError) as error:
        for place, before in reversed(taken):
            with contextlib.suppress(OSError):
                if before is None:
                    place.unlink()
                else:
                    os.replace(before, place)
        why = error.strerror if isinstance(error, OSError) and error.strerror else "no file has such a name"
        if isinstance(error, FileExistsError):
            raise NotWrittenError(
                f"{path.as_posix()}: somebody else wrote it meanwhile. Nothing was written; "
                "name another file, or add --force to replace it."
            ) from error
        raise NotWrittenError(
            f"{path.as_posix()}: cannot be written ({why}). Nothing was written."
        ) from error
    finally:
        for left in (*parts.values(), *(before for _, before in taken if before is not None)):
            with contextlib.suppress(OSError, ValueError):
                left.unlink(missing_ok=True)


def _beside(path: Path, ending: str) -> Path:
    """Name a file beside a place; short, since the name of the place may be as long as a disk allows."""
    return resolved(path).parent / f".{os.getpid()}-{os.urandom(4).hex()}.{ending}"


def _write_part(part: Path, content: Content, place: Path) -> None:
    if callable(content):
        content(part)
        number = os.open(part, os.O_RDWR)
    else:
        number = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    with contextlib.closing(_Number(number)):
        if not callable(content):
            left = memoryview(content.encode() if isinstance(content, str) else content)
            while left:
                left = left[os.write(number, left) :]
        with contextlib.suppress(FileNotFoundError):
            mode = stat.S_IMODE(os.stat(place).st_mode)
            if hasattr(os, "fchmod"):
                os.fchmod(number, mode)
        os.fsync(number)


class _Number:
    """An open file by its number."""

    def __init__(self, number: int) -> None:
        self.number = number

    def close(self) -> None:
        os.close(self.number)


def _take_place(part: Path, place: Path, *, replace: bool) -> tuple[Path, Path | None]:
    """Give a written part its name; return the place, and what stood there before under another name."""
    before: Path | None = None
    if os.path.lexists(place) and replace:
        if not stat.S_ISREG(os.stat(place).st_mode):
            raise NotPlainError(22, "this is a pipe or a device")
        before = _beside(place, "before")
        try:
            try:
                os.link(place, before)
            except OSError:  # a disk without second names
                before.write_bytes(place.read_bytes())
            os.replace(part, place)
        except OSError:
            before.unlink(missing_ok=True)
            raise
        return place, before
    try:
        os.link(part, place)
    except FileExistsError:
        raise
    except OSError:
        # Without second names the place is held first: whoever comes second finds it taken.
        os.close(os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL))
        try:
            os.replace(part, place)
        except OSError:
            place.unlink()
            raise
    return place, None


def _bring_to_disk(folder: Path) -> None:
    """Bring the names in a folder to the disk, where the system knows how."""
    if os.name != "posix":
        return
    number = os.open(folder, os.O_RDONLY)
    with contextlib.closing(_Number(number)):
        os.fsync(number)
