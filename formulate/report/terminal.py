"""Records to the terminal: at most 80 columns, in a cook's words."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable
from enum import Flag, auto
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from formulate.describe.first_remarks import first_remarks
from formulate.describe.records import ADVICE, CostLine, DrinkRecord, TargetRecord
from formulate.errors import VESSEL_TOO_SMALL, Note
from formulate.files.measures import BITTERNESS, COST, IN_EVERY_DRINK, STRENGTH, measure_of
from formulate.report.no_recipe_text import reach_lines
from formulate.report.numbers import band_text, money, percent, proved, target_value
from formulate.report.plain import flavour_line, flavour_short, measured_at, paragraph, too_small_lines
from formulate.report.recipe_text import purchase_lines, purchase_rows, recipe_rows
from formulate.report.rules_text import category_lines, caution_lines, guest_lines, law_lines, over_lines

if TYPE_CHECKING:
    from formulate.describe.no_recipe import NoRecipe
    from formulate.jobs.check import CheckedFile
    from formulate.optimise.diagnose import ClashMember

__all__ = ["WIDTH", "More", "make_console", "show_checked", "show_drink", "show_no_recipe"]


class More(Flag):
    """Parts of what is told of a drink beyond the first screen."""

    NONE = 0
    WHY = auto()
    LAW = auto()
    CAUTIONS = auto()
    ALL = WHY | LAW | CAUTIONS


WIDTH = 80
DIM = frozenset({"Take care", "May be called", f"  {ADVICE}"})
_WORTH_SAYING = 5e-4
"""A saving below this share of the price of a litre (half a cent at ten) is not told."""


def make_console(*, stderr: bool = False) -> Console:
    """Return a console no wider than 80 columns; plain where the terminal is."""
    console = Console(stderr=stderr, highlight=False, emoji=False)
    if console.width > WIDTH or not console.is_terminal:
        console.width = min(console.width, WIDTH) if console.is_terminal else WIDTH
    return console


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
            lines = [*paragraph(_cost_line(record.cost, record.status)), *_price_lines(record)]
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
    console.print()
    print_table(console, _recipe_table(record))
    if record.purchases:
        _show_purchases(console, record)
    if record.work:
        console.print("\n".join(paragraph(f"Work: {record.work}.", rest="  ")), markup=False)
    console.print()
    print_table(console, _profile_table(record))
    console.print(_readings(record, proof=proof), markup=False)
    if flavour := flavour_short(record.flavour):
        console.print("\n".join(paragraph(flavour, rest="  ")), markup=False)
    console.print()
    for note in first_remarks(record.notes):
        print_bullet(console, note.short or note.text)
    for line in () if More.CAUTIONS in more else guest_lines(record.cautions):
        console.print(line, style="dim" if line in DIM else None, markup=False, soft_wrap=True)
    if record.cost is not None:
        console.print("\n".join(paragraph(_cost_first(record.cost, record.status))), markup=False)
    parts = {"--why": More.WHY, "--law": More.LAW, "--cautions": More.CAUTIONS}
    left = [option for option, part in parts.items() if part not in more]
    console.print(f"[dim]More: {', '.join([*left, '--all'])}.[/dim]")


def _readings(record: DrinkRecord, *, proof: bool) -> str:
    """Say what the tools of a bar show at 20 °C, so that a batch can be checked."""
    parts = [f"hydrometer SG {record.hydrometer_sg:.3f}"]
    if record.refractometer_brix is not None:
        parts.append(f"refractometer {record.refractometer_brix:.1f} Brix")
    if proof:
        parts.append(f"{record.predicted.proof_us:.1f} proof US")
    return f"At 20 °C: {', '.join(parts)}."


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
    print_table(console, _profile_table(record))
    for text in law_lines(record.law):
        console.print(text, markup=False, soft_wrap=True)
    if record.flavour:
        print_wrapped(console, flavour_line(record.flavour))
    if proof:
        console.print(f"{record.predicted.proof_us:.1f} proof US (twice the strength, both volumes at 60 °F)")
    console.print()
    if record.cost is not None:
        console.print(
            "\n".join(textwrap.wrap(_cost_line(record.cost, record.status), console.width)), markup=False
        )
    for line in _price_lines(record):
        console.print(line)
    others = tuple(note for note in record.notes if note.code != VESSEL_TOO_SMALL)
    _show_notes(console, "Good to know", others)
    _show_notes(console, "Clear and smooth?", record.clarity.lines if record.clarity else ())
    for line in category_lines(record.categories):
        console.print(line, style="dim" if line in DIM else None, markup=False, soft_wrap=True)
    for line in caution_lines(record.cautions, in_full=True):
        console.print(line, style="dim" if line in DIM else None, markup=False, soft_wrap=True)


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
        _print_wrapped_plain(console, f"  {member.limit.origin.name}: {_asked(member)}")
        if place := _place(member):
            console.print(f"    [dim]{escape(place)}[/dim]", soft_wrap=True)  # a broken path opens nothing
    moves = [text for member in clash if (text := _move(member))]
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
        _print_wrapped_plain(console, f"  {member.limit.origin.name}: {_asked(member)}")
        if place := _place(member):
            console.print(f"    [dim]{escape(place)}[/dim]", soft_wrap=True)
    _show_notes(console, "Good to know", nothing.notes)


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
    """Print a table without the blanks that fill its last column."""
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


def _profile_table(record: DrinkRecord) -> Table:
    drink = record.predicted
    asked = {target.target: target for target in record.targets}
    table = plain_table()
    table.add_column("in the bottle", no_wrap=True)
    table.add_column("will be", justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    table.add_column("you asked", no_wrap=True)
    table.add_column("", no_wrap=True)
    of_category: list[TargetRecord] = []
    for target in record.targets:
        if target.measure == STRENGTH and STRENGTH not in asked:
            asked[STRENGTH] = target
        elif target.measure != target.target:
            of_category.append(target)
    rows: list[tuple[str, float, str, TargetRecord | None]] = []
    contents = [measure_of(name) for name in drink.attributes_g_l if name in asked]
    for measure in (*IN_EVERY_DRINK, *contents):
        value, held = float(drink.value(measure.name)), asked.get(measure.name)
        if measure.name != BITTERNESS or value > 0.0 or held is not None:
            unit = _spread(record, measure.name) or measure.unit_bottled
            rows.append((measure.name, value, unit, held))
    rows += [(target.measure, target.value, target.unit, target) for target in of_category]
    if record.cost is not None and COST in asked:
        unit = measure_of(COST).unit_bottled.format(currency=record.cost.currency)
        rows.append((COST, record.cost.per_litre, unit, asked[COST]))
    for label, value, unit, held in rows:
        band = band_text(label, held.lower, held.upper) if held else ""
        table.add_row(label, _shown(label, value, held), unit, band, _verdict(held))
    return table


def _spread(record: DrinkRecord, name: str) -> str:
    if name == BITTERNESS and record.bitterness_range is not None:
        low, high = record.bitterness_range
        if high > low * 1.01:
            return f"({low:.0f} to {high:.0f} by lot)"
    if name == STRENGTH and record.confirmable_pct_vol is not None:
        return f"% vol (tools: ±{record.confirmable_pct_vol:.1f})"
    return ""


def _shown(name: str, value: float, target: TargetRecord | None) -> str:
    """Write a figure; one that is met is not rounded to where it would not be."""
    shown = target_value(name, value)
    if target is None or target.verdict:
        return shown
    for digits in range(len(shown.partition(".")[2]) + 1, 4):
        low = target.lower is not None and float(shown) < target.lower - 5e-3
        high = target.upper is not None and float(shown) > target.upper + 5e-3
        if not low and not high:
            break
        shown = f"{value:.{digits}f}"
    return shown


def _verdict(target: TargetRecord | None) -> str:
    if target is None:
        return ""
    if target.verdict:
        return f"[red]{target.verdict}[/red]"
    return "at its limit" if target.binding else ""


def _cost_line(cost: CostLine, status: str) -> str:
    line = f"{money(cost.per_litre)} {cost.currency} per litre, {money(cost.total)} in all."
    if cost.proven_gap is None:
        return line
    if status == "optimal":
        return f"{line} No cheaper recipe exists within these limits ({proved(cost.proven_gap)})."
    return f"{line} Best found: at most {percent(cost.proven_gap)} % dearer than any other."


def _cost_first(cost: CostLine, status: str) -> str:
    """Say what it costs and what is proved of that, in a line."""
    line = f"{money(cost.per_litre)} {cost.currency} per litre, {money(cost.total)} in all"
    if cost.proven_gap is not None and status == "optimal":
        return f"{line}; no cheaper recipe exists (proved)."
    return _cost_line(cost, status) if cost.proven_gap is not None else f"{line}."


def _price_lines(record: DrinkRecord) -> list[str]:
    """Say which targets cost money, in the target's own unit."""
    if record.cost is None:
        return []
    lines = []
    per_litre = record.cost.per_litre
    for target in record.targets:
        price = target.shadow_price
        if price is None or target.target == COST or abs(price) < _WORTH_SAYING * max(per_litre, 0.01):
            continue
        amount = abs(price)
        saved = f"{amount:.2f}" if amount >= 0.01 else f"{amount:.1g}"
        if target.unit:
            moved = f"1 {target.unit} {'less' if price > 0 else 'more'} {target.measure}"
        else:
            moved = f"{target.measure} {'lower' if price > 0 else 'higher'} by 1"
        lines.append(f"  {moved} would save {saved} {record.cost.currency} per litre.")
    return lines


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
    lines = textwrap.wrap(text, console.width, initial_indent="  · ", subsequent_indent="    ")
    console.print("\n".join(lines), markup=False)


def _asked(member: ClashMember) -> str:
    word = "at least" if member.is_lower else "at most"
    if member.bound != member.bound:
        return member.limit.origin.text
    value = target_value(member.limit.origin.name, member.bound)
    if member.limit.origin.name == COST:
        return f"{word} {value} {member.limit.unit}"
    asked = f"{word} {_precise(member.bound, value)} {member.limit.unit}".rstrip()
    # A word such as `firm` is not seen to be a number.
    by_word = member.limit.origin.name == BITTERNESS and not re.search(r"\d", member.limit.origin.text)
    return f"{asked} (`{member.limit.origin.text}`)" if by_word else asked


def _precise(value: float, shown: str) -> str:
    """Give a limit with the digits it was typed with, not fewer."""
    return shown if abs(float(shown) - value) < 1e-9 * max(abs(value), 1.0) else f"{value:.6g}"


def _place(member: ClashMember) -> str:
    location = member.limit.origin.location
    return f"{location.file}:{location.line}" if location else ""


def _move(member: ClashMember) -> str:
    if member.reachable is None or member.reachable != member.reachable:
        return ""
    name, unit = member.limit.origin.name, member.limit.unit
    way = "down to" if member.is_lower else "up to"
    value = _outward(member)
    step = abs(float(value) - member.bound)  # of the figure shown, so that the two add up
    return f"{name} {way} {value} {unit} (moves by {step:.4g})".replace("  ", " ")


def _outward(member: ClashMember) -> str:
    """Round a reachable value so that it can really be reached."""
    value = member.reachable or 0.0
    digits = 2 if abs(value) < 100 else 1
    scaled = value * 10**digits
    rounded = math.floor(scaled + 1e-6) if member.is_lower else math.ceil(scaled - 1e-6)
    return f"{rounded / 10**digits:.{digits}f}"


def _volume(volume: float) -> str:
    return f"{volume:.2f} L" if volume >= 1.0 else f"{volume * 1000:.0f} mL"
