"""Commands about what is served: `pour`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from formulate.cli.refusals import telling

__all__ = ["register"]


def pour(
    drink: Annotated[Path, typer.Argument(help="Drink file.", dir_okay=False)],
    batch: Annotated[
        str | None,
        typer.Option(
            help="Also batch it ahead: '6 bottles of 70 cl', '5 L bottled', 'fill keg (90 % of it)'."
        ),
    ] = None,
    leave_out: Annotated[
        list[str] | None, typer.Option("--leave-out", help="Keep this out of the batch; may be repeated.")
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Write one JSON document instead of tables.")
    ] = False,
    cautions: Annotated[bool, typer.Option("--cautions", help="Show every caution in full.")] = False,
) -> None:
    """Tell what a drink is in the glass, what it costs, and how to batch it."""
    from formulate.jobs.pour import pour_drink
    from formulate.report.document import dump
    from formulate.report.pour_text import pour_document, pour_text

    record = pour_drink(drink, batch=batch, leave_out=tuple(leave_out or ()))
    typer.echo(dump(pour_document(record)) if as_json else pour_text(record, all_cautions=cautions))


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(telling(pour))
