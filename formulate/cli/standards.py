"""The command about what is built in of law and good practice: `standards`."""

from __future__ import annotations

from typing import Annotated

import typer

from formulate.cli.options import AsJson
from formulate.cli.refusals import telling

__all__ = ["register"]


def standards(
    subject: Annotated[str | None, typer.Argument(help="Such as restricted-substances; all if none.")] = None,
    where: Annotated[str | None, typer.Option("--in", help="Only what counts in the EU, US or UK.")] = None,
    as_json: AsJson = False,
) -> None:
    """List the rules built in, each with its source and how far to trust it."""
    from formulate.jobs.standards import SUBJECTS, list_subjects, read_subject
    from formulate.report.standards_text import standards_document, subject_text, subjects_text

    names = tuple(SUBJECTS) if subject is None else (subject,)
    found = tuple(read_subject(name, where) for name in names) if where or subject else list_subjects()
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(standards_document(found)))
        return
    typer.echo(subjects_text(found) if subject is None else subject_text(found[0]))


def register(app: typer.Typer) -> None:
    """Put this command on the command line."""
    app.command()(telling(standards))
