"""Writing files: only where told, never over another one, whole or not at all."""

from __future__ import annotations

import io
import json
import os
import stat
import tempfile
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from formulate.errors import FormulateError
from formulate.files.disk import Content, read_plain, write_all
from formulate.files.models import InMemory
from formulate.quantity.document import MARK

if TYPE_CHECKING:
    from formulate.describe.menu_record import MenuRecord
    from formulate.describe.solved import SolvedBottle

MODEL_ENDINGS = (".lp", ".mps")
BOOK_ENDING = ".xlsx"
DOCUMENT_CREATOR = b"<meta:initial-creator>formulate</meta:initial-creator>"
BOOK_CREATOR = b"<dc:creator>formulate</dc:creator>"
RECIPE_MARK = b"made_by: formulate "
LARGEST_REPLACED_BYTES = 200_000_000

__all__ = [
    "Content",
    "check_outputs",
    "check_workbook",
    "check_writable",
    "menu_recipes_content",
    "model_content",
    "recipe_content",
    "recipe_paths",
    "schema_text",
    "write_all",
    "write_whole",
]


def check_writable(path: Path | None, *, force: bool, read: Path | None = None) -> None:
    """Refuse a file that is there already, before any work is done.

    Parameters
    ----------
    path : Path or None
        What shall be written.
    force : bool
        Replace it if it is there; only a file that this program wrote, and never what is read.
    read : Path, optional
        The file that is read.

    Raises
    ------
    FormulateError
        If `path` exists and `force` is false, or its folder does not exist, or it is not ours to replace.
    """
    if path is None:
        return
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        mode = 0
    except (OSError, RuntimeError, ValueError) as error:
        why = getattr(error, "strerror", None) or "no file can have this name"
        raise FormulateError(f"{path.as_posix()}: cannot be written ({why}). Name another file.") from None
    if stat.S_ISDIR(mode):
        raise FormulateError(f"{path.as_posix()}: this is a folder. Name a file in it.")
    if mode and not force:
        raise FormulateError(
            f"{path.as_posix()}: there already. Nothing was written; add --force to replace it."
        )
    if mode and not stat.S_ISREG(mode):
        raise FormulateError(f"{path.as_posix()}: is a pipe or a device, not a file. Name a file.")
    if read is not None and mode and read.exists() and path.samefile(read):
        raise FormulateError(f"{path.as_posix()}: is what is read here. Name another file to write to.")
    if mode and not _written_here(path):
        raise FormulateError(
            f"{path.as_posix()}: was not written by this program, and --force does not replace it. "
            "Name another file."
        )
    if not path.parent.is_dir():
        raise FormulateError(f"{path.as_posix()}: its folder is not there. Make it first.")


def _written_here(path: Path) -> bool:
    """Tell by the mark in a file whether this program wrote it, whatever its name ends in.

    A workbook names its creator, which a spreadsheet that saves it keeps; an empty file holds nobody's work.
    """
    try:
        content = read_plain(path, LARGEST_REPLACED_BYTES)
        if content.startswith(b"PK"):
            with zipfile.ZipFile(io.BytesIO(content)) as packed:
                if "meta.xml" in packed.namelist():
                    return DOCUMENT_CREATOR in packed.read("meta.xml")
                return BOOK_CREATOR in packed.read("docProps/core.xml")
    except (OSError, KeyError, zipfile.BadZipFile):
        return False
    lines = content.splitlines()
    return not content or MARK.encode() in content or any(line.startswith(RECIPE_MARK) for line in lines)


def check_workbook(
    path: Path | None, *, force: bool, other: Path | None = None, endings: Sequence[str] = (BOOK_ENDING,)
) -> None:
    """Refuse a workbook that cannot be written as asked, before any work is done.

    Parameters
    ----------
    path : Path or None
        Where the workbook shall go.
    force : bool
        Replace it if it is there; only one that was written here, never a price list somebody sent.
    other : Path, optional
        What else is written.
    endings : sequence of str

    Raises
    ------
    FormulateError
        See `check_writable`; also if its ending is another, or it is the other file.
    """
    if path is None:
        return
    if path.suffix.lower() not in endings:
        got = path.suffix or "no ending"
        raise FormulateError(
            f"{path.as_posix()}: a workbook is written as {' or '.join(endings)}, got {got}."
        )
    if other is not None and path.absolute() == other.absolute():
        raise FormulateError(f"{path.as_posix()}: named for two things. Give each its own file.")
    check_writable(path, force=force)


def check_outputs(recipe: Path | None, model: Path | None, *, force: bool, read: Path | None = None) -> None:
    """Refuse what cannot be written as asked, before any work is done.

    Parameters
    ----------
    recipe, model : Path or None
        Where a recipe and a linear program shall go.
    force : bool
        Replace files that are there already.
    read : Path, optional
        The file that is read, never replaced.

    Raises
    ------
    FormulateError
        See `check_writable`; also if both are the same file, or the model's ending names no format.
    """
    if model is not None and model.suffix not in MODEL_ENDINGS:
        got = model.suffix or "no ending"
        raise FormulateError(
            f"{model.as_posix()}: a model is written as {' or '.join(MODEL_ENDINGS)}, got {got}."
        )
    if recipe is not None and model is not None and recipe.absolute() == model.absolute():
        raise FormulateError(f"{model.as_posix()}: named for two things. Give each its own file.")
    for path in (recipe, model):
        check_writable(path, force=force, read=read)


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file whole or not at all, text as UTF-8.

    Raises
    ------
    NotWrittenError
        If the file cannot be written.
    """
    write_all({path: content})


def recipe_content(solved: SolvedBottle, path: Path) -> str:
    """Lay out a solved bottle as a recipe file at `path` that `predict` reads back to the same figures."""
    from formulate.files.recipe import dump_recipe
    from formulate.formulation.solving import recipe_of

    bottle = solved.formulation.bottle
    recipe = recipe_of(
        bottle,
        solved.answer,
        bottle_path=beside(bottle.path, path),
        shelf_path=beside(bottle.shelf_path, path),
    )
    return dump_recipe(recipe)


def model_content(solved: SolvedBottle, path: Path) -> bytes:
    """Lay out the linear program at the answer as .lp or .mps, whichever `path` ends in."""
    from formulate.optimise.pulp_model import export_model
    from formulate.optimise.solve import model_at

    with tempfile.TemporaryDirectory(prefix="formulate-") as folder:
        part = Path(folder) / f"model{path.suffix}"
        export_model(model_at(solved.answer), part)
        comment = b"\\ " if path.suffix == ".lp" else b"* "
        return comment + MARK.encode() + b"\n" + part.read_bytes()


def recipe_paths(record: MenuRecord, folder: Path, *, force: bool) -> list[Path]:
    """Say where the recipes of a menu that adapt go; refuse files that are there already.

    Raises
    ------
    FormulateError
        See `check_writable`.
    """
    paths = [folder / f"{row.name}-recipe-{row.recipe}.yaml" for row in record.adapted]
    for path in paths:
        check_writable(path, force=force)
    return paths


def menu_recipes_content(record: MenuRecord, paths: Sequence[Path]) -> dict[Path, Content]:
    """Lay out the recipes of a menu that adapt, one file each; see `recipe_paths`."""
    from formulate.files.recipe import dump_recipe

    return {
        path: dump_recipe(row.file.model_copy(update={"shelf": beside(record.shelf_path, path)}))
        for row, path in zip(record.adapted, paths, strict=True)
    }


def schema_text(kind: str) -> str:
    """Return the JSON Schema of a file kind as text.

    Raises
    ------
    FormulateError
        For an unknown kind.
    """
    from formulate.files.schema import Kind, json_schema

    kinds: tuple[Kind, ...] = get_args(Kind)
    for known in kinds:
        if kind == known:
            return json.dumps({"$comment": MARK, **json_schema(known)}, indent=2, ensure_ascii=False)
    raise FormulateError(f"no file kind called '{kind}'. There are: {', '.join(kinds)}.")


def beside(target: Path | None, written: Path) -> str | None:
    """Name a file as seen from the folder of another.

    Parameters
    ----------
    target : Path or None
        None stays None; a model that was built in Python has no name to be found by.
    written : Path
        The other one, which names it.
    """
    if target is None or isinstance(target, InMemory):
        return None
    return Path(os.path.relpath(target, written.parent)).as_posix()
