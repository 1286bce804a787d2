"""Remarks on the plan of a menu: what its margin covers, what keeps days or fades, which prices are old."""

from __future__ import annotations

from formulate.bar.meant import price_questions
from formulate.bar.offers import offer_notes
from formulate.describe.doses import unusual_dose_notes
from formulate.describe.menu_record import MenuDrinkRow
from formulate.errors import Note
from formulate.planning.goods import MenuGoods
from formulate.quantity.words import listed

__all__ = ["plan_notes"]


def plan_notes(goods: MenuGoods, drinks: tuple[MenuDrinkRow, ...]) -> tuple[Note, ...]:
    """Say what a plan takes for granted, and what to mind about it."""
    menu = goods.menu
    notes = []
    if menu.cover_share > 0.5:
        text = (
            f"Enough is bought and made for {100.0 * menu.cover_share:g} of 100 such periods, if drinks and "
            "days vary each by itself."
        )
        notes.append(Note("cover", text))
    elif any(entry.sells.spread for entry in menu.drinks):
        text = "The plain forecast is covered: it falls short every other time. `cover: 90 %` adds a margin."
        notes.append(Note("cover", text))
    text = "Costs of drinks count what is used, at the lowest price of the shelf; the list counts packs"
    if any(entry.bottled or entry.each_batch or entry.labour for entry in menu.house.values()):
        text += ", and what house bottles are filled into. Work is told beside it"
    notes.append(Note("cost_by_use", f"{text}."))
    bare = [row.name for row in drinks if row.price is not None and row.price.price is None]
    if bare:
        notes.append(Note("no_menu_price", f"No price on the menu for {listed(bare)}: not in the totals."))
    if goods.question.makings:
        notes.append(
            Note(
                "fixed_recipes",
                "House bottles are made by their recipes, losses in proportion to the batch; use "
                "`formulate scale` for what a batch of that size really loses.",
            )
        )
    notes += _fading_notes(goods)
    notes += _dose_notes(goods)
    named = [good.name for good in goods.question.goods]
    notes += offer_notes(goods.pantry, named)
    notes += price_questions(goods.pantry, named)
    return tuple(notes)


def _dose_notes(goods: MenuGoods) -> list[Note]:
    """Name house bottles with a dose no bar would serve."""
    notes = []
    for name in goods.house:
        batch = goods.pantry.made(name).batch
        unusual = unusual_dose_notes(batch, batch.kind)
        notes += [Note(note.code, f"{name}: {note.text}") for note in unusual]
    return notes


def _fading_notes(goods: MenuGoods) -> list[Note]:
    fading = [good for good in goods.question.goods if good.strength_left]
    if not fading:
        return []
    parts = [f"{100.0 * (1.0 - good.strength_left[-1]):.0f} % of {good.name}" for good in fading]
    text = (
        f"What stands from the first week to the last loses strength: {listed(parts)}. Later batches are "
        "counted with as much more of it."
    )
    return [Note("fading", text, "common practice")]
