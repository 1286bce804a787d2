"""The command about packs: `buy`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from formulate.cli.options import AsJson, Cautions, Force, Middle, Xlsx
from formulate.cli.refusals import OFF_TARGET, telling

__all__ = ["register"]


def buy(
    bottle: Annotated[Path, typer.Argument(help="Bottle file.", dir_okay=False)],
    leftover: Annotated[
        str, typer.Option(help="What an unused rest of a pack is still worth: '50 %' of its price.")
    ] = "0 %",
    ignore_stock: Annotated[
        bool, typer.Option("--ignore-stock", help="Buy everything, whatever is on hand.")
    ] = False,
    adapt: Annotated[
        bool, typer.Option("--adapt", help="Fit the recipe to whole packs, within its limits, if that saves.")
    ] = False,
    middle: Middle = False,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Also save the recipe that the list is for.", dir_okay=False),
    ] = None,
    xlsx: Xlsx = None,
    force: Force = False,
    as_json: AsJson = False,
    cautions: Cautions = False,
) -> None:
    """List the packs to buy for a bottle, what is on hand first."""
    from formulate.jobs.buy import buy_bottle
    from formulate.jobs.files import check_workbook, check_writable, write_recipe, write_whole
    from formulate.jobs.options import read_leftover
    from formulate.report.buying import buy_text
    from formulate.report.document import dump

    check_writable(output, force=force, read=bottle)
    check_workbook(xlsx, force=force, other=output)
    share = read_leftover(leftover)
    record = buy_bottle(bottle, leftover_share=share, use_stock=not ignore_stock, adapt=adapt, middle=middle)
    if output is not None:
        write_recipe(record.solved, output)
    if xlsx is not None:
        from formulate.report.sheets import buy_workbook

        write_whole(xlsx, buy_workbook(record))
    typer.echo(dump(record) if as_json else buy_text(record, all_cautions=cautions))
    for path in (output, xlsx):
        if path is not None:
            typer.echo(f"Written: {path.as_posix()}", err=True)
    if record.drink.off_target:
        raise typer.Exit(OFF_TARGET)


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(telling(buy))
