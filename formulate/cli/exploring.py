"""Commands about what could be instead: another recipe, plan, figure or price."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from formulate.cli.options import (
    All,
    AsJson,
    Cautions,
    Force,
    Law,
    Middle,
    Output,
    Parts,
    Why,
    option,
    refuse_together,
)
from formulate.cli.telling import NO_RECIPE, OFF_TARGET, STOPPED, searching, write_told

if TYPE_CHECKING:
    from formulate.describe.no_recipe import NoRecipe
    from formulate.describe.records import DrinkRecord
    from formulate.describe.solved import SolvedBottle
    from formulate.jobs.files import Content

__all__ = ["infuse", "reformulate", "show_nearest", "show_prices", "suppose", "tradeoff"]


def show_nearest(
    nothing: "NoRecipe", output: Path | None, parts: Parts, *, as_json: bool, force: bool
) -> bool:
    """Show the recipe that comes nearest, and write it where told.

    Returns
    -------
    bool
        False when nothing comes near: then nothing was shown.
    """
    from formulate.jobs.files import recipe_content
    from formulate.jobs.nearest import nearest_recipe

    solved = nearest_recipe(nothing)
    if solved is None:
        return False
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(nothing, solved.record))
    else:
        from formulate.report.no_recipe_text import nearest_heading
        from formulate.report.terminal import make_console, show_no_recipe

        typer.echo("\n".join([*nearest_heading(solved.record), ""]))
        parts.show(solved.record)
        show_no_recipe(make_console(stderr=True), nothing)
    if output is not None:
        write_told({output: recipe_content(solved, output)}, force=force)
    return True


def show_prices(solved: "SolvedBottle", record: "DrinkRecord | None" = None) -> None:
    """Show the prices of a solved bottle's limits and of what it does not use.

    Parameters
    ----------
    solved : SolvedBottle
        As solved, not rounded.
    record : DrinkRecord, optional
        What was shown of it: then both go into one JSON document.
    """
    from formulate.jobs.limit_prices import prices_of
    from formulate.report.limit_prices_text import prices_lines

    prices = prices_of(solved)
    if record is None:
        typer.echo("\n".join(prices_lines(prices)))
        return
    from formulate.report.document import dump

    typer.echo(dump(record, prices))


def reformulate(
    recipe: Annotated[Path, typer.Argument(help="Recipe file.", dir_okay=False)],
    without: Annotated[list[str] | None, option("An ingredient that is gone.")] = None,
    short: Annotated[list[str] | None, option("What is left of one: 'damson: 300 g'.")] = None,
    price: Annotated[list[str] | None, option("A new price: 'damson: 12 EUR/kg'.")] = None,
    lot: Annotated[
        list[str] | None, option("Bitterness value per gram of a new lot: 'gentian-root: 15000'.")
    ] = None,
    bottle: Annotated[
        Path | None, typer.Option(help="Bottle file, if not the one the recipe names.", dir_okay=False)
    ] = None,
    least_change: Annotated[
        bool, typer.Option("--least-change", help="Move as little as can be; the default.")
    ] = False,
    cheapest: Annotated[bool, typer.Option("--cheapest", help="The cheapest, whatever moves.")] = False,
    nearest_flavour: Annotated[
        bool, typer.Option("--nearest-flavour", help="Keep bitterness, acids and colour.")
    ] = False,
    middle: Middle = False,
    why: Why = False,
    law: Law = False,
    cautions: Cautions = False,
    everything: All = False,
    as_json: AsJson = False,
    output: Output = None,
    force: Force = False,
) -> None:
    """Make a recipe again: something is gone, short or dearer."""
    from formulate.jobs.files import check_outputs, recipe_content
    from formulate.jobs.reformulate import reformulate_texts

    asked = [
        mode
        for mode, chosen in (
            ("least change", least_change),
            ("cheapest", cheapest),
            ("nearest flavour", nearest_flavour),
        )
        if chosen
    ]
    if len(asked) > 1:
        raise typer.BadParameter("one of --least-change, --cheapest and --nearest-flavour, not several")
    check_outputs(output, None, force=force, read=recipe)
    with searching():
        found = reformulate_texts(
            recipe,
            without=without or (),
            short=short or (),
            price=price or (),
            lot=lot or (),
            mode=asked[0] if asked else "least change",
            middle=middle,
            bottle=bottle,
        )
    from formulate.report.reformulate_text import reformulation_text

    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(found.record))
    else:
        typer.echo(reformulation_text(found.record, Parts(why, law, cautions, everything).more))
    if output is not None:
        write_told({output: recipe_content(found.best, output)}, force=force)
    if found.record.best.drink.off_target:
        raise typer.Exit(OFF_TARGET)


def tradeoff(
    bottle: Annotated[Path, typer.Argument(help="Bottle file.", dir_okay=False)],
    vary: Annotated[str, option("The target to move: strength, sugar, acid, bitterness, cost ...")],
    start: Annotated[str, typer.Option("--from", help="Its first value: '140 g/L'.")],
    end: Annotated[str, typer.Option("--to", help="Its last value: '220 g/L'.")],
    points: Annotated[int, option("How many values.")] = 50,
    against: Annotated[
        str | None,
        option("cost, or another target: then the least and the most it can be; strength beside a cost."),
    ] = None,
    prove: Annotated[bool, typer.Option("--prove", help="Prove the cost at both ends.")] = False,
    plot: Annotated[
        Path | None, typer.Option(help="Draw a picture too (.png or .svg; needs matplotlib).", dir_okay=False)
    ] = None,
    as_json: AsJson = False,
    force: Force = False,
) -> None:
    """See what moving one target does to cost or another target."""
    from formulate.jobs.files import check_writable
    from formulate.jobs.tradeoff import trade_off
    from formulate.report.tradeoff_text import tradeoff_text

    check_writable(plot, force=force)
    with searching():
        record = trade_off(bottle, vary, start, end, points=points, against=against, prove_ends=prove)
    contents: dict[Path, Content] = {}
    if plot is not None:
        from formulate.report.plot import tradeoff_picture

        contents[plot] = tradeoff_picture(record, plot.suffix)
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(record))
    else:
        typer.echo(tradeoff_text(record))
    write_told(contents, force=force)
    if all(point.found == "no recipe" for point in record.points):
        raise typer.Exit(NO_RECIPE)


def infuse(
    file: Annotated[Path, typer.Argument(help="Bottle or recipe file.", dir_okay=False)],
    plan: Annotated[
        list[str] | None, option("A plan to compare too: '36 h at 4 °C'. As often as you like.")
    ] = None,
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
    still: Annotated[bool, typer.Option("--still", help="Nobody stirs: the jar warms slowly.")] = False,
    probe: Annotated[str | None, typer.Option(help="A reading in the jar: '35 °C after 20 min'.")] = None,
    bath: Annotated[str | None, typer.Option(help="How warm the bath is, with --probe.")] = None,
    why: Why = False,
    law: Law = False,
    cautions: Cautions = False,
    everything: All = False,
    as_json: AsJson = False,
) -> None:
    """Compare times, temperatures and enzyme for an infusing step."""
    from formulate.jobs.infuse import infuse_texts
    from formulate.report.document import dump
    from formulate.report.infuse_text import plans_text

    with searching():
        record = infuse_texts(
            file,
            plans=plan or (),
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
    more = Parts(why, law, cautions, everything).more
    typer.echo(dump(record) if as_json else plans_text(record, more))
    if record.off_target:
        raise typer.Exit(OFF_TARGET)


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
        str | None,
        typer.Option(help="Let the workers of this scheduler, which is trusted, do it: tls://10.0.0.5:8786."),
    ] = None,
    tls_ca: Annotated[Path | None, option("Certificate of the authority, for tls://.")] = None,
    tls_cert: Annotated[Path | None, option("Own certificate, for tls://.")] = None,
    tls_key: Annotated[Path | None, option("Key of the own certificate, for tls://.")] = None,
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
    tls = None
    if tls_ca is not None and tls_cert is not None and tls_key is not None:
        tls = (tls_ca, tls_cert, tls_key)
    elif (tls_ca, tls_cert, tls_key) != (None, None, None):
        raise typer.BadParameter("--tls-ca, --tls-cert and --tls-key go together: give all three")
    if tls is not None and scheduler is None:
        raise typer.BadParameter("--tls-ca is for a --scheduler: give its address")
    try:
        with progress_bar("cases") as progress:
            record = work_out(
                scenarios, results=results, workers=workers, scheduler=scheduler, tls=tls, progress=progress
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
