"""Writing files: only where told, never over another one, whole or not at all."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from formulate.errors import FormulateError

if TYPE_CHECKING:
    from formulate.jobs.solve import SolvedBottle

FILE_KINDS: tuple[Literal["bottle", "shelf", "recipe", "ingredients"], ...] = (
    "bottle",
    "shelf",
    "recipe",
    "ingredients",
)

__all__ = ["check_writable", "schema_text", "write_model", "write_recipe", "write_whole"]


def check_writable(path: Path | None, *, force: bool) -> None:
    """Refuse a file that is there already, before any work is done.

    Raises
    ------
    FormulateError
        If `path` exists and `force` is false, or its folder does not exist.
    """
    if path is None:
        return
    if path.exists() and not force:
        raise FormulateError(
            f"{path.as_posix()}: there already. Nothing was written; add --force to replace it."
        )
    if not path.parent.is_dir():
        raise FormulateError(f"{path.as_posix()}: its folder is not there. Make it first.")


def write_whole(path: Path, text: str) -> None:
    """Write a text file whole or not at all."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_text(text, encoding="utf-8")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def write_recipe(solved: SolvedBottle, path: Path) -> None:
    """Write a solved bottle as a recipe file that `predict` reads back to the same figures."""
    from formulate.jobs.solve import recipe_of
    from formulate.spec.recipe import dump_recipe

    bottle = solved.formulation.bottle
    recipe = recipe_of(solved, _beside(bottle.path, path), _beside(bottle.shelf_path, path))
    write_whole(path, dump_recipe(recipe))


def write_model(solved: SolvedBottle, path: Path) -> None:
    """Write the linear program at the answer, as .lp or .mps."""
    from formulate.optimise.pulp_model import export_model
    from formulate.optimise.search import model_at

    export_model(model_at(solved.answer), path)


def schema_text(kind: str) -> str:
    """Return the JSON Schema of a file kind as text.

    Raises
    ------
    FormulateError
        For an unknown kind.
    """
    from formulate.spec.schema import json_schema

    for known in FILE_KINDS:
        if kind == known:
            return json.dumps(json_schema(known), indent=2, ensure_ascii=False)
    raise FormulateError(f"no file kind called '{kind}'. There are: {', '.join(FILE_KINDS)}.")


def _beside(target: Path | None, written: Path) -> str | None:
    """Name a file as seen from the folder of another."""
    if target is None:
        return None
    return Path(os.path.relpath(target, written.parent)).as_posix()
