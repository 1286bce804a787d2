"""The command about what a label says: `label`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["register"]

NO_RECIPE, OFF_TARGET = 3, 4


def label(
    file: Annotated[Path, typer.Argument(help="Recipe, jar or bottle file.", dir_okay=False)],
    bottle_size: Annotated[str | None, typer.Option(help="What a bottle holds: '50 cl'.")] = None,
    serve: Annotated[str | None, typer.Option(help="What one guest gets: '30 mL'.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Write one JSON document instead of text.")] = False,
) -> None:
    """Work out what a label says: strength, allergens, ingredients, energy."""
    from formulate.errors import InfeasibleError
    from formulate.jobs.label import label_file
    from formulate.report.document import dump, no_recipe_document
    from formulate.report.label_text import label_document, label_text

    bottle_l, serve_l = _litres("--bottle-size", bottle_size), _litres("--serve", serve)
    try:
        record = label_file(file, bottle_l=bottle_l, serve_l=serve_l)
    except InfeasibleError as error:
        if as_json:
            typer.echo(dump(no_recipe_document(error.explanation)))
        else:
            from formulate.report.terminal import make_console, show_no_recipe

            show_no_recipe(make_console(stderr=True), error.explanation)
        raise typer.Exit(NO_RECIPE) from None
    typer.echo(dump(label_document(record)) if as_json else label_text(record))
    if record.law is not None and record.law.broken:
        raise typer.Exit(OFF_TARGET)


def _litres(option: str, text: str | None) -> float | None:
    """Read a volume above zero.

    Raises
    ------
    FormulateError
        With what is wrong, what was typed and what to write instead.
    """
    from formulate.errors import FormulateError, UnitError
    from formulate.quantity import Dimension, parse_quantity

    if text is None:
        return None
    try:
        litres = parse_quantity(text, Dimension.VOLUME)
    except UnitError as error:
        raise FormulateError(f"{option}: {error}") from None
    if not litres > 0.0:
        raise FormulateError(f"{option}: must be above zero, got '{text}'. Check the number.")
    return litres


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(label)
