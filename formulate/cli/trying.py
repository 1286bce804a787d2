"""Commands about trials: `compare`, `learn`."""

from pathlib import Path
from typing import Annotated

import typer

from formulate.cli.options import AsJson, Why, option, refuse_together

__all__ = ["compare", "learn"]

Trials = Annotated[list[Path], typer.Argument(help="Trial files.", dir_okay=False)]


def compare(
    trials: Trials,
    blind: Annotated[
        bool, typer.Option("--blind", help="Print a sheet to taste them by, with codes for names.")
    ] = False,
    key: Annotated[bool, typer.Option("--key", help="Print the key to that sheet, for who pours.")] = False,
    tasters: Annotated[int, option("How many taste.")] = 6,
    seed: Annotated[int, option("Another number, another sheet.")] = 1,
    triangle: Annotated[str | None, option("How many picked the odd glass: '5 of 6'.")] = None,
    paired: Annotated[str | None, option("How many preferred the first: '9 of 12'.")] = None,
    dilution: Annotated[
        str | None, option("What the stronger is thinned to until both taste alike: '0.72'.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Lay trials side by side, taste them blind, and say what to try next."""
    from formulate.jobs.compare import blind_sheet, compare_trials
    from formulate.report.trials_text import compare_text, key_text, sheet_text

    if blind or key:
        refuse_together(
            "--blind" if blind else "--key",
            "first the sheet, then the answers.",
            ("--triangle", triangle is not None),
            ("--paired", paired is not None),
            ("--dilution", dilution is not None),
        )
        sheet = blind_sheet(*trials, tasters=tasters, seed=seed)
        if as_json:
            from formulate.report.document import dump

            named = {
                "key": [[{"code": one.code, "trial": one.drink} for one in row] for row in sheet.tasters]
            }
            typer.echo(dump(sheet, *([named] if key else [])))
            return
        typer.echo(key_text(sheet) if key else sheet_text(sheet))
        return
    record = compare_trials(*trials, triangle=triangle, paired=paired, dilution=dilution)
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(record))
        return
    typer.echo(compare_text(record))


def learn(
    trials: Annotated[
        list[Path], typer.Argument(help="Trial files; with --undo the shelf file.", dir_okay=False)
    ],
    write: Annotated[
        bool, typer.Option("--write", help="Put what was learned on the shelf as own values.")
    ] = False,
    undo: Annotated[
        bool, typer.Option("--undo", help="Take what was learned last out of a shelf file again.")
    ] = False,
    as_json: AsJson = False,
    why: Why = False,
) -> None:
    """Learn from trials what your kitchen does of its own."""
    from formulate.jobs.learn import forget, learn_trials
    from formulate.report.trials_text import learned_text

    if undo:
        refuse_together("--undo", "one puts in, one takes out.", ("--write", write))
        if len(trials) != 1:
            raise typer.BadParameter("--undo takes one file: the shelf.")
        shelf = forget(trials[0])
        if as_json:
            from formulate.report.document import dump

            typer.echo(dump({"schema_version": 1, "status": "undone", "shelf": shelf.as_posix()}))
            return
        typer.echo(f"{shelf.as_posix()}: what was learned last is out; the shelf is as it was before.")
        return
    record = learn_trials(*trials, write=write)
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(record))
        return
    typer.echo(learned_text(record, why=why))
