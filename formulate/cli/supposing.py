"""The command about what could become otherwise: `suppose`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from formulate.cli.options import AsJson, refuse_together
from formulate.cli.refusals import NO_RECIPE, OFF_TARGET, STOPPED, telling

__all__ = ["register"]


def suppose(
    scenarios: Annotated[Path, typer.Argument(help="Scenarios file.", dir_okay=False)],
    results: Annotated[
        Path | None,
        typer.Option(
            help="Keep each result in this file as it comes, and go on from what is in it.", dir_okay=False
        ),
    ] = None,
    workers: Annotated[
        int | None, typer.Option(help="Processes to work in; else as many as there are cores.", min=1)
    ] = None,
    scheduler: Annotated[
        str | None, typer.Option(help="Let the workers of this scheduler do it: tcp://10.0.0.5:8786.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Compare cases: prices up, something gone, demand up."""
    from formulate.jobs.suppose import StoppedError
    from formulate.jobs.suppose import suppose as work_out
    from formulate.report.document import dump
    from formulate.report.progress import progress_bar
    from formulate.report.suppose_text import stopped_document, suppose_text

    if scheduler is not None:
        refuse_together("--scheduler", "its workers do the work.", ("--workers", workers is not None))
    try:
        with progress_bar("cases") as progress:
            record = work_out(
                scenarios, results=results, workers=workers, scheduler=scheduler, progress=progress
            )
    except StoppedError as stopped:
        if as_json:
            typer.echo(dump(stopped_document(str(stopped), stopped.done, stopped.count)))
        else:
            typer.echo(str(stopped), err=True)
        raise typer.Exit(STOPPED) from None
    typer.echo(dump(record) if as_json else suppose_text(record))
    if record.cases and all(one.outcome["figure"] is None for one in record.cases):
        raise typer.Exit(NO_RECIPE)
    if record.off_target:
        raise typer.Exit(OFF_TARGET)


def register(app: typer.Typer) -> None:
    """Put this command on the command line."""
    app.command()(telling(suppose))
