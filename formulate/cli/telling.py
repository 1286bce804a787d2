"""What every command says beside its answer: what was written, why there is none, the code it leaves with.

Said in words on standard error; with `--json` a refusal is the one document on standard output instead.
"""

from __future__ import annotations

import contextlib
import functools
import os
import re
import textwrap
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec

import typer

if TYPE_CHECKING:
    from formulate.errors import FormulateError, InfeasibleError
    from formulate.jobs.files import Content

__all__ = [
    "DONE",
    "NO_RECIPE",
    "OFF_TARGET",
    "OUR_FAULT",
    "STOPPED",
    "WRONG_FILE",
    "exit_code",
    "searching",
    "tell",
    "telling",
    "write_told",
]

DONE, OUR_FAULT, WRONG_FILE, NO_RECIPE, OFF_TARGET = 0, 1, 2, 3, 4
STOPPED = 130
"""What a command leaves with that the person stopped, as is usual for it: 128 and the signal's number."""

P = ParamSpec("P")

PLACE = re.compile(r".+:\d+:\d+: ")
OWN_LINE = re.compile(r" *\d* \| ")


def telling(command: Callable[P, None]) -> Callable[P, None]:
    """Let a command tell of its refusals and leave with their code."""

    @functools.wraps(command)
    def told(*arguments: P.args, **named: P.kwargs) -> None:
        from formulate.errors import FormulateError

        try:
            command(*arguments, **named)
        except FormulateError as error:
            raise typer.Exit(tell(error, as_json=bool(named.get("as_json")))) from None

    return told


@contextlib.contextmanager
def searching() -> Iterator[None]:
    """Let what may take a while be seen on a terminal, and be ended by Ctrl-C with the best found."""
    from formulate.errors import NotConvergedError, StoppedEarlyError
    from formulate.jobs.watching import watching
    from formulate.report.progress import shown_progress

    with shown_progress() as show, watching(show) as watch:
        try:
            yield
        except NotConvergedError:
            if watch.stopped:
                raise StoppedEarlyError("Stopped before anything was found.") from None
            raise
    if watch.stopped:
        typer.echo("Stopped: this is the best that was found by then.", err=True)


def write_told(contents: Mapping[Path, Content], *, force: bool) -> None:
    """Write what was asked for beside an answer that stands already, all of it or none; say which files.

    Raises
    ------
    NotWrittenError
        If it cannot be written.
    """
    from formulate.jobs.files import write_all

    write_all(contents, replace=force)
    for path in contents:
        typer.echo(f"Written: {path.as_posix()}", err=True)


def tell(error: FormulateError, *, as_json: bool) -> int:
    """Say what went wrong.

    Parameters
    ----------
    as_json : bool
        Whether the person asked for one JSON document.

    Returns
    -------
    int
        The exit code.
    """
    from formulate.errors import InfeasibleError, NotWrittenError
    from formulate.quantity.words import visible

    code = exit_code(error)
    if as_json and not isinstance(error, NotWrittenError):  # then the answer is the document
        from formulate.report.document import dump

        typer.echo(dump(_document(error)))
    elif isinstance(error, InfeasibleError):
        _tell_no_recipe(error)
    else:
        typer.echo(_wrapped(visible(str(error), keep="\n")), err=True)
    return code


def _wrapped(text: str) -> str:
    """Wrap one sentence or a few; a place in a file, and the person's own lines, stay as they are.

    On a narrow terminal everything is wrapped by words but those lines, whose carets would lose their place.
    """
    from formulate.report.plain import WIDTH, paragraph

    try:
        columns = os.get_terminal_size(2).columns or WIDTH
    except OSError:
        columns = WIDTH
    if columns >= WIDTH:
        return text if "\n" in text or PLACE.match(text) else "\n".join(paragraph(text))
    lines: list[str] = []
    for line in text.split("\n"):
        own = OWN_LINE.match(line) is not None
        lines += [line] if own else textwrap.wrap(line, columns, break_on_hyphens=False) or [""]
    return "\n".join(lines)


def exit_code(error: FormulateError) -> int:
    """Return the code a command leaves with."""
    from formulate.errors import (
        InfeasibleError,
        NotConvergedError,
        RoundingError,
        StoppedEarlyError,
        UnboundedError,
        VerificationError,
    )

    if isinstance(error, (InfeasibleError, UnboundedError)):
        return NO_RECIPE
    if isinstance(error, RoundingError):
        return OFF_TARGET
    if isinstance(error, StoppedEarlyError):
        return STOPPED
    if isinstance(error, (NotConvergedError, VerificationError)):
        return OUR_FAULT
    return WRONG_FILE


def _document(error: FormulateError) -> dict[str, Any]:
    from formulate.errors import InfeasibleError, NotConvergedError, RoundingError, UnboundedError
    from formulate.report.document import error_document, failed_document

    if isinstance(error, (InfeasibleError, RoundingError)):
        document: dict[str, Any] = error.explanation.to_dict()
        return document
    if isinstance(error, UnboundedError):
        return failed_document("unbounded", str(error))
    if exit_code(error) == WRONG_FILE:
        return error_document(error, getattr(error, "checked", ()))
    if exit_code(error) == STOPPED:
        return failed_document("stopped", str(error))
    status = "not_converged" if isinstance(error, NotConvergedError) else "not_verified"
    return failed_document(status, str(error))


def _tell_no_recipe(error: InfeasibleError) -> None:
    from formulate.describe.unreplaced import NoReplacement
    from formulate.report.terminal import make_console, show_no_recipe

    nothing = error.explanation
    show_no_recipe(make_console(stderr=True), nothing)
    if isinstance(nothing, NoReplacement):
        from formulate.report.reformulate_text import no_replacement_lines

        typer.echo("\n".join(["", *no_replacement_lines(nothing)]), err=True)
