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
    from formulate.report.document import dump
    from formulate.report.label_text import label_text

    record = label_file(file, bottle_size=bottle_size, serve=serve)
    typer.echo(dump(record) if as_json else label_text(record))
    if record.law is not None and record.law.broken:
        raise typer.Exit(OFF_TARGET)


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(telling(label))
