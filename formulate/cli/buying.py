"""Commands about packs and balances: `buy`, and what `solve --weigh` does."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from formulate.jobs.solve import SolvedBottle

__all__ = ["register", "weighed"]

NO_RECIPE, OFF_TARGET = 3, 4


def buy(
    bottle: Annotated[Path, typer.Argument(help="Bottle file.", dir_okay=False)],
    leftover: Annotated[
        str, typer.Option(help="What an unused rest of a pack is still worth: '50 %' of its price.")
    ] = "0 %",
    ignore_stock: Annotated[
        bool, typer.Option("--ignore-stock", help="Buy everything, whatever is on hand.")
    ] = False,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Also save the recipe fitted to the packs.", dir_okay=False),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there already.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Write one JSON document instead of tables.")
    ] = False,
) -> None:
    """List the packs to buy for a bottle, what is on hand first."""
    from formulate.errors import InfeasibleError, UnitError
    from formulate.jobs.buy import buy_bottle
    from formulate.jobs.files import check_writable, write_recipe
    from formulate.quantity import Dimension, parse_quantity
    from formulate.report.buying import buy_document, buy_text
    from formulate.report.document import dump, no_recipe_document

    check_writable(output, force=force)
    share = parse_quantity(leftover, Dimension.SHARE)
    if share > 1.0:
        raise UnitError(f"--leftover: a rest is worth at most 100 % of its price, got {leftover}.")
    try:
        record = buy_bottle(bottle, leftover_share=share, use_stock=not ignore_stock)
    except InfeasibleError as error:
        if not as_json:
            from formulate.report.terminal import make_console, show_no_recipe

            show_no_recipe(make_console(stderr=True), error.explanation)
        else:
            typer.echo(dump(no_recipe_document(error.explanation)))
        raise typer.Exit(NO_RECIPE) from None
    if output is not None:
        write_recipe(record.solved, output)
    typer.echo(dump(buy_document(record)) if as_json else buy_text(record))
    if output is not None:
        typer.echo(f"Written: {output.as_posix()}", err=True)


def weighed(solved: SolvedBottle, *, as_json: bool) -> SolvedBottle:
    """Round a solved bottle to weighing steps; where that cannot be done, say so and leave.

    Parameters
    ----------
    solved : SolvedBottle
    as_json : bool
        Say so as one JSON document on standard output.
    """
    from formulate.errors import RoundingError
    from formulate.jobs.weighed import weigh_solved

    try:
        return weigh_solved(solved)
    except RoundingError as error:
        if not as_json:
            raise
        from formulate.report.document import cannot_weigh_document, dump

        typer.echo(dump(cannot_weigh_document(solved.record.name, error.explanation)))
        raise typer.Exit(OFF_TARGET) from None


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command()(buy)
