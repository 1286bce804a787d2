"""Commands that show what is built in, and what a shelf takes from its price lists."""

from pathlib import Path
from typing import Annotated

import typer

from formulate.cli.options import (
    AsJson,
    Force,
    Output,
)
from formulate.cli.telling import WRONG_FILE, write_told

__all__ = ["library", "prices", "schema", "standards"]


def library(
    words: Annotated[
        list[str] | None, typer.Argument(help="An id, or words to search: bitter, red, under 5 g sugar ...")
    ] = None,
    shelf: Annotated[
        Path | None, typer.Option(help="A shelf whose own values stand over the library's.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Search the built-in ingredients, or show one in full."""
    from formulate.jobs.browse import browse

    found = browse(" ".join(words or ()), shelf)
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(found))
        return
    from formulate.report.ingredient_screen import show_ingredient, show_ingredients
    from formulate.report.terminal import make_console

    if found.facts is not None:
        show_ingredient(make_console(), found.ingredients[0], found.facts)
    else:
        show_ingredients(make_console(), found.ingredients)


def schema(
    kind: Annotated[
        str,
        typer.Argument(
            help="bottle, shelf, recipe, jar, reading, trial, drink, menu, scenarios or ingredients."
        ),
    ],
    output: Output = None,
    force: Force = False,
) -> None:
    """Write the JSON Schema of a file kind, for your editor."""
    from formulate.jobs.files import check_writable, schema_text

    text = schema_text(kind)
    if output is None:
        typer.echo(text)
        return
    check_writable(output, force=force)
    write_told({output: text}, force=force)


def prices(
    shelf: Annotated[Path, typer.Argument(help="Shelf file.", dir_okay=False)],
    as_json: AsJson = False,
) -> None:
    """Read the price lists of a shelf, and show what is wrong."""
    from formulate.jobs.price_lists import read_price_lists
    from formulate.report.document import dump
    from formulate.report.looking_up_text import price_lists_text

    record = read_price_lists(shelf)
    typer.echo(dump(record) if as_json else price_lists_text(record))
    if not record.right:
        raise typer.Exit(WRONG_FILE)


def standards(
    subject: Annotated[
        str | None,
        typer.Argument(
            help="A subject such as prohibited, or a word of a rule: thujone, gentian. All if none."
        ),
    ] = None,
    where: Annotated[str | None, typer.Option("--in", help="Only what counts in the EU, US or UK.")] = None,
    as_json: AsJson = False,
) -> None:
    """List the rules built in, each with its source."""
    from formulate.jobs.standards import (
        PLACES,
        SUBJECTS,
        RulesRecord,
        find_rules,
        list_subjects,
        read_subject,
    )
    from formulate.report.looking_up_text import rules_text, subjects_text

    if subject is not None:
        found = find_rules(subject, where)
    else:
        found = tuple(read_subject(name, where) for name in SUBJECTS) if where else list_subjects()
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(RulesRecord(subjects=found)))
        return
    places = (where,) if where else PLACES
    typer.echo(subjects_text(found, places) if subject is None else rules_text(found))
