"""Options that several commands share, worded once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

__all__ = ["AsJson", "Cautions", "Force", "Middle", "Output", "Proof", "Xlsx", "option", "refuse_together"]

AsJson = Annotated[bool, typer.Option("--json", help="Write one JSON document instead of tables.")]
Cautions = Annotated[bool, typer.Option("--cautions", help="Show every caution in full.")]
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


def option(text: str) -> Any:
    """Describe an option that is named like its parameter."""
    return typer.Option(help=text)


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
