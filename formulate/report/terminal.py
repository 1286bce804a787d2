"""Records to the terminal: at most 80 columns, in a cook's words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from formulate.describe.records import ADVICE, DrinkRecord
from formulate.errors import VESSEL_TOO_SMALL, Note
from formulate.files.measures import COST
from formulate.report.first_screen import More, closing, more_line
from formulate.report.no_recipe_text import asked_text, move_text, reach_lines
from formulate.report.plain import flavour_line, flavour_short, measured_at, paragraph, too_small_lines
from formulate.report.profile_text import (
    AT_ITS_LIMIT,
    cost_first,
    cost_line,
    price_lines,
    profile_rows,
    readings_text,
)
from formulate.report.recipe_text import purchase_lines, purchase_rows, recipe_rows, whole_lines
from formulate.report.rules_text import category_lines, caution_lines, law_lines, over_lines
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.describe.no_recipe import NoRecipe
    from formulate.jobs.check import CheckedFile
    from formulate.optimise.diagnose import ClashMember

__all__ = ["WIDTH", "make_console", "show_checked", "show_drink", "show_no_recipe"]


WIDTH = 80
DIM = frozenset({"Take care", "May be called", f"  {ADVICE}"})


def make_console(*, stderr: bool = False) -> Console:
    """Return a console no wider than 80 columns; plain where the terminal is."""
    console = Console(stderr=stderr, highlight=False, emoji=False)
    if console.width > WIDTH or not console.is_terminal:
        console.width = min(console.width, WIDTH) if console.is_terminal else WIDTH
    return console


@on_screen
def show_drink(console: Console, record: DrinkRecord, more: More = More.NONE, *, proof: bool = False) -> None:
    """Show a worked-out batch: first what somebody at the bench needs, the rest where it is asked for.

    Parameters
    ----------
    more : More
        Which parts beyond the first screen.
    proof : bool
        Whether to show the strength as proof US too.
    """
    if more is More.ALL:
        _show_all(console, record, proof=proof)
        return
    _show_first(console, record, more, proof=proof)
    others = tuple(note for note in record.notes if note.code != VESSEL_TOO_SMALL)
    if More.WHY in more:
        if record.cost is not None:
            console.print("\n[dim]What your limits cost[/dim]")
            lines = [*paragraph(cost_line(record.cost, record.status)), *price_lines(record)]
            console.print("\n".join(lines), markup=False)
        if record.flavour:
            console.print()
            print_wrapped(console, flavour_line(record.flavour))
        _show_notes(console, "Good to know", others)
        _show_notes(console, "Clear and smooth?", record.clarity.lines if record.clarity else ())
    if More.LAW in more:
        for line in (*law_lines(record.law), *category_lines(record.categories)):
            console.print(line, style="dim" if line in DIM else None, markup=False, soft_wrap=True)
    if More.CAUTIONS in more:
        for line in caution_lines(record.cautions, in_full=True):
            console.print(line, style="dim" if line in DIM else None, markup=False, soft_wrap=True)


def _show_first(console: Console, record: DrinkRecord, more: More, *, proof: bool) -> None:
    """Show what to weigh, the work, what it will be, what to mind, what it costs: a glance each."""
    volume = _volume(float(record.predicted.volume_l))
    asked = record.size_text if not record.size_text.endswith("bottled") else ""
    fills = [f"{fill.vessel} {fill.share * 100:.0f} % full" for fill in record.fills if not fill.too_small]
    aside = "; ".join([*([asked] if asked else []), *fills])
    console.print(
        f"[bold]{escape(record.name)}[/bold]: {volume} bottled" + (f" ({escape(aside)})" if aside else "")
    )
    for text in (*over_lines(record.law), *too_small_lines(record.notes)):
        console.print(text, style="bold red", markup=False, soft_wrap=True)
    print_table(console, _recipe_table(record))
    for line in whole_lines(record):
        console.print(line, markup=False)
    if record.work:
        console.print("\n".join(paragraph(f"Work: {record.work}.", rest="  ")), markup=False)
    console.print()
    rows = profile_rows(record)
    cost_rows = [row for row in rows if row[0] == COST and row[-1] in ("", AT_ITS_LIMIT)]
    print_table(console, _profile_table([row for row in rows if row not in cost_rows]))
    console.print(readings_text(record, proof=proof), markup=False)
    if flavour := flavour_short(record.flavour):
        console.print("\n".join(paragraph(flavour, rest="  ")), markup=False)
    console.print()
    asked = cost_rows[0][3] if cost_rows else ""
    cost = () if record.cost is None else paragraph(cost_first(record.cost, record.status, asked))
    for line in closing(record.notes, record.cautions, more, last=cost):
        console.print(line, style="dim" if line in DIM else None, markup=False, soft_wrap=True)
    console.print(more_line(more, cautions=record.cautions), style="dim", markup=False, soft_wrap=True)


def _show_all(console: Console, record: DrinkRecord, *, proof: bool) -> None:
    """Show everything there is to tell of a batch."""
    volume = float(record.predicted.volume_l)
    console.print(f"[bold]{escape(record.name)}[/bold]: {_volume(volume)} bottled")
    if record.size_text and not record.size_text.endswith("bottled"):
        console.print(f"[dim]({escape(record.size_text)})[/dim]")
    for text in over_lines(record.law):
        console.print(text, style="bold red", markup=False, soft_wrap=True)
    # What makes the exit code 4 stands above what a glance at the table would weigh in.
    for text in too_small_lines(record.notes):
        console.print(text, style="bold red", markup=False)
    console.print()
    print_table(console, _recipe_table(record))
    for line in measured_at(line.measure for line in record.recipe):
        console.print(line, style="dim", markup=False)
    console.print()
    if record.purchases:
        _show_purchases(console, record)
    print_table(console, _profile_table(profile_rows(record)))
    for text in law_lines(record.law):
        console.print(text, markup=False, soft_wrap=True)
    if record.flavour:
        print_wrapped(console, flavour_line(record.flavour))
    if proof:
        console.print(f"{record.predicted.proof_us:.1f} proof US (twice the strength, both volumes at 60 °F)")
    console.print()
    if record.cost is not None:
        console.print(
            "\n".join(textwrap.wrap(cost_line(record.cost, record.status), console.width)), markup=False
        )
    for line in price_lines(record):
        console.print(line)
    others = tuple(note for note in record.notes if note.code != VESSEL_TOO_SMALL)
    _show_notes(console, "Good to know", others)
    _show_notes(console, "Clear and smooth?", record.clarity.lines if record.clarity else ())
    for line in category_lines(record.categories):
        console.print(line, style="dim" if line in DIM else None, markup=False, soft_wrap=True)
    for line in caution_lines(record.cautions, in_full=True):
        console.print(line, style="dim" if line in DIM else None, markup=False, soft_wrap=True)


@on_screen
def show_no_recipe(console: Console, nothing: NoRecipe) -> None:
    """Say which limits clash and what would make each one give way."""
    clash = nothing.explanation.clash
    if nothing.doses is not None:
        _show_dose_changes(console, nothing)
        return
    if nothing.choices:
        console.print(f"[bold]{escape(nothing.name)}[/bold]: no recipe keeps the choices made (proved).")
        for problem in nothing.choices:
            console.print(f"{problem}", markup=False, soft_wrap=True)
        return
    console.print(f"[bold]{escape(nothing.name)}[/bold]: no recipe meets every limit (proved).")
    if not clash:
        console.print("The size alone cannot be met with these ingredients.")
        return
    if len(clash) == 1:
        console.print("This one cannot be met with the ingredients listed:")
    else:
        drop = (
            "Drop any one and the rest no longer clash."
            if nothing.explanation.irreducible
            else "Fewer of them may be enough to: that was not settled in time."
        )
        console.print(f"These {len(clash)} limits clash. {drop}")
    for member in clash:
        _print_wrapped_plain(console, f"  {member.limit.origin.name}: {asked_text(member)}")
        if place := _place(member):
            console.print(f"    [dim]{escape(place)}[/dim]", soft_wrap=True)  # a broken path opens nothing
    moves = [text for member in clash if (text := move_text(member))]
    if moves:
        which = "Moving just one of them" if len(clash) > 1 else "Moving it"
        console.print(f"\n{which} would do, everything else left as it is:")
        for text in moves:
            console.print(f"  {escape(text)}")
    elif (
        len(clash) > 1
        and nothing.explanation.irreducible
        and any(not member.limit.firm for member in clash)
        and all(member.reachable is None for member in clash)
    ):
        sure = all(member.settled for member in clash)
        console.print(
            "\nMoving one of them alone is not enough: something else clashes too."
            if sure
            else "\nWhether moving one of them alone would do was not settled in time."
        )
    if could_be := reach_lines(nothing.explanation):
        console.print("\n" + "\n".join(could_be), markup=False)
    _show_notes(console, "Good to know", nothing.notes)


def _show_dose_changes(console: Console, nothing: NoRecipe) -> None:
    """Say what usual doses come to, and what would do instead."""
    assert nothing.doses is not None
    console.print(f"[bold]{escape(nothing.name)}[/bold]: no recipe within usual doses (proved).")
    console.print("\n".join(textwrap.wrap(nothing.doses.why, console.width)), markup=False)
    console.print("\nAny one of these would do, each tried:")
    for change in nothing.doses.changes:
        print_bullet(console, change)
    clash = nothing.explanation.clash
    if clash or nothing.choices:
        console.print("\nWhat clashes")
    for problem in nothing.choices:
        console.print(f"{problem}", markup=False, soft_wrap=True)
    for member in clash:
        _print_wrapped_plain(console, f"  {member.limit.origin.name}: {asked_text(member)}")
        if place := _place(member):
            console.print(f"    [dim]{escape(place)}[/dim]", soft_wrap=True)
    _show_notes(console, "Good to know", nothing.notes)


@on_screen
def show_checked(console: Console, files: Iterable[CheckedFile]) -> None:
    """List checked files."""
    for file in files:
        console.print(
            f"[green]ok[/green]  {escape(file.path)}: {file.kind}, {escape(file.name)}", soft_wrap=True
        )
        print_wrapped(console, file.summary, indent="    ")


def plain_table() -> Table:
    return Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim", show_edge=False)


def print_table(console: Console, table: Table) -> None:
    """Print a table without the blanks that fill its last column; row by row where it has no room."""
    if console.measure(table, options=console.options.update(max_width=WIDTH)).maximum > console.width:
        for row in zip(*(column.cells for column in table.columns), strict=True):
            named = zip(table.columns, map(str, row), strict=True)
            text = "  ".join(
                f"{column.header} {cell}" if column.justify == "right" and column.header else cell
                for column, cell in named
                if cell
            )
            lines = textwrap.wrap(text, console.width, subsequent_indent="    ", break_on_hyphens=False)
            console.print("\n".join(lines))
        return
    with console.capture() as capture:
        console.print(table)
    lines = [line.rstrip() for line in capture.get().splitlines()]
    console.file.write("\n".join(lines) + "\n")


def _recipe_table(record: DrinkRecord) -> Table:
    (step, name, mass, measure, last), *rows = recipe_rows(record)
    table = plain_table()
    table.add_column(step, style="dim", no_wrap=True)
    table.add_column(name, no_wrap=True, overflow="ellipsis")
    table.add_column(mass, justify="right", no_wrap=True)
    table.add_column(measure)
    table.add_column(last, justify="right", no_wrap=True)
    for row in rows:
        table.add_row(*map(escape, row))
    return table


def _profile_table(rows: Iterable[tuple[str, ...]]) -> Table:
    table = plain_table()
    table.add_column("in the bottle", no_wrap=True)
    table.add_column("will be", justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    table.add_column("you asked", no_wrap=True)
    table.add_column("", no_wrap=True)
    for *cells, met in rows:
        table.add_row(*cells, f"[red]{met}[/red]" if met and met != AT_ITS_LIMIT else met)
    return table


def _show_purchases(console: Console, record: DrinkRecord) -> None:
    """Show what is bought whole, and for each thing what is used of it and what is left over."""
    (name, mass, cost), *rows = purchase_rows(record)
    table = plain_table()
    table.add_column(name, no_wrap=True, overflow="ellipsis")
    table.add_column(mass, justify="right", no_wrap=True)
    table.add_column(cost, justify="right", no_wrap=True)
    for row in rows:
        table.add_row(*map(escape, row))
    print_table(console, table)
    console.print("\n".join(purchase_lines(record, console.width)), markup=False)
    console.print()


def _show_notes(console: Console, title: str, notes: Iterable[Note]) -> None:
    notes = tuple(notes)
    if not notes:
        return
    console.print(f"\n[dim]{title}[/dim]")
    for note in notes:
        source = f" [{note.source}]" if note.code != "ingredient" and note.source else ""
        print_bullet(console, f"{note.text}{source}")


def print_wrapped(console: Console, text: str, *, indent: str = "") -> None:
    """Print a remark in dim letters, wrapped by words and without blanks at the line ends."""
    lines = textwrap.wrap(text, console.width, initial_indent=indent, subsequent_indent=indent)
    console.print("\n".join(lines), style="dim", markup=False)


def _print_wrapped_plain(console: Console, text: str) -> None:
    lines = textwrap.wrap(text, console.width, subsequent_indent="      ")
    console.print("\n".join(lines), markup=False)


def print_bullet(console: Console, text: str) -> None:
    lines = textwrap.wrap(
        text, console.width, initial_indent="  · ", subsequent_indent="    ", break_on_hyphens=False
    )
    console.print("\n".join(lines), markup=False)


def _place(member: ClashMember) -> str:
    location = member.limit.origin.location
    return f"{location.file}:{location.cell or location.line}" if location else ""


def _volume(volume: float) -> str:
    return f"{volume:.2f} L" if volume >= 1.0 else f"{volume * 1000:.0f} mL"
