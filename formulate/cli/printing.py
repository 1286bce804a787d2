"""Commands about paper: `sheet`."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from formulate.cli.options import AsJson, Force, PaperSize, option
from formulate.cli.telling import OFF_TARGET, write_told

if TYPE_CHECKING:
    from formulate.describe.papers import Papers

__all__ = ["check_papers", "papers_content", "sheet"]


def sheet(
    files: Annotated[
        list[Path], typer.Argument(help="Bottle, recipe, jar, drink or menu files.", dir_okay=False)
    ],
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Write to this file, .html or .pdf.", dir_okay=False),
    ] = None,
    start: Annotated[str | None, option("When it is begun: '14:00', '2026-12-01 14:00'.")] = None,
    lot: Annotated[str, option("Lot, printed instead of room to write it.")] = "",
    to: Annotated[str | None, option("Another size: '12 L bottled', '24 bottles of 50 cl'.")] = None,
    labels: Annotated[int, typer.Option(min=0, max=500, help="So many labels instead.")] = 0,
    bottle_size: Annotated[str | None, option("What a label says a bottle holds: '50 cl'.")] = None,
    tasting: Annotated[
        bool, typer.Option("--tasting", help="One sheet to taste all of them by number instead.")
    ] = False,
    paper: PaperSize = "a4",
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Print what is held in the hand: batches, serve cards, labels, counts."""
    from formulate.errors import FormulateError
    from formulate.jobs.sheet import print_files

    if output is None and not as_json:
        raise FormulateError("Where shall it go? Add -o sheet.html, or -o sheet.pdf.")
    check_papers(output, paper, force=force)
    papers = print_files(
        *files, start=start, lot=lot, to=to, labels=labels, bottle_size=bottle_size, tasting=tasting
    )
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(papers))
    if output is not None:
        write_told({output: papers_content(papers, output, paper)}, force=force)
    if papers.off_target:
        raise typer.Exit(OFF_TARGET)


def check_papers(output: Path | None, paper: str, *, force: bool) -> None:
    """Refuse what cannot be printed as asked, before any work is done.

    Raises
    ------
    FormulateError
        If the file cannot be written, its ending is another, or there is no such paper.
    """
    from formulate.errors import FormulateError
    from formulate.jobs.files import check_writable
    from formulate.report.paper import ENDINGS, SIZES

    if paper.lower() not in SIZES:
        raise FormulateError(f"--paper: {' or '.join(SIZES)}, got '{paper}'.")
    if output is not None and output.suffix.lower() not in ENDINGS:
        got = output.suffix or "no ending"
        raise FormulateError(f"{output.as_posix()}: paper is written as {' or '.join(ENDINGS)}, got {got}.")
    check_writable(output, force=force)


def papers_content(papers: "Papers", output: Path, paper: str) -> str | bytes:
    """Lay papers out as what the ending of the file says; see `check_papers`."""
    from formulate.report.paper import paper_html, paper_pdf

    size = paper.lower()
    return paper_pdf(papers, size) if output.suffix.lower() == ".pdf" else paper_html(papers, size)
