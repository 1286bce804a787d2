"""Ingredients of the library on the terminal: a list, or one with all its figures and where they are from."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from formulate.report.terminal import plain_table, print_bullet, print_table, print_wrapped
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.describe.records import IngredientFacts
    from formulate.files.doses import Dose, DoseRange
    from formulate.files.ingredient import Ingredient

__all__ = ["show_ingredient", "show_ingredients"]


@on_screen
def show_ingredients(console: Console, ingredients: tuple[Ingredient, ...]) -> None:
    """List ingredients, one line each."""
    table = plain_table()
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
    print_table(console, table)
    print_wrapped(
        console,
        f"{len(ingredients)} ingredients. Sugar and acid in % by mass as bought; bitterness value per gram.",
    )


@on_screen
def show_ingredient(console: Console, item: Ingredient, facts: IngredientFacts | None = None) -> None:
    """Show one ingredient with its sources, and what was worked out about it."""
    latin = f" [dim]({escape(item.latin)})[/dim]" if item.latin else ""
    console.print(f"[bold]{escape(item.name)}[/bold]{latin}  {item.id}, {item.family}")
    if item.overrides:
        console.print(f"[yellow]Your shelf's own values: {', '.join(item.overrides)}[/yellow]")
    elif facts is not None and facts.own:
        console.print("[yellow]Your shelf's own entry[/yellow]")
    table = plain_table()
    table.add_column("figure")
    table.add_column("value", justify="right")
    if item.strength_pct_vol is not None:
        table.add_row("strength", f"{item.strength_pct_vol:g} % vol")
    for name, share in item.composition.items():
        table.add_row(name.replace("_", " "), f"{share * 100:.4g} % w/w")
    for name, band in item.ranges.items():
        low, high = (100.0 * (end or 0.0) for end in (band.lower, band.upper))
        table.add_row(f"{name} of lots in tables", f"{low:.4g} to {high:.4g} % w/w")
    if item.density_kg_m3 is not None:
        table.add_row("density", f"{item.density_kg_m3:.4g} kg/m3")
    if item.retention_kg_per_kg:
        table.add_row("liquor it keeps when pressed", f"{item.retention_kg_per_kg:g} kg/kg")
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
    print_table(console, table)
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
        print_bullet(console, f"{', '.join(source.figures)}: {source.source} ({source.confidence})")
    for substance, _, where_from in facts.restricted if facts is not None else ():
        print_bullet(console, f"{substance}: {where_from}")
    if facts is not None and facts.infusion_class is not None:
        print_bullet(console, f"infusing: {facts.infusion_source} ({facts.infusion_confidence})")


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


def _value(bitterness: float) -> str:
    return f"{bitterness:.0f}" if bitterness >= 100.0 else f"{bitterness:.3g}"


def _per_cent(share: float) -> str:
    return f"{share * 100:.1f}" if share else ""
