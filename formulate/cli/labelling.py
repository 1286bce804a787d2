"""The command about what a label says: `label`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from formulate.cli.options import AsJson
from formulate.cli.refusals import OFF_TARGET, telling

__all__ = ["register"]


def label(
    file: Annotated[Path, typer.Argument(help="Recipe, jar or bottle file.", dir_okay=False)],
    bottle_size: Annotated[str | None, typer.Option(help="What a bottle holds: '50 cl'.")] = None,
    serve: Annotated[str | None, typer.Option(help="What one guest gets: '30 mL'.")] = None,
    as_json: AsJson = False,
) -> None:
    """Work out a label: strength, allergens, energy and more."""
    from formulate.jobs.label import label_file
    from formulate.quantity.words import read_given
    from formulate.report.document import dump
    from formulate.report.label_text import label_text

    record = label_file(
        file,
        bottle_l=read_given("--bottle-size", bottle_size, _litres),
        serve_l=read_given("--serve", serve, _litres),
    )
    typer.echo(dump(record) if as_json else label_text(record))
    if record.law is not None and record.law.broken:
        raise typer.Exit(OFF_TARGET)


def _litres(text: str) -> float:
    """Read a volume above zero.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    from formulate.errors import UnitError
    from formulate.quantity import Dimension, parse_quantity

    litres = parse_quantity(text, Dimension.VOLUME)
    if not litres > 0.0:
        raise UnitError(f"must be above zero, got '{text}'. Check the number.")
    return litres


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(telling(label))
