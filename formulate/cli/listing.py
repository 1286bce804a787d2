"""The command about price lists: `prices`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from formulate.cli.options import AsJson
from formulate.cli.refusals import WRONG_FILE, telling

__all__ = ["register"]


def prices(
    shelf: Annotated[Path, typer.Argument(help="Shelf file.", dir_okay=False)],
    as_json: AsJson = False,
) -> None:
    """Read the price lists of a shelf, and show what is wrong."""
    from formulate.jobs.price_lists import read_price_lists
    from formulate.report.document import dump
    from formulate.report.price_lists_text import price_lists_text

    record = read_price_lists(shelf)
    typer.echo(dump(record) if as_json else price_lists_text(record))
    if not record.right:
        raise typer.Exit(WRONG_FILE)


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(telling(prices))
