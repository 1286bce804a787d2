"""Commands. Each parses its arguments, calls one job and hands the record to a report.

Standard output carries the answer and nothing else; everything said beside it goes to
standard error. Exit codes: 0 done; 1 an error in the program; 2 usage or a wrong file; 3 no recipe;
4 solved, but off target after rounding.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn, cast

import typer

from formulate.cli import books, exploring, looking_up, measuring, page, printing, serving, trying
from formulate.cli.options import (
    All,
    AsJson,
    Cautions,
    Force,
    Law,
    Middle,
    Output,
    Parts,
    Proof,
    Why,
    Xlsx,
    refuse_together,
)
from formulate.cli.running import leave
from formulate.cli.telling import DONE, OFF_TARGET, STOPPED, WRONG_FILE, searching, telling, write_told
from formulate.cli.week import WeekGroup, example_of

if TYPE_CHECKING:
    from formulate.jobs.files import Content

__all__ = ["app", "run", "run_command"]

USAGE_ERROR = cast(type[typer.BadParameter], typer.BadParameter.__mro__[1])
"""What is raised for options and arguments that cannot be: typer hands out its one kind only."""

app = typer.Typer(
    name="formulate",
    cls=WeekGroup,
    help="Find the cheapest house liqueur, aperitif or cordial that hits a target, and prove it.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(asked: bool) -> None:
    if asked:
        from importlib import metadata

        from formulate import __version__

        typer.echo(f"formulate {__version__} (solver: HiGHS {metadata.version('highspy')})")
        raise typer.Exit(DONE)


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and exit.")
    ] = False,
) -> None:
    pass


def init(
    folder: Annotated[Path, typer.Argument(help="Where to put it.", file_okay=False)] = Path(),
    force: Force = False,
) -> None:
    """Write a shelf and a first bottle file to start from."""
    from formulate.jobs.start import start_folder

    written = start_folder(folder, force=force)
    for path in written:
        typer.echo(path.as_posix())
    bottle = next(path for path in written if path.parent.name == "bottles")
    typer.echo(f"Next: formulate solve {bottle.as_posix()}", err=True)


def check(
    files: Annotated[
        list[Path],
        typer.Argument(help="Files of any kind: bottle, shelf, recipe, drink, menu ...", dir_okay=False),
    ],
    as_json: AsJson = False,
) -> None:
    """Check files without solving anything."""
    from formulate.jobs.check import WrongFilesError
    from formulate.jobs.check import check as check_all

    try:
        checked = check_all(*files)
    except WrongFilesError as error:
        if not as_json:
            from formulate.report.terminal import make_console, show_checked

            show_checked(make_console(), error.checked)
        raise
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(checked))
        return
    from formulate.report.terminal import make_console, show_checked

    show_checked(make_console(), checked.files)


def solve(
    bottle: Annotated[Path, typer.Argument(help="Bottle file.", dir_okay=False)],
    as_json: AsJson = False,
    output: Output = None,
    force: Force = False,
    why: Why = False,
    law: Law = False,
    cautions: Cautions = False,
    everything: All = False,
    proof: Proof = False,
    export: Annotated[
        Path | None, typer.Option(help="Write the final linear program for another solver (.lp or .mps).")
    ] = None,
    infuse: Annotated[
        str | None,
        typer.Option(help="Infuse like this instead: '3 h at 40 °C', '90 min at 45 °C with enzyme'."),
    ] = None,
    weigh: Annotated[
        bool, typer.Option("--weigh", help="Round to what your balances show, and stay in spec.")
    ] = False,
    middle: Middle = False,
    step: Annotated[
        str | None, typer.Option(help="The step --infuse is for; else the first straining.")
    ] = None,
    nearest: Annotated[
        bool, typer.Option("--nearest", help="Where no recipe meets every limit, show the nearest one.")
    ] = False,
    prices: Annotated[
        bool, typer.Option("--prices", help="Say what each limit costs, and when others would come in.")
    ] = False,
    xlsx: Xlsx = None,
) -> None:
    """Find the cheapest recipe for a bottle file, and prove it."""
    from formulate.errors import InfeasibleError
    from formulate.jobs.files import check_outputs, check_workbook, model_content, recipe_content
    from formulate.jobs.options import read_plan
    from formulate.jobs.solve import solve_bottle

    parts = Parts(why, law, cautions, everything, proof)
    if nearest:
        refuse_together(
            "--nearest",
            "what misses a limit is not rounded, priced or handed to another solver.",
            ("--export", export is not None),
            ("--prices", prices),
            ("--weigh", weigh),
            ("--xlsx", xlsx is not None),
        )
    check_outputs(output, export, force=force, read=bottle)
    check_workbook(xlsx, force=force, other=output)
    plan = read_plan(infuse, step)
    try:
        with searching():
            solved = solve_bottle(bottle, plan=plan, step=step, middle=middle)
    except InfeasibleError as error:
        if nearest and exploring.show_nearest(error.explanation, output, parts, as_json=as_json, force=force):
            raise typer.Exit(OFF_TARGET) from None
        raise
    exact = solved
    if weigh:
        from formulate.jobs.weighed import weigh_solved

        solved = weigh_solved(solved)
    contents: dict[Path, Content] = {}
    if output is not None:
        contents[output] = recipe_content(solved, output)
    if export is not None:
        contents[export] = model_content(solved, export)
    if xlsx is not None:
        from formulate.report.sheets import drink_workbook

        contents[xlsx] = drink_workbook(solved.record)
    if prices and as_json:
        exploring.show_prices(exact, solved.record)
    else:
        _show(solved.record, parts, as_json=as_json)
        if prices:
            exploring.show_prices(exact)
    write_told(contents, force=force)
    if solved.record.off_target:
        raise typer.Exit(OFF_TARGET)


def predict(
    recipe: Annotated[Path, typer.Argument(help="Recipe or jar file.", dir_okay=False)],
    as_json: AsJson = False,
    why: Why = False,
    law: Law = False,
    cautions: Cautions = False,
    everything: All = False,
    proof: Proof = False,
) -> None:
    """Work out what a recipe will be, or what is in a jar."""
    from formulate.jobs.jar import JarRecord, predict_file

    parts = Parts(why, law, cautions, everything, proof)
    record = predict_file(recipe)
    drink = record.drink if isinstance(record, JarRecord) else record
    over = OFF_TARGET if drink.off_target else DONE
    if not isinstance(record, JarRecord):
        _show(record, parts, as_json=as_json)
        raise typer.Exit(over)
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(record))
        raise typer.Exit(over)
    from formulate.report.measuring_text import jar_text

    typer.echo(f"{jar_text(record)}\n")
    _show(record.drink, parts, as_json=False)
    raise typer.Exit(over)


for command in (
    init,
    check,
    looking_up.library,
    solve,
    predict,
    looking_up.schema,
    measuring.gauge,
    measuring.adjust,
    measuring.scale,
    looking_up.prices,
    serving.buy,
    exploring.infuse,
    exploring.reformulate,
    exploring.tradeoff,
    serving.label,
    looking_up.standards,
    serving.pour,
    serving.menu,
    printing.sheet,
    books.workbook,
    books.take,
    exploring.suppose,
    trying.compare,
    page.serve,
    trying.learn,
):
    app.command(epilog=example_of(command.__name__))(telling(command))


def _show(record: object, parts: Parts, *, as_json: bool) -> None:
    from formulate.describe.records import DrinkRecord

    assert isinstance(record, DrinkRecord)
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(record))
        return
    parts.show(record)


def run_command(as_json: bool) -> int:
    """Run the command that stands in the arguments of this process; return its exit code."""
    try:
        left = app(prog_name="formulate", standalone_mode=False)
    except USAGE_ERROR as error:
        if as_json:
            from formulate.report.document import dump, error_document

            typer.echo(dump(error_document(ValueError(error.format_message()))))
        else:
            error.show()
        return WRONG_FILE
    except typer.Abort:
        return STOPPED
    return left if isinstance(left, int) else DONE


def run() -> NoReturn:
    """Run the command line and leave with its exit code."""
    leave(run_command)
