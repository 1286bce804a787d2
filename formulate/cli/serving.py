"""Commands about what is bought, served and sold: `buy`, `label`, `pour`, `menu`."""

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
    PaperSize,
    Parts,
    Why,
    Xlsx,
    one_of,
)
from formulate.cli.printing import check_papers, papers_content
from formulate.cli.telling import OFF_TARGET, searching, write_told

if TYPE_CHECKING:
    from formulate.jobs.files import Content

__all__ = ["buy", "label", "menu", "pour"]


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
    from formulate.jobs.files import check_workbook, check_writable, recipe_content
    from formulate.jobs.options import read_leftover
    from formulate.report.buy_text import buy_text
    from formulate.report.document import dump

    check_writable(output, force=force, read=bottle)
    check_workbook(xlsx, force=force, other=output)
    share = read_leftover(leftover)
    with searching():
        record = buy_bottle(
            bottle, leftover_share=share, use_stock=not ignore_stock, adapt=adapt, middle=middle
        )
    contents: dict[Path, Content] = {}
    if output is not None:
        contents[output] = recipe_content(record.solved, output)
    if xlsx is not None:
        from formulate.report.sheets import buy_workbook

        contents[xlsx] = buy_workbook(record)
    typer.echo(dump(record) if as_json else buy_text(record, all_cautions=cautions))
    write_told(contents, force=force)
    if record.drink.off_target:
        raise typer.Exit(OFF_TARGET)


def label(
    file: Annotated[Path, typer.Argument(help="Recipe, jar or bottle file.", dir_okay=False)],
    bottle_size: Annotated[str | None, typer.Option(help="What a bottle holds: '50 cl'.")] = None,
    serve: Annotated[str | None, typer.Option(help="What one guest gets: '30 mL'.")] = None,
    as_json: AsJson = False,
    why: Why = False,
    law: Law = False,
    everything: All = False,
) -> None:
    """Work out a label: strength, allergens, energy and more."""
    from formulate.jobs.label import label_file
    from formulate.report.document import dump
    from formulate.report.label_text import label_text

    record = label_file(file, bottle_size=bottle_size, serve=serve)
    more = Parts(why, law, everything=everything).more
    typer.echo(dump(record) if as_json else label_text(record, more))
    if record.law is not None and record.law.broken:
        raise typer.Exit(OFF_TARGET)


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
    fit: Annotated[
        str | None, typer.Option(help="Make this house bottle so that the drink meets its targets.")
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Save the recipe of the bottle made to fit.", dir_okay=False),
    ] = None,
    xlsx: Xlsx = None,
    force: Force = False,
    as_json: AsJson = False,
    why: Why = False,
    law: Law = False,
    cautions: Cautions = False,
    everything: All = False,
) -> None:
    """Tell what a drink is in the glass, and what it costs."""
    from formulate.errors import UnitError
    from formulate.jobs.files import check_workbook
    from formulate.jobs.pour import pour_drink
    from formulate.report.document import dump
    from formulate.report.pour_text import pour_text

    check_workbook(xlsx, force=force, other=output)
    parts = Parts(why, law, cautions, everything)
    if fit is not None:
        if batch is not None or leave_out:
            raise UnitError("--fit and --batch are two questions. Save the recipe with -o, then batch.")
        _fitted(drink, fit, output, xlsx, parts, force=force, as_json=as_json)
        return
    if output is not None:
        raise UnitError("-o saves the recipe of a bottle made to fit. Add --fit, or drop it.")
    record = pour_drink(drink, batch=batch, leave_out=tuple(leave_out or ()))
    contents: dict[Path, Content] = {}
    if xlsx is not None:
        from formulate.report.sheets import pour_workbook

        contents[xlsx] = pour_workbook(record)
    typer.echo(dump(record) if as_json else pour_text(record, parts.more))
    write_told(contents, force=force)
    if record.law.broken:
        raise typer.Exit(OFF_TARGET)


def _fitted(
    drink: Path,
    name: str,
    output: Path | None,
    xlsx: Path | None,
    parts: Parts,
    *,
    force: bool,
    as_json: bool,
) -> None:
    from formulate.jobs.files import check_writable, recipe_content
    from formulate.jobs.fit import fit_bottle
    from formulate.report.document import dump
    from formulate.report.pour_text import fit_text, pour_text

    check_writable(output, force=force)
    with searching():
        fitted = fit_bottle(drink, name)
    contents: dict[Path, Content] = {}
    if output is not None:
        contents[output] = recipe_content(fitted.solved, output)
    if xlsx is not None:
        from formulate.report.sheets import pour_workbook

        contents[xlsx] = pour_workbook(fitted.pour)
    if as_json:
        typer.echo(dump(fitted.pour, {"fitted": fitted.solved.record.to_dict()}))
    else:
        typer.echo(f"{fit_text(fitted, saved=output is not None)}\n\n{pour_text(fitted.pour, parts.more)}")
    write_told(contents, force=force)


def menu(
    menu_file: Annotated[Path, typer.Argument(metavar="MENU", help="Menu file.", dir_okay=False)],
    leftover: Annotated[
        str, typer.Option(help="What an unused rest that keeps is still worth: '50 %' of its price.")
    ] = "0 %",
    ignore_stock: Annotated[
        bool, typer.Option("--ignore-stock", help="Buy and make everything, whatever is on hand.")
    ] = False,
    adapt: Annotated[
        bool, typer.Option("--adapt", help="Let house bottles adapt within their limits where that saves.")
    ] = False,
    recipes: Annotated[
        Path | None,
        typer.Option(help="Write the recipes that adapt into this folder.", file_okay=False, exists=True),
    ] = None,
    xlsx: Xlsx = None,
    results: Annotated[
        bool, typer.Option("--results", help="Also write the answer into the workbook MENU, as sheets.")
    ] = False,
    sheets: Annotated[
        Path | None,
        typer.Option(
            help="Also print count, orders, batches and serve cards to this .html or .pdf.", dir_okay=False
        ),
    ] = None,
    paper: PaperSize = "a4",
    force: Force = False,
    seconds: Annotated[
        float,
        typer.Option(min=1.0, help="How long to look for a better plan; with --adapt up to twice that."),
    ] = 60.0,
    part: Annotated[
        str | None, typer.Option(help="Only this, in full: order, production, stock or drinks.")
    ] = None,
    from_count: Annotated[
        Path | None,
        typer.Option("--from-count", help="Plan the rest from the day of this count.", dir_okay=False),
    ] = None,
    why: Why = False,
    cautions: Cautions = False,
    everything: All = False,
    as_json: AsJson = False,
) -> None:
    """Plan a menu: pars, batches, buying list, cost of each drink."""
    from formulate.jobs.files import check_workbook, menu_recipes_content, recipe_paths
    from formulate.jobs.menu import plan_menu
    from formulate.jobs.options import read_leftover
    from formulate.report.document import dump
    from formulate.report.menu_text import PARTS, menu_text

    chosen = None if part is None else one_of(part, PARTS, "--part")
    check_workbook(xlsx, force=force)
    book = _workbook_of(menu_file) if results else None
    if sheets is not None:
        check_papers(sheets, paper, force=force)
    share = read_leftover(leftover)
    with searching():
        record = plan_menu(
            menu_file,
            leftover_share=share,
            use_stock=not ignore_stock,
            adapt=adapt,
            seconds=seconds,
            count=from_count,
        )
    paths = [] if recipes is None else recipe_paths(record, recipes, force=force)
    contents = menu_recipes_content(record, paths) if paths else {}
    if xlsx is not None:
        from formulate.report.sheets import menu_workbook

        contents[xlsx] = menu_workbook(record)
    if book is not None:
        from formulate.report.sheets import menu_results

        contents[book] = menu_results(record, book.read_bytes())
    if sheets is not None:
        from formulate.jobs.sheet import menu_papers

        contents[sheets] = papers_content(menu_papers(record, menu_file), sheets, paper)
    more = Parts(why, cautions=cautions, everything=everything).more
    typer.echo(dump(record) if as_json else menu_text(record, more, chosen))
    write_told(contents, force=force or book is not None)
    if record.status == "short" or record.over_a_limit:
        raise typer.Exit(OFF_TARGET)


def _workbook_of(path: Path) -> Path:
    """Return the workbook that a menu stands in."""
    from formulate.errors import FormulateError

    for one in (path, *path.parents):
        if one.suffix.lower() == ".xlsx" and one.is_file():
            return one
    raise FormulateError("--results: for a menu that stands in a workbook, .xlsx. Use --xlsx FILE here.")
