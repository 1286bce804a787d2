"""Writing files: only where told, never over another one, whole or not at all."""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

from formulate.errors import FormulateError
from formulate.files.models import InMemory

if TYPE_CHECKING:
    from formulate.describe.menu_record import MenuRecord
    from formulate.describe.solved import SolvedBottle

Kind = Literal[
    "bottle", "shelf", "recipe", "jar", "reading", "trial", "drink", "menu", "scenarios", "ingredients"
]
FILE_KINDS: tuple[Kind, ...] = get_args(Kind)

MODEL_ENDINGS = (".lp", ".mps")
BOOK_ENDING = ".xlsx"
BOOK_CREATOR = b"<dc:creator>formulate</dc:creator>"

__all__ = [
    "check_outputs",
    "check_workbook",
    "check_writable",
    "recipe_paths",
    "schema_text",
    "write_menu_recipes",
    "write_model",
    "write_recipe",
    "write_whole",
]


def check_writable(path: Path | None, *, force: bool, read: Path | None = None) -> None:
    """Refuse a file that is there already, before any work is done.

    Parameters
    ----------
    path : Path or None
        What shall be written.
    force : bool
        Replace it if it is there; never what is read, nor a bottle or shelf file somebody wrote.
    read : Path, optional
        The file that is read.

    Raises
    ------
    FormulateError
        If `path` exists and `force` is false, or its folder does not exist, or it is not ours to replace.
    """
    if path is None:
        return
    if path.is_dir():
        raise FormulateError(f"{path.as_posix()}: this is a folder. Name a file in it.")
    if path.exists() and not force:
        raise FormulateError(
            f"{path.as_posix()}: there already. Nothing was written; add --force to replace it."
        )
    if read is not None and path.exists() and read.exists() and path.samefile(read):
        raise FormulateError(f"{path.as_posix()}: is what is read here. Name another file to write to.")
    if path.exists() and path.suffix in (".yaml", ".yml") and _holds_own_work(path):
        raise FormulateError(
            f"{path.as_posix()}: is no recipe but a file somebody wrote, which --force does not replace. "
            "Name another file."
        )
    if not path.parent.is_dir():
        raise FormulateError(f"{path.as_posix()}: its folder is not there. Make it first.")


def _holds_own_work(path: Path) -> bool:
    """Tell whether a file looks like a bottle, shelf, jar or reading file: nothing a command ever writes."""
    lines = path.read_bytes().splitlines()
    return any(
        line.startswith((b"targets:", b"offers:", b"jar:", b"reading:", b"trial:", b"suppose:"))
        for line in lines
    )


def check_workbook(path: Path | None, *, force: bool, other: Path | None = None) -> None:
    """Refuse a workbook that cannot be written as asked, before any work is done.

    Parameters
    ----------
    path : Path or None
        Where the workbook shall go.
    force : bool
        Replace it if it is there; only one that was written here, never a price list somebody sent.
    other : Path, optional
        What else is written.

    Raises
    ------
    FormulateError
        See `check_writable`; also if its ending is another, or it is the other file.
    """
    if path is None:
        return
    if path.suffix.lower() != BOOK_ENDING:
        got = path.suffix or "no ending"
        raise FormulateError(f"{path.as_posix()}: a workbook is written as {BOOK_ENDING}, got {got}.")
    if other is not None and path.absolute() == other.absolute():
        raise FormulateError(f"{path.as_posix()}: named for two things. Give each its own file.")
    check_writable(path, force=force)
    if path.exists() and not _written_here(path):
        raise FormulateError(
            f"{path.as_posix()}: is no workbook that was written here, and --force does not replace it. "
            "Name another file."
        )


def _written_here(path: Path) -> bool:
    """Tell whether a workbook names this program as its creator; a spreadsheet that saves it keeps that."""
    import zipfile

    try:
        with zipfile.ZipFile(path) as packed:
            return BOOK_CREATOR in packed.read("docProps/core.xml")
    except (OSError, KeyError, zipfile.BadZipFile):
        return False


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
    FormulateError
        If the file cannot be written.
    """
    with _whole(path) as part:
        part.write_bytes(content.encode() if isinstance(content, str) else content)


@contextlib.contextmanager
def _whole(path: Path) -> Iterator[Path]:
    """Give a place beside `path` to write to, which takes its name only when all went well."""
    part = path.with_name(f".{os.getpid()}.part.{path.name}")
    try:
        yield part
        part.replace(path)
    except OSError as error:
        raise FormulateError(
            f"{path.as_posix()}: cannot be written ({error.strerror}). Nothing was written."
        ) from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def write_recipe(solved: SolvedBottle, path: Path) -> None:
    """Write a solved bottle as a recipe file that `predict` reads back to the same figures."""
    from formulate.files.recipe import dump_recipe
    from formulate.formulation.solving import recipe_of

    bottle = solved.formulation.bottle
    recipe = recipe_of(
        bottle,
        solved.answer,
        bottle_path=beside(bottle.path, path),
        shelf_path=beside(bottle.shelf_path, path),
    )
    write_whole(path, dump_recipe(recipe))


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


def write_menu_recipes(record: MenuRecord, paths: Sequence[Path]) -> None:
    """Write the recipes of a menu that adapt, one file each; see `recipe_paths`."""
    from formulate.files.recipe import dump_recipe

    for row, path in zip(record.adapted, paths, strict=True):
        recipe = row.file.model_copy(update={"shelf": beside(record.shelf_path, path)})
        write_whole(path, dump_recipe(recipe))


def write_model(solved: SolvedBottle, path: Path) -> None:
    """Write the linear program at the answer, as .lp or .mps."""
    from formulate.optimise.pulp_model import export_model
    from formulate.optimise.solve import model_at

    model = model_at(solved.answer)
    with _whole(path) as part:
        export_model(model, part)


def schema_text(kind: str) -> str:
    """Return the JSON Schema of a file kind as text.

    Raises
    ------
    FormulateError
        For an unknown kind.
    """
    from formulate.files.schema import json_schema

    for known in FILE_KINDS:
        if kind == known:
            return json.dumps(json_schema(known), indent=2, ensure_ascii=False)
    raise FormulateError(f"no file kind called '{kind}'. There are: {', '.join(FILE_KINDS)}.")


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
