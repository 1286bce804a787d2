"""Commands about one workbook instead of many files: `workbook`, `take`."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from formulate.cli.options import AsJson, Force
from formulate.cli.telling import write_told

if TYPE_CHECKING:
    from formulate.errors import SpecError

__all__ = ["take", "workbook"]

ENDINGS = (".xlsx", ".ods")


def workbook(
    folder: Annotated[
        Path | None,
        typer.Argument(help="Folder with a shelf.yaml; none for an empty workbook.", file_okay=False),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Write to this file, .xlsx or .ods.", dir_okay=False),
    ] = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Put a folder into one workbook to fill in; it then stands for the folder."""
    from formulate.errors import FormulateError
    from formulate.jobs.files import check_workbook
    from formulate.jobs.workbook import empty_workbook, lay_out

    if output is None and not as_json:
        raise FormulateError("Where shall it go? Add -o bar.xlsx, or -o bar.ods.")
    check_workbook(output, force=force, endings=ENDINGS)
    record = empty_workbook() if folder is None else lay_out(folder)
    if output is not None:
        from formulate.report.bar_book import bar_document, bar_workbook

        is_document = output.suffix.lower() == ".ods"
        content = bar_document(record) if is_document else bar_workbook(record)
        write_told({output: content}, force=force)
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(record))


def take(
    book: Annotated[Path, typer.Argument(help="Workbook, .xlsx or .ods.", dir_okay=False)],
    into: Annotated[Path, typer.Option("--into", help="Folder that the files go into.", file_okay=False)],
    marked: Annotated[
        Path | None,
        typer.Option(
            help="Where something is wrong, write a copy with every wrong cell marked.", dir_okay=False
        ),
    ] = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Take a workbook into files again: all of it, or nothing."""
    from formulate.errors import SpecError
    from formulate.jobs.files import check_workbook
    from formulate.jobs.workbook import take as take_all
    from formulate.report.bar_book import taken_text
    from formulate.report.document import dump

    check_workbook(marked, force=force, other=book)
    try:
        record = take_all(book, into)
    except SpecError as error:
        if marked is not None:
            _mark(book, marked, error, force=force)
        raise
    typer.echo(dump(record) if as_json else taken_text(record))


def _mark(book: Path, marked: Path, error: "SpecError", *, force: bool) -> None:
    from formulate.report.workbook import marked_copy

    wrong = [
        (problem.location.cell, problem.message)
        for problem in error.problems
        if problem.location is not None and problem.location.cell
    ]
    if wrong and book.suffix.lower() == ".xlsx":
        write_told({marked: marked_copy(book.read_bytes(), wrong)}, force=force)
