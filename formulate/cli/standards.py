"""The command about what is built in of law and good practice: `standards`."""

from __future__ import annotations

from typing import Annotated

import typer

from formulate.cli.options import AsJson
from formulate.cli.refusals import telling

__all__ = ["register"]


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
    from formulate.jobs.standards import SUBJECTS, RulesRecord, find_rules, list_subjects, read_subject
    from formulate.report.standards_text import rules_text, subjects_text

    if subject is not None:
        found = find_rules(subject, where)
    else:
        found = tuple(read_subject(name, where) for name in SUBJECTS) if where else list_subjects()
    if as_json:
        from formulate.report.document import dump

        typer.echo(dump(RulesRecord(subjects=found)))
        return
    typer.echo(subjects_text(found) if subject is None else rules_text(found))


def register(app: typer.Typer) -> None:
    """Put this command on the command line."""
    app.command()(telling(standards))
