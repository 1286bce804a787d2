"""A drink that was weighed out as a record: what is in the glass, what it costs, what a guest must know."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from formulate.bar.costing import PriceRecord, price_of_drink
from formulate.bar.offers import offer_notes
from formulate.bar.pantry import Pantry
from formulate.bar.potency import potency_notes
from formulate.bar.serve import MIXED, Serve, is_supply, mixed, poured_volume_l
from formulate.bar.wholes import bill_of, line_prices
from formulate.blend.materials import LIQUOR, density_as_bought_kg_m3
from formulate.blend.profile import profile
from formulate.describe.figure_notes import figures_notes, house_made_notes
from formulate.describe.label_record import standard_drinks
from formulate.describe.pour_record import PourLine, PourRecord, PrebatchLine, PrebatchRecord
from formulate.describe.recipe_lines import bar_measure
from formulate.errors import Note, UnitError
from formulate.files.aims import Bottled, Fill, Size
from formulate.files.drink import Drink
from formulate.files.fields import did_you_mean, shown
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.formulation.targets import glass_aims
from formulate.physics.mixture import volume_l
from formulate.quantity.pours import PourUnit
from formulate.quantity.words import listed
from formulate.rules.cautions import cautions_of, menu_cautions
from formulate.rules.contents import Content, contents_of, found_allergens, only_named
from formulate.rules.facts import facts_of_glass
from formulate.rules.law_notes import glass_law, own_content_notes, relied_on_note, shown_everywhere

__all__ = ["care_of", "costs_of", "pour_record", "prebatch"]

FRESH_FAMILIES = ("juice", "fruit", "vegetable")
GROWN_FAMILIES = frozenset(
    {"root", "bark", "herb", "flower", "spice", "citrus", "fruit", "vegetable", "acid", "sweetener", "enzyme"}
)
SPARKLING = frozenset(
    {
        "sparkling",
        "soda",
        "tonic",
        "seltzer",
        "cola",
        "beer",
        "ale",
        "cider",
        "lemonade",
        "carbonated",
        "fizzy",
    }
)
"""Words in the name of what holds gas; a sealed batch with it may burst, an open one goes flat."""
SPOILING = frozenset({"egg", "eggs", "yolk", "albumen", "cream", "milk", "buttermilk", "yoghurt"})
"""Words in the name of raw egg and dairy."""
WEAK_PCT_VOL, WINE_LIKE_PCT_VOL = 20.0, 15.0


SAID_AT_THE_BAR = frozenset({"serving", "ingredient"})
"""Places of cautions that a drink is told with beside the grave ones about what is poured."""


def pour_record(serve: Serve, batch: PrebatchRecord | None = None) -> PourRecord:
    """Tell of a drink that was weighed out.

    Raises
    ------
    SpecError
        If what it must be cannot be read.
    """
    drink, melt = serve.drink, serve.melt
    lines, price = costs_of(serve)
    served = serve.glass.drink
    less = serve.with_melt(melt.mass_kg * (1.0 - melt.spread_share)).drink
    more = serve.with_melt(melt.mass_kg * (1.0 + melt.spread_share)).drink
    used = list(dict.fromkeys(line.ingredient for line in lines if not line.is_garnish))
    problems = Problems(drink.places)
    aims = glass_aims(drink, serve.pantry, problems)
    problems.raise_if_any()
    contents = _contents(serve)
    where = serve.pantry.shelf.jurisdiction if serve.pantry.shelf else None
    law, notes = glass_law(serve)
    notes += [*_melt_notes(serve), *_glass_notes(serve, float(served.volume_l))]
    notes += own_content_notes(serve.pantry, used, float(served.strength_pct_vol))
    notes += figures_notes(serve.ingredients, used, float(served.bitterness_value) > 0.0)
    notes += house_made_notes(serve.pantry, used)
    notes += potency_notes(serve.pantry, used, ())
    notes += offer_notes(serve.pantry, used)
    notes += _dash_notes(drink, serve)
    if price is None:
        unpriced = listed([line.ingredient for line in lines if line.cost is None])
        notes.append(Note("no_prices", f"No cost: {unpriced} has no price on the shelf."))
    if batch is not None:
        notes += _keeping_notes(serve, batch)
    cautions = _cautions(serve, contents, used)
    relied_on = relied_on_note(law, (), cautions, [one for one in serve.ingredients if one.id in used])
    notes += [relied_on] if relied_on is not None else []
    return PourRecord(
        name=drink.name,
        method=drink.method,
        lines=lines,
        poured_l=serve.poured.liquor_l(MIXED),
        poured_strength_pct_vol=serve.poured.liquor_pct_vol(MIXED),
        melt=melt,
        served=served,
        ethanol_kg=serve.ethanol_kg,
        strength_range=(float(more.strength_pct_vol), float(less.strength_pct_vol)),
        volume_range=(float(less.volume_l), float(more.volume_l)),
        glass_l=drink.glass_l,
        aims=aims,
        price=price,
        batch=batch,
        notes=tuple(notes),
        drinks=standard_drinks(float(served.strength_pct_vol), float(served.volume_l), None, where),
        allergens=found_allergens(contents, where),
        cautions=cautions,
        law=law,
    )


def costs_of(serve: Serve) -> tuple[tuple[PourLine, ...], PriceRecord | None]:
    """List what is in a drink and on its glass with the cost of each, and add it up.

    Returns
    -------
    PriceRecord or None
        None when a price is missing.
    """
    drink, shelf = serve.drink, serve.pantry.shelf
    assert shelf is not None
    bill, unpriced = bill_of(serve.pantry, serve.ingredients, serve.paid_kg)
    # What has no price leaves the sum out, and the other lines their prices.
    priced = np.array([one.id not in unpriced for one in serve.ingredients])
    some, paid_kg = bill, serve.paid_kg
    if unpriced:
        some_of = tuple(one for one in serve.ingredients if one.id not in unpriced)
        paid_kg = paid_kg[priced]
        some, _ = bill_of(serve.pantry, some_of, paid_kg)
    per_kg = np.zeros(len(serve.ingredients))
    if some is not None:
        per_kg[priced] = line_prices(some, paid_kg)
    order = {ingredient.id: index for index, ingredient in reversed(list(enumerate(serve.ingredients)))}
    lines = []

    def cost(name: str, mass: float) -> float | None:
        if name in unpriced:
            return None
        return mass * float(per_kg[order[name]])

    for line in drink.ingredients:
        index = order[line.id]
        mass = float(serve.poured.masses_kg[1 if line.after else MIXED, index])
        volume = poured_volume_l(serve.ingredients[index], line.amount, mass)
        lines.append(
            PourLine(line.id, line.amount.text, volume, mass, cost(line.id, mass), line.after, False)
        )
    for topping in drink.garnish:
        if topping.price is not None:
            lines.append(PourLine(topping.id, "1", None, 0.0, topping.price.value, True, True))
        elif is_supply(serve.pantry, topping.id) and topping.amount is not None:
            price = topping.amount.value * _piece_costs(serve.pantry, topping.id)
            lines.append(PourLine(topping.id, topping.amount.text, None, 0.0, price, True, True))
        elif topping.amount is not None:
            mass = float(serve.garnish_kg[order[topping.id]])
            lines.append(
                PourLine(topping.id, topping.amount.text, None, mass, cost(topping.id, mass), True, True)
            )
    if bill is None:
        return tuple(lines), None
    garnish = sum(line.cost or 0.0 for line in lines if line.is_garnish)
    poured = sum(line.cost or 0.0 for line in lines if not line.is_garnish)
    family = {one.id: one.family for one in serve.ingredients}
    waste = sum(
        shelf.service.waste_of_one(line.ingredient, family.get(line.ingredient, "")) * (line.cost or 0.0)
        for line in lines
    )
    asked = None if drink.price is None else drink.price.value
    service, tax = shelf.service, shelf.tax
    return tuple(lines), price_of_drink(poured, garnish, waste, asked, service, tax, shelf.currency)


def _piece_costs(pantry: Pantry, supply: str) -> float:
    """Return the lowest price of one piece of a supply."""
    prices = [
        pantry.offer_price(offer).cost / offer.pack.value
        for offer in pantry.offers(supply)
        if offer.pack is not None
    ]
    return min(prices)


def prebatch(serve: Serve, size: Size, leave_out: Sequence[str]) -> PrebatchRecord:
    """Weigh out a batch to make ahead.

    Parameters
    ----------
    leave_out : sequence of str
        What is kept out of the batch and added to each glass.

    Raises
    ------
    UnitError
        If the size does not say how much, or a thing left out is not in the drink.
    """
    shelf = serve.pantry.shelf
    assert shelf is not None
    names = [line.id for line in serve.drink.ingredients if not line.after]
    # Whatever was asked: gas, raw egg and dairy are for the glass.
    leave_out = [*leave_out, *(one.id for one in serve.ingredients if one.id in names and _for_glass(one))]
    for name in leave_out:
        if name not in names:
            raise UnitError(
                f"--leave-out: '{name}' is not poured over the ice in this drink. {did_you_mean(name, names)}"
            )
    if isinstance(size, Fill):
        if size.vessel not in shelf.vessels:
            raise UnitError(
                f"--batch: no vessel called '{size.vessel}' on the shelf. "
                f"{did_you_mean(size.vessel, shelf.vessels)}".rstrip()
            )
        wanted_l = size.fraction * shelf.vessels[size.vessel]
    elif isinstance(size, Bottled):
        wanted_l = size.volume_l
    else:
        raise UnitError(
            f"--batch: must say how much, got {shown(size.text)}. "
            "Write e.g. 6 bottles of 70 cl, 5 L bottled or fill keg-10l (90 % of the vessel)."
        )
    keep = [ingredient.id not in leave_out for ingredient in serve.ingredients]
    serve_kg = mixed(serve, keep)
    bottled = replace(serve.poured, masses_kg=np.array([serve_kg, np.zeros_like(serve_kg)])).bottled
    serve_l = float(volume_l(bottled[:LIQUOR], check=False))
    if not serve_l > 0.0:
        raise UnitError("--leave-out leaves nothing to batch. Keep something in.")
    serves = wanted_l / serve_l
    lines = [
        _batch_line(serve, index, serves * float(serve_kg[index]))
        for index in range(len(serve.ingredients) - 1)
        if serve_kg[index] > 0.0
    ]
    water = len(serve.ingredients) - 1
    if serve_kg[water] > 0.0:
        lines.append(_batch_line(serve, water, serves * float(serve_kg[water])))
    per_glass, _ = costs_of(serve)
    return PrebatchRecord(
        size_text=size.text,
        lines=tuple(lines),
        drink=profile(serves * bottled, serve.poured.chain.materials),
        serves=serves,
        serve_l=serve_l,
        at_service=tuple(line for line in per_glass if line.after or line.ingredient in leave_out),
    )


def _for_glass(ingredient: Ingredient) -> bool:
    """Whether it may not be batched ahead: what holds gas, raw egg and dairy, by its name."""
    words = set(ingredient.id.split("-"))
    is_grown = ingredient.family in GROWN_FAMILIES
    return (bool(words & SPARKLING) and not is_grown) or (
        bool(words & SPOILING) and ingredient.family == "other"
    )


def _batch_line(serve: Serve, index: int, mass_kg: float) -> PrebatchLine:
    ingredient = serve.ingredients[index]
    density = density_as_bought_kg_m3(ingredient)
    measure = bar_measure(ingredient, mass_kg, serve.pantry)
    # What is not measured by volume, sugar say, is weighed.
    poured = measure.bottles or measure.has_volume
    volume = mass_kg / density * 1000.0 if poured and density is not None else None
    return PrebatchLine(ingredient.id, volume, mass_kg, measure)


def _melt_notes(serve: Serve) -> list[Note]:
    melt = serve.melt
    if melt.weighed or melt.mass_kg == 0.0:
        return []
    text = (
        f"The melt is a starting value ({melt.text}), give or take {100.0 * melt.spread_share:.0f} % of it: "
        "weigh one drink before and after the ice and put `melt: ... g` in its file, or the share under "
        "`service:` on the shelf."
    )
    short = "Melt is a starting value: weigh one drink, put `melt: ... g` in its file."
    return [Note("melt", text, f"{melt.source}, {melt.confidence}", short=short)]


def _glass_notes(serve: Serve, volume: float) -> list[Note]:
    glass = serve.drink.glass_l
    if glass is None:
        return []
    if volume > glass:
        text = f"{volume * 1000.0:.0f} mL do not fit a glass of {glass * 1000.0:.0f} mL, ice in it or not."
        return [Note("glass", text)]
    return []


def _dash_notes(drink: Drink, serve: Serve) -> list[Note]:
    """Say how large a dash and a drop were taken, where the bar did not say."""
    shelf = serve.pantry.shelf
    assert shelf is not None
    said = shelf.service.model_fields_set
    units = {line.amount.unit for line in drink.ingredients}
    parts = []
    if PourUnit.DASHES in units and "dash_l" not in said:
        parts.append(f"a dash as {shelf.service.dash_l * 1000.0:g} mL")
    if PourUnit.DROPS in units and "drop_l" not in said:
        parts.append(f"a drop as {shelf.service.drop_l * 1000.0:g} mL")
    if not parts:
        return []
    text = f"Counted {' and '.join(parts)}: weigh ten of yours and say so under `service:` on the shelf."
    return [Note("dash", text, "common practice")]


def _keeping_notes(serve: Serve, batch: PrebatchRecord) -> list[Note]:
    notes = []
    names = {line.ingredient for line in batch.lines}
    fresh = [
        ingredient.id
        for ingredient in serve.ingredients
        if ingredient.id in names and ingredient.family in FRESH_FAMILIES
    ]
    wines = [one.id for one in serve.ingredients if one.id in names and one.family == "wine"]
    at_glass = {line.ingredient for line in batch.at_service}
    held_back = [one.id for one in serve.ingredients if one.id in at_glass and _for_glass(one)]
    if held_back:
        text = (
            f"{listed(held_back)} goes into each glass and never into a batch: gas bursts what is sealed, "
            "raw egg and dairy spoil within hours."
        )
        notes.append(Note("batch_at_service", text, "common practice"))
    strength = float(batch.drink.strength_pct_vol)
    # The line is that of what keeps least.
    if fresh:
        text = (
            f"With {listed(fresh)} in it the batch is for the same day: 24 hours at most, cold. Added to "
            f"each glass instead (--leave-out {fresh[0]}), the rest keeps longer."
        )
        notes.append(Note("batch_fresh", text, "common practice"))
    elif wines and strength >= WINE_LIKE_PCT_VOL:
        text = f"Keep it cold: 3 to 6 weeks, as {listed(wines)} in it does once open."
        notes.append(Note("batch_keeping", text, "common practice"))
    elif strength < WINE_LIKE_PCT_VOL:
        notes.append(Note("batch_keeping", "Keep it cold: 3 to 6 weeks.", "common practice"))
    elif strength < WEAK_PCT_VOL:
        notes.append(Note("batch_keeping", "Keep it cold once open: 2 to 3 months.", "common practice"))
    text = "The water of the melt is in it: chill it, and pour without ice work or over one large cube."
    notes.append(Note("batch_water", text))
    return notes


def _contents(serve: Serve) -> tuple[Content, ...]:
    """List all that is in the glass and on it, house bottles opened up."""
    names = [line.id for line in serve.drink.ingredients]
    pantry = serve.pantry
    on_glass = [garnish.id for garnish in serve.drink.garnish if garnish.amount is not None]
    names += [name for name in on_glass if not is_supply(pantry, name)]
    priced = [garnish.id for garnish in serve.drink.garnish if garnish.price is not None]
    known = contents_of(serve.ingredients, names, pantry)
    return (*known, *map(only_named, priced))


def _cautions(serve: Serve, contents: Sequence[Content], used: Sequence[str]) -> tuple[Note, ...]:
    """Gather what a guest must know; what is said of making a house bottle belongs to its recipe."""
    shelf = serve.pantry.shelf
    made = set(shelf.house_made) if shelf else set()
    facts = facts_of_glass(serve.glass.drink, contents)
    bought = [
        ingredient for ingredient in serve.ingredients if ingredient.id in used and ingredient.id not in made
    ]
    cautions = cautions_of(facts, bought)
    return tuple(
        note for note in cautions if note.place in SAID_AT_THE_BAR or (note.rank == 1 and note.about)
    )


def care_of(serves: Sequence[Serve]) -> tuple[tuple[Note, ...], tuple[Note, ...], bool]:
    """Gather what each drink would be told with on its own.

    Parameters
    ----------
    serves : sequence of Serve
        The drinks of the menu, weighed out.

    Returns
    -------
    law : tuple of Note
        What the law has to say of a drink, with the drink's name before it.
    cautions : tuple of Note
        What guests must know first; what several drinks have in common is said once, with their names.
    broken : bool
        Whether any drink may not be served as it is.
    """
    law: list[Note] = []
    cautions: list[tuple[str, tuple[Note, ...]]] = []
    broken = False
    for serve in serves:
        record = pour_record(serve)
        name = serve.drink.name
        broken |= record.law.broken
        law += [replace(note, text=f"{name}: {note.text}") for note in shown_everywhere(record.notes)]
        cautions.append((name, record.cautions))
    return tuple(law), menu_cautions(cautions), broken
