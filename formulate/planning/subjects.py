"""What a scenarios file is about: a bottle or a menu with its pantry, and the files they were read from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from formulate.bar.opening import open_pantry
from formulate.bar.pantry import Pantry
from formulate.errors import SpecError
from formulate.files.bottle import Bottle, load_bottle
from formulate.files.disk import is_there
from formulate.files.menu import Menu, load_menu
from formulate.files.models import InMemory
from formulate.files.scenarios import Scenarios

__all__ = ["Subject", "SubjectFiles", "read_subject", "subject_of", "subject_path"]


@dataclass(frozen=True)
class SubjectFiles:
    """Every file that an answer depends on, as it was read.

    Attributes
    ----------
    root : Path
        Folder they all lie under.
    subject : str
        The bottle or menu file, seen from there.
    files : tuple of (str, bytes)
        Seen from there, in order of their names.
    day : date
        What the age of the stock is counted to.
    version : str
        Of this program.
    model : InMemory or None
        What stands for a subject that was built in Python; no file holds it then.
    """

    root: Path
    subject: str
    is_menu: bool
    files: tuple[tuple[str, bytes], ...]
    day: date
    version: str
    model: InMemory | None = None

    def read(self, root: Path | None = None) -> Subject:
        """Read the subject again, from where the files lie now if they were moved."""
        path = self.model or (root or self.root) / self.subject
        return read_subject(path, self.day, is_menu=self.is_menu)


@dataclass(frozen=True)
class Subject:
    """A bottle or a menu with its pantry."""

    file: Bottle | Menu
    pantry: Pantry


def read_subject(path: Path, day: date, *, is_menu: bool) -> Subject:
    """Read a bottle or menu file and its shelf.

    Raises
    ------
    SpecError
        If one is wrong.
    """
    file = load_menu(path) if is_menu else load_bottle(path)
    return Subject(file, open_pantry(file.shelf_path, file.places, today=day))


def subject_of(scenarios: Scenarios, day: date) -> Subject:
    """Read the bottle or menu a file is about, and its shelf.

    Raises
    ------
    SpecError
        If it is not there, or a file is wrong.
    """
    return read_subject(subject_path(scenarios), day, is_menu=scenarios.menu is not None)


def subject_path(scenarios: Scenarios) -> Path:
    """Say where the bottle or menu lies.

    Raises
    ------
    SpecError
        If nothing lies there.
    """
    path = scenarios.subject_path
    if not is_there(path):
        key = "bottle" if scenarios.menu is None else "menu"
        text = f"no file there, got '{path.as_posix()}'. Check the path."
        raise SpecError([scenarios.places.problem((key,), text)])
    return path
