"""The folder that was opened: which files are in it, read and saved by name, and nothing outside of it."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from formulate.errors import FormulateError
from formulate.jobs.files import write_whole

__all__ = ["ChangedElsewhereError", "Folder", "NotHereError", "Opened"]

ENDINGS = (".yaml", ".yml")
MOST_FILES = 2_000


class NotHereError(FormulateError):
    """A name that is no file of the opened folder."""


class ChangedElsewhereError(FormulateError):
    """A file that is not what it was when it was opened."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A file as it was read.

    Attributes
    ----------
    name : str
        Its path below the folder, with forward slashes.
    version : str
        Fingerprint of its content.
    """

    name: str
    path: Path
    text: str
    version: str


class Folder:
    """A folder of files; a name leads to a file in it or to nothing.

    Parameters
    ----------
    root : Path

    Raises
    ------
    FormulateError
        If it is no folder.
    """

    def __init__(self, root: Path) -> None:
        if not root.is_dir():
            raise FormulateError(f"{root.as_posix()}: there is no such folder. Name one, or make it first.")
        self.root = root.resolve()

    def names(self) -> list[str]:
        """List the files below the folder; hidden ones and what links lead to outside are left out."""
        found = []
        for folder, folders, files in os.walk(self.root):
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            for name in sorted(files):
                path = Path(folder, name)
                if name.endswith(ENDINGS) and not name.startswith(".") and self._holds(path):
                    found.append(path.relative_to(self.root).as_posix())
                    if len(found) == MOST_FILES:
                        return found
        return found

    def path_of(self, name: str) -> Path:
        """Find the place of a name, whether or not a file is there.

        Raises
        ------
        NotHereError
            If it leads outside, is hidden or has an ending that is not read here.
        """
        parts = name.split("/")
        hidden = any(part in ("", "..") or part.startswith(".") for part in parts)
        wrong = hidden or "\\" in name or "\0" in name
        if wrong or not name.endswith(ENDINGS) or len(name) > 200:
            raise NotHereError("There is no such file in this folder.")
        path = self.root.joinpath(*parts)
        if not self._holds(path):
            raise NotHereError("There is no such file in this folder.")
        return path

    def _holds(self, path: Path) -> bool:
        """Tell whether a path stays below the folder, every link followed; one in circles does not."""
        try:
            return path.resolve().is_relative_to(self.root)
        except (OSError, RuntimeError):
            return False

    def open(self, name: str) -> Opened:
        """Read a file.

        Raises
        ------
        NotHereError
            If it is not there or cannot be read.
        """
        path = self.path_of(name)
        try:
            if not path.is_file():
                raise NotHereError("There is no such file in this folder.")
            raw = path.read_bytes()
            text = raw.decode("utf-8")
        except OSError:
            raise NotHereError("There is no such file in this folder.") from None
        except UnicodeDecodeError:
            raise NotHereError(f"{name}: not UTF-8 text. Save the file as UTF-8 in your editor.") from None
        return Opened(name, path, text, _version(raw))

    def save(self, name: str, text: str, version: str | None) -> Opened:
        """Write a file whole or not at all.

        Parameters
        ----------
        version : str or None
            What it was when it was opened; None for a new file.

        Raises
        ------
        ChangedElsewhereError
            If it is another now, gone, or there already; nothing is written then.
        FormulateError
            If it cannot be written.
        """
        path = self.path_of(name)
        if version is None and path.exists():
            raise ChangedElsewhereError(f"{name} is there already. Choose another name.")
        if version is not None:
            try:
                now = self.open(name).version
            except NotHereError:
                now = ""
            if now != version:
                raise ChangedElsewhereError(
                    f"{name} was changed elsewhere since it was opened here. Nothing was saved. "
                    "Save this as a new file, or open it again."
                )
        write_whole(path, text)
        return Opened(name, path, text, _version(text.encode()))


def _version(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()
