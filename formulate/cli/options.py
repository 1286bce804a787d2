"""Options that several commands share, worded once."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

if TYPE_CHECKING:
    from formulate.describe.records import DrinkRecord
    from formulate.report.first_screen import More

__all__ = [
    "All",
    "AsJson",
    "Cautions",
    "Force",
    "Law",
    "Middle",
    "Output",
    "PaperSize",
    "Parts",
    "Proof",
    "Why",
    "Xlsx",
    "one_of",
    "option",
    "refuse_together",
]

Word = TypeVar("Word", bound=str)

AsJson = Annotated[bool, typer.Option("--json", help="Write one JSON document instead of tables.")]
Cautions = Annotated[bool, typer.Option("--cautions", help="Show every caution in full.")]
Why = Annotated[bool, typer.Option("--why", help="Also say what limits cost and every remark.")]
Law = Annotated[bool, typer.Option("--law", help="Also show limits of the law and what it may be called.")]
All = Annotated[bool, typer.Option("--all", help="Show everything there is to tell.")]
Proof = Annotated[bool, typer.Option("--proof", help="Also show the strength as proof US.")]
Output = Annotated[
    Path | None, typer.Option("--output", "-o", help="Also write to this file.", dir_okay=False)
]
Middle = Annotated[bool, typer.Option("--middle", help="Aim at the middle of each band, not just inside.")]
Force = Annotated[bool, typer.Option("--force", help="Replace a file that is there already.")]


Xlsx = Annotated[
    Path | None,
    typer.Option("--xlsx", help="Also write a workbook with live formulas to this file.", dir_okay=False),
]

PaperSize = Annotated[str, typer.Option("--paper", help="Paper: a4 or letter.")]


@dataclass(frozen=True)
class Parts:
    """Which parts of an answer were asked for beyond the first screen."""

    why: bool = False
    law: bool = False
    cautions: bool = False
    everything: bool = False
    proof: bool = False

    def show(self, record: DrinkRecord) -> None:
        """Show a worked-out batch on the terminal."""
        from formulate.report.terminal import make_console, show_drink

        show_drink(make_console(), record, self.more, proof=self.proof)

    @property
    def more(self) -> More:
        """The same for what lays out plain text."""
        from formulate.report.first_screen import More

        more = More.ALL if self.everything else More.NONE
        for asked, part in ((self.why, More.WHY), (self.law, More.LAW), (self.cautions, More.CAUTIONS)):
            more |= part if asked else More.NONE
        return more


def option(text: str) -> Any:
    """Describe an option that is named like its parameter."""
    return typer.Option(help=text)


def one_of(given: str, known: tuple[Word, ...], option: str) -> Word:
    """Read a word that must be one of a few.

    Parameters
    ----------
    given : str
        As typed.
    known : tuple of str
    option : str
        Where it was typed.

    Raises
    ------
    typer.BadParameter
        With the nearest word, or all of them.
    """
    for word in known:
        if given.strip().lower() == word:
            return word
    from difflib import get_close_matches

    near = get_close_matches(given.lower(), known, n=1)
    hint = f"Did you mean {near[0]}?" if near else f"Write one of {', '.join(known)}."
    raise typer.BadParameter(f"{option} {given}: no such part. {hint}")


def refuse_together(first: str, why: str, *others: tuple[str, bool]) -> None:
    """Refuse options that cannot be asked for beside another one.

    Parameters
    ----------
    first : str
        The option that was given.
    why : str
        What it does that leaves no room for the others.
    others : tuple of (str, bool)
        Each other option, and whether it was given too.

    Raises
    ------
    typer.BadParameter
        For the first one given.
    """
    for other, given in others:
        if given:
            raise typer.BadParameter(f"{first} and {other} do not go together: {why}")
