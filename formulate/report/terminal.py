"""Records to the terminal: at most 80 columns, in a cook's words."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from formulate.describe.records import ADVICE, CostLine, DrinkRecord, IngredientFacts, TargetRecord
from formulate.errors import VESSEL_TOO_SMALL, Note
from formulate.files.measures import BITTERNESS, COST, IN_EVERY_DRINK, STRENGTH, measure_of
from formulate.report.no_recipe_text import reach_lines
from formulate.report.numbers import band_text, money, percent, proved, target_value
from formulate.report.plain import flavour_line, measured_at, too_small_lines
from formulate.report.recipe_text import purchase_lines, purchase_rows, recipe_rows
from formulate.report.rules_text import category_lines, caution_lines, law_lines, over_lines

if TYPE_CHECKING:
    from formulate.describe.no_recipe import NoRecipe
    from formulate.files.doses import Dose, DoseRange
    from formulate.files.ingredient import Ingredient
    from formulate.jobs.check import CheckedFile
    from formulate.optimise.diagnose import ClashMember

__all__ = [
    "WIDTH",
    "make_console",
    "show_checked",
    "show_drink",
    "show_ingredient",
    "show_ingredients",
    "show_no_recipe",
]

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


def show_drink(
    console: Console, record: DrinkRecord, *, all_cautions: bool = False, proof: bool = False
) -> None:
    """Show a worked-out batch: what to weigh, what it will be, what it costs, what to mind."""
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
    _print_table(console, _recipe_table(record))
    for line in measured_at(line.measure for line in record.recipe):
        console.print(line, style="dim", markup=False)
    console.print()
    if record.purchases:
        _show_purchases(console, record)
    _print_table(console, _profile_table(record))
    for text in law_lines(record.law):
        console.print(text, markup=False, soft_wrap=True)
    if record.flavour:
        _print_wrapped(console, flavour_line(record.flavour))
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
    for line in caution_lines(record.cautions, in_full=all_cautions):
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
        _print_bullet(console, change)
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
        _print_wrapped(console, file.summary, indent="    ")


def show_ingredients(console: Console, ingredients: tuple[Ingredient, ...]) -> None:
    """List ingredients, one line each."""
    table = _plain_table()
    table.add_column("id", no_wrap=True)
    table.add_column("name")
    table.add_column("family", style="dim")
    table.add_column("sugar", justify="right")
    table.add_column("acid", justify="right")
    table.add_column("bitter", justify="right")
    for item in ingredients:
        bitter = f"{item.bitterness.value:g}" if item.bitterness else ""
        name = f"{item.name} (yours)" if item.overrides or item.based_on else item.name
        table.add_row(
            item.id,
            escape(name),
            item.family,
            _per_cent(item.sugar_share),
            _per_cent(item.acid_share),
            bitter,
        )
    _print_table(console, table)
    _print_wrapped(
        console,
        f"{len(ingredients)} ingredients. Sugar and acid in % by mass as bought; bitterness value per gram.",
    )


def show_ingredient(console: Console, item: Ingredient, facts: IngredientFacts | None = None) -> None:
    """Show one ingredient with its sources, and what was worked out about it."""
    latin = f" [dim]({escape(item.latin)})[/dim]" if item.latin else ""
    console.print(f"[bold]{escape(item.name)}[/bold]{latin}  {item.id}, {item.family}")
    if item.overrides:
        console.print(f"[yellow]Your shelf's own values: {', '.join(item.overrides)}[/yellow]")
    elif facts is not None and facts.own:
        console.print("[yellow]Your shelf's own entry[/yellow]")
    table = _plain_table()
    table.add_column("figure")
    table.add_column("value", justify="right")
    if item.strength_pct_vol is not None:
        table.add_row("strength", f"{item.strength_pct_vol:g} % vol")
    for name, share in item.composition.items():
        table.add_row(name.replace("_", " "), f"{share * 100:.4g} % w/w")
    if item.density_kg_m3 is not None:
        table.add_row("density", f"{item.density_kg_m3:.4g} kg/m3")
    if item.retention_kg_per_kg:
        table.add_row("liquor the cake keeps", f"{item.retention_kg_per_kg:g} kg/kg")
    if item.bitterness is not None:
        bitter = item.bitterness
        spread = f" ({_value(bitter.low)} to {_value(bitter.high)})" if bitter.low and bitter.high else ""
        table.add_row("bitterness value per gram", f"{_value(bitter.value)}{spread}")
        table.add_row("of it extracted", f"{bitter.extracted * 100:g} %")
    for name, dose in _dose_rows(item.dose):
        table.add_row(name, dose)
    for name, content in item.attributes.items():
        table.add_row(name, f"{content:.4g} mg/g")
    for substance, content, _ in facts.restricted if facts is not None else ():
        table.add_row(f"{substance}, limited by law", f"{content:.4g} mg/g")
    if facts is not None and facts.infusion_class is not None:
        table.add_row("infuses like", facts.infusion_class.replace("_", " "))
        table.add_row("washed off at once", f"about {(facts.wash_share or 0.0) * 100:.0f} %")
        table.add_row("63 % of the rest after about", f"{facts.time_constant_h:g} h at {facts.at_c:g} °C")
    _print_table(console, table)
    for text in (facts.potency_text, facts.pair_text) if facts is not None else ():
        if text:
            console.print("\n" + "\n".join(textwrap.wrap(text, console.width)), markup=False)
    if item.notes:
        console.print("\n" + "\n".join(textwrap.wrap(item.notes, console.width)), markup=False)
    for text in facts.rules if facts is not None else ():
        lines = textwrap.wrap(f"By law: {text}", console.width)
        console.print("\n".join(lines), style="yellow", markup=False)
    for text in item.cautions:
        console.print(f"[yellow]Take care:[/yellow] {escape(text)}")
    console.print("\n[dim]Where it comes from[/dim]")
    for source in item.sources:
        _print_bullet(console, f"{', '.join(source.figures)}: {source.source} ({source.confidence})")
    for substance, _, where_from in facts.restricted if facts is not None else ():
        _print_bullet(console, f"{substance}: {where_from}")
    if facts is not None and facts.infusion_class is not None:
        _print_bullet(console, f"infusing: {facts.infusion_source} ({facts.infusion_confidence})")


def _dose_rows(dose: Dose | None) -> list[tuple[str, str]]:
    """Say the usual doses of an ingredient, as name and value."""
    if dose is None:
        return []
    rows = [("usual dose by the glass", _dose_range(dose))]
    if dose.accent_g_l is not None:
        rows.append(("as an accent beside others", f"from {dose.accent_g_l:g} g/L"))
    if dose.printed_g_l is not None:
        rows.append(("most found in print", f"{dose.printed_g_l:g} g/L"))
    if dose.concentrate is not None:
        rows.append(("in a concentrate", _dose_range(dose.concentrate)))
    return rows


def _dose_range(dose: DoseRange) -> str:
    return f"{dose.usual_g_l:g} g/L ({dose.low_g_l:g} to {dose.high_g_l:g})"


def _plain_table() -> Table:
    return Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim", show_edge=False)


def _print_table(console: Console, table: Table) -> None:
    """Print a table without the blanks that fill its last column."""
    with console.capture() as capture:
        console.print(table)
    lines = [line.rstrip() for line in capture.get().splitlines()]
    console.file.write("\n".join(lines) + "\n")


def _recipe_table(record: DrinkRecord) -> Table:
    (step, name, mass, measure, last), *rows = recipe_rows(record)
    table = _plain_table()
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
    table = _plain_table()
    table.add_column(name, no_wrap=True, overflow="ellipsis")
    table.add_column(mass, justify="right", no_wrap=True)
    table.add_column(cost, justify="right", no_wrap=True)
    for row in rows:
        table.add_row(*map(escape, row))
    _print_table(console, table)
    console.print("\n".join(purchase_lines(record, console.width)), markup=False)
    console.print()


def _profile_table(record: DrinkRecord) -> Table:
    drink = record.predicted
    asked = {target.target: target for target in record.targets}
    table = _plain_table()
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
        direction = "less" if price > 0 else "more"
        unit = f" {target.unit}" if target.unit else " point"
        amount = abs(price)
        saved = f"{amount:.2f}" if amount >= 0.01 else f"{amount:.1g}"
        lines.append(
            f"  1{unit} {direction} {target.measure} would save {saved} {record.cost.currency} per litre."
        )
    return lines


def _show_notes(console: Console, title: str, notes: Iterable[Note]) -> None:
    notes = tuple(notes)
    if not notes:
        return
    console.print(f"\n[dim]{title}[/dim]")
    for note in notes:
        source = f" [{note.source}]" if note.code != "ingredient" and note.source else ""
        _print_bullet(console, f"{note.text}{source}")


def _print_wrapped(console: Console, text: str, *, indent: str = "") -> None:
    """Print a remark in dim letters, wrapped by words and without blanks at the line ends."""
    lines = textwrap.wrap(text, console.width, initial_indent=indent, subsequent_indent=indent)
    console.print("\n".join(lines), style="dim", markup=False)


def _print_wrapped_plain(console: Console, text: str) -> None:
    lines = textwrap.wrap(text, console.width, subsequent_indent="      ")
    console.print("\n".join(lines), markup=False)


def _print_bullet(console: Console, text: str) -> None:
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


def _value(bitterness: float) -> str:
    return f"{bitterness:.0f}" if bitterness >= 100.0 else f"{bitterness:.3g}"


def _per_cent(share: float) -> str:
    return f"{share * 100:.1f}" if share else ""
