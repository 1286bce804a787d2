"""The command that compares infusing plans: `infuse`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from formulate.cli.options import AsJson, Cautions
from formulate.cli.refusals import OFF_TARGET, telling

__all__ = ["register"]


def infuse(
    file: Annotated[Path, typer.Argument(help="Bottle or recipe file.", dir_okay=False)],
    step: Annotated[str | None, typer.Option(help="The step that infuses; else the first straining.")] = None,
    start: Annotated[str, typer.Option(help="What the jar starts from.")] = "20 °C",
    drawn: Annotated[
        str | None, typer.Option(help="Least drawn out of each bitter or coloured plant; 80 % if not said.")
    ] = None,
    harsh: Annotated[str | None, typer.Option(help="Most of the bitterness coarse; 15 %.")] = None,
    colour_left: Annotated[str | None, typer.Option(help="Least colour left; 90 %.")] = None,
    pectin_left: Annotated[
        str | None, typer.Option(help="Most pectin left, for a clear bottle; 0.3 g/L.")
    ] = None,
    hottest: Annotated[str | None, typer.Option(help="Hottest plan to recommend; 60 °C.")] = None,
    clear: Annotated[
        bool | None, typer.Option("--clear/--cloudy", help="Clear: where paper or enzyme stands in the file.")
    ] = None,
    still: Annotated[bool, typer.Option("--still", help="Nobody stirs: count the warm-up.")] = False,
    probe: Annotated[str | None, typer.Option(help="A reading in the jar: '35 °C after 20 min'.")] = None,
    bath: Annotated[str | None, typer.Option(help="How warm the bath is, with --probe.")] = None,
    cautions: Cautions = False,
    as_json: AsJson = False,
) -> None:
    """Compare times, temperatures and enzyme for an infusing step."""
    from formulate.jobs.infuse import infuse_texts
    from formulate.report.document import dump
    from formulate.report.plans import plans_text

    record = infuse_texts(
        file,
        step=step,
        start=start,
        drawn=drawn,
        harsh=harsh,
        colour_left=colour_left,
        pectin_left=pectin_left,
        hottest=hottest,
        clear=clear,
        still=still,
        probe=probe,
        bath=bath,
    )
    typer.echo(dump(record) if as_json else plans_text(record, all_cautions=cautions))
    if record.off_target:
        raise typer.Exit(OFF_TARGET)


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(telling(infuse))
