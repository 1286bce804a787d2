"""`label`: the figures a label needs, from a recipe, a jar or a bottle file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from formulate.bar.batch import BarBatch, weigh_batch
from formulate.bar.opening import open_pantry
from formulate.blend.materials import LIQUOR
from formulate.describe.label_record import (
    EnergyRecord,
    LabelIngredient,
    LabelRecord,
    standard_drinks,
)
from formulate.errors import Note, SpecError, UnitError
from formulate.files.aims import Bottled
from formulate.files.bottle import Bottle, load_bottle
from formulate.files.categories import categories
from formulate.files.cautions import caution_rules
from formulate.files.disk import is_there
from formulate.files.jar import Jar
from formulate.files.labelling import energy_factors
from formulate.files.loading import load_any
from formulate.files.models import Source
from formulate.files.recipe import Recipe
from formulate.files.standards import Provenance, from_memory, load_rows
from formulate.files.trade_rows import FillRow, KeepingRow, LabelStrengthRow, QuinineRow
from formulate.formulation.solving import recipe_of
from formulate.jobs.predict import predict_batch
from formulate.jobs.solve import solve_bottle
from formulate.learn.jar import fit_jar
from formulate.physics.mixture import COMPONENTS
from formulate.quantity import Dimension, parse_quantity
from formulate.quantity.words import read_option
from formulate.rules.categories import SLACK
from formulate.rules.cautions import sets_off
from formulate.rules.contents import Content, contents_of, found_allergens
from formulate.rules.duty import duty_note
from formulate.rules.label_words import size_notes, word_notes
from formulate.rules.law_notes import shown_everywhere
from formulate.rules.records import CategoryRecord

__all__ = ["energy_of", "label_file", "label_of", "printed_strength"]

PROCESSING_AIDS = frozenset({"enzyme"})
"""Families that are no ingredients by law: used up or taken out."""

ADDED_WATER_SHARE = 0.05
"""Added water up to this share of the finished drink need not be listed (EU, from memory)."""

LISTED_ABOVE_PCT_VOL = 1.2
"""Above this strength the EU asks for no list of ingredients (from memory)."""

DATED_BELOW_PCT_VOL = 10.0
"""From this strength on the EU asks for no date of minimum durability (from memory)."""

DATED_SOURCE = Provenance("Reg. (EU) 1169/2011 Annex X (from memory, not verified); bar practice")

HOURS_PER_WEEK = 7.0 * 24.0

OTHER_DRINKS = frozenset({"eu-strong-drinks", "us-distilled-spirits"})
"""Tolerances of the label that count for a filtered spirit drink."""


def label_file(
    file: Source,
    *,
    bottle_size: str | float | None = None,
    serve: str | float | None = None,
    today: date | None = None,
) -> LabelRecord:
    """Work out the label of a recipe, jar or bottle file; a bottle is solved first.

    Parameters
    ----------
    bottle_size : str or float, optional
        What one bottle holds, as text or in litres; else as the size of the bottle file says.
    serve : str or float, optional
        What one guest gets; else as the bottle file says, else a usual pour.
    today : date, optional
        What dates on the shelf are held against.

    Raises
    ------
    SpecError
        If a file is wrong, or is none of the three.
    InfeasibleError
        When the bottle has no recipe.
    """
    bottle_l, serve_l = _litres("--bottle-size", bottle_size), _litres("--serve", serve)
    made = load_any(file)
    if isinstance(made, Bottle):
        solved = solve_bottle(file, today)
        formulation = solved.formulation
        recipe = recipe_of(formulation.bottle, solved.answer)
        batch = weigh_batch(recipe, formulation.pantry, rules=formulation.rules)
        return label_of(recipe, batch, bottle_l or _bottle_l(made), serve_l, today)
    if not isinstance(made, Recipe):
        message = "has no drink to label. Give a recipe, a jar or a bottle file."
        raise SpecError([made.places.problem((), message)])
    batch = weigh_batch(made, open_pantry(made.shelf_path, made.places, today=today))
    if isinstance(made, Jar):
        batch, _ = fit_jar(made, batch)
    if bottle_l is None and made.bottle_path is not None and is_there(made.bottle_path):
        bottle_l = _bottle_l(load_bottle(made.bottle_path))
    return label_of(made, batch, bottle_l, serve_l, today)


def _litres(option: str, value: str | float | None) -> float | None:
    """Read a volume above zero."""
    if not isinstance(value, str):
        return value

    def above_zero(text: str) -> float:
        litres = parse_quantity(text, Dimension.VOLUME)
        if not litres > 0.0:
            raise UnitError(f"must be above zero, got '{text}'. Check the number.")
        return litres

    return read_option(option, value, above_zero)


def label_of(
    recipe: Recipe,
    batch: BarBatch,
    bottle_l: float | None = None,
    serve_l: float | None = None,
    today: date | None = None,
) -> LabelRecord:
    """Work out the label of a batch.

    Parameters
    ----------
    batch : BarBatch
        What it makes.
    """
    if serve_l is not None:
        batch = replace(batch, rules=replace(batch.rules, serve_l=serve_l, serve_given=True))
    drink = predict_batch(recipe, batch, today)
    where = batch.rules.jurisdiction
    profile = batch.drink
    strength, volume, used = float(profile.strength_pct_vol), batch.volume_l, batch.used
    serve = batch.rules.serve_l
    per_litre = batch.bottled[:LIQUOR] / volume
    contents = contents_of(batch.ingredients, used, batch.pantry)
    quinine = _of_quinine(contents)
    keep, keep_source = _keep(strength, float(profile.dissolved_mass_fraction))
    return LabelRecord(
        name=batch.name,
        jurisdiction=where,
        categories=drink.categories,
        strength_pct_vol=strength,
        strength_text=printed_strength(strength),
        tolerances=_tolerances(strength, where),
        volume_l=volume,
        bottle_l=bottle_l,
        bottles=None if bottle_l is None else int(volume / bottle_l * (1.0 + 1e-6)),
        short=() if bottle_l is None else _short(bottle_l, where),
        ingredients=_listed(batch, used, quinine),
        allergens=found_allergens(contents, where),
        energy=energy_of(dict(zip(COMPONENTS, map(float, per_litre), strict=True))),
        serve_l=serve,
        drinks=standard_drinks(strength, serve, bottle_l, where),
        notes=(
            *shown_everywhere(drink.notes),
            *_notes(batch, drink.categories, used, bottle_l),
            *_duty(batch, strength, volume, where, today),
        ),
        law=drink.law,
        keep=keep,
        keep_source=keep_source,
        quinine_source=_quinine_source(where) if quinine else None,
    )


def _duty(
    batch: BarBatch, strength: float, volume_l: float, where: str | None, today: date | None
) -> tuple[Note, ...]:
    day = today or date.today()
    note = duty_note((strength,), strength / 100.0 * volume_l, batch.pantry.shelf, where, day)
    return () if note is None else (note,)


def printed_strength(strength_pct_vol: float) -> str:
    """Write a strength as a label carries it: one decimal, half up.

    Parameters
    ----------
    strength_pct_vol : float
        What a solver stands on (22.05 as 22.049999999) counts as what it is meant to be.
    """
    exact = Decimal(repr(round(strength_pct_vol, 6)))
    return str(exact.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP))


def energy_of(kg_per_l: Mapping[str, float]) -> EnergyRecord:
    """Add up the energy of 100 mL of a drink.

    Parameters
    ----------
    kg_per_l : mapping of str to float
        Kilograms of each liquor component in a litre.
    """
    rows = energy_factors().rows
    parts = []
    kcal = 0.0
    for row in rows:
        grams = 100.0 * sum(kg_per_l.get(name, 0.0) for name in row.components)
        parts.append((row.id, grams, grams * row.kj_per_g))
        kcal += grams * row.kcal_per_g
    return EnergyRecord(sum(kj for *_, kj in parts), kcal, tuple(parts), rows[0].provenance)


def _bottle_l(bottle: Bottle) -> float | None:
    return bottle.size.bottle_l if isinstance(bottle.size, Bottled) else None


def _tolerances(strength: float, where: str | None) -> tuple[tuple[str, float, Provenance], ...]:
    """Say by how much the printed strength may be off; nothing for what is as good as without alcohol."""
    if strength <= LISTED_ABOVE_PCT_VOL:
        return ()
    return tuple(
        (", ".join(row.jurisdiction), row.tolerance_pct_vol, row.provenance)
        for row in load_rows("label-strength", LabelStrengthRow).holding_in(where)
        if row.id in OTHER_DRINKS
    )


def _short(bottle_l: float, where: str | None) -> tuple[tuple[str, float, Provenance], ...]:
    """Say by how much a bottle may hold less; of two classes that meet at this size the stricter."""
    by_place: dict[str, tuple[str, float, Provenance]] = {}
    for row in load_rows("fill-tolerances", FillRow).holding_in(where):
        if not (row.from_l - 1e-9 <= bottle_l and (row.up_to_l is None or bottle_l <= row.up_to_l + 1e-9)):
            continue
        place, short = ", ".join(row.jurisdiction), row.short_l(bottle_l)
        if place not in by_place or short < by_place[place][1]:
            by_place[place] = (place, short, row.provenance)
    return tuple(by_place.values())


def _of_quinine(contents: Sequence[Content]) -> frozenset[str]:
    """Name what is weighed in and holds quinine, inside a house-made thing too."""
    rule = caution_rules()["cinchona-medicines"]
    bitter = (content for content in contents if sets_off(rule, content))
    return frozenset(content.inside or content.id for content in bitter)


def _quinine_source(where: str | None) -> Provenance:
    rows = load_rows("quinine", QuinineRow)
    row = next((rule for rule in rows.holding_in(where) if rule.id == "eu-named"), rows["us-salts"])
    source: Provenance = row.provenance
    return source


def _keep(strength: float, dissolved: float) -> tuple[str, Provenance | None]:
    """Say how a drink is kept that spirit does not keep; empty for the rest."""
    if strength >= DATED_BELOW_PCT_VOL:
        return "", None
    rows = [row for row in load_rows("keeping", KeepingRow).rows if row.sugar_at_least is not None]
    fitting = [row for row in rows if row.keeps_h is not None and (row.sugar_at_least or 0.0) <= dissolved]
    dated = f"print a date (the EU asks for one below {DATED_BELOW_PCT_VOL:g} % vol)"
    if strength > LISTED_ABOVE_PCT_VOL or not fitting:
        return f"below 5 °C and for days only, unless a tested process keeps it; {dated}", DATED_SOURCE
    row = max(fitting, key=lambda keeping: keeping.sugar_at_least or 0.0)
    weeks = (row.keeps_h or 0.0) / HOURS_PER_WEEK
    measured = "" if row.ph_below is None else f" if its pH is {row.ph_below:g} or less (measure it)"
    return f"below 5 °C, {weeks:.0f} weeks{measured}; {dated}", row.provenance


def _listed(batch: BarBatch, used: Sequence[str], quinine: frozenset[str]) -> tuple[LabelIngredient, ...]:
    """List what was weighed in, most first; equal masses in the order of the file."""
    lines = []
    for ingredient, mass in zip(batch.ingredients, batch.used_kg, strict=True):
        if ingredient.id not in used or ingredient.family in PROCESSING_AIDS:
            continue
        to_name = ("quinine",) if ingredient.id in quinine else ()
        lines.append(
            LabelIngredient(
                ingredient.id, ingredient.name, float(mass), _made_of(batch, ingredient.id), to_name
            )
        )
    return tuple(sorted(lines, key=lambda line: -line.mass_kg))


def _made_of(batch: BarBatch, ingredient_id: str) -> tuple[str, ...]:
    shelf = batch.pantry.shelf
    if shelf is None or ingredient_id not in shelf.house_made:
        return ()
    inner = batch.pantry.made(ingredient_id).batch
    return tuple(
        ingredient.name
        for ingredient, _ in sorted(inner.holdings(), key=lambda holding: -holding[1])
        if ingredient.family not in PROCESSING_AIDS
    )


def _notes(
    batch: BarBatch, records: Sequence[CategoryRecord], used: Sequence[str], bottle_l: float | None
) -> Iterable[Note]:
    strength = float(batch.drink.strength_pct_vol)
    yield Note(
        "measure_first",
        "Calculated, not measured. Before you print it, have strength and sugar measured by a licensed "
        "laboratory (distilling is theirs to do), and a label read by somebody who knows your law.",
    )
    printed = printed_strength(strength)
    for row in categories().rows:
        held = next((record for record in records if record.id == row.id and record.relevant), None)
        least = row.strength.lower if held is not None and row.strength is not None else None
        if least is None or not strength < least * (1.0 - SLACK) <= float(printed):
            continue
        yield Note(
            "rounds_over_a_line",
            f"{strength:.2f} % vol prints as {printed}, but {row.names[0]} needs {least:g} in the bottle.",
            row.provenance,
        )
    yield from word_notes(batch, batch.rules.jurisdiction)
    if bottle_l is not None:
        yield from size_notes(batch, bottle_l, batch.rules.jurisdiction)
    water = [mass for ingredient, mass in batch.holdings() if ingredient.family == "water"]
    if water and sum(water) <= ADDED_WATER_SHARE * float(batch.drink.mass_kg):
        yield Note(
            "little_water",
            "Added water is at most 5 % of the drink: it need not be listed.",
            from_memory("Reg. (EU) 1169/2011 Annex VII"),
        )
    aids = [
        ingredient.id
        for ingredient in batch.ingredients
        if ingredient.family in PROCESSING_AIDS and ingredient.id in used
    ]
    enzyme_steps = any(step.enzyme is not None for step in batch.specs)
    if aids or enzyme_steps:
        yield Note(
            "processing_aid",
            "The enzyme is a processing aid and is not listed.",
            from_memory("Reg. (EU) 1169/2011 article 20"),
        )
    other = float(batch.bottled[COMPONENTS.index("other_soluble")]) / batch.volume_l * 100.0
    if other >= 0.05:
        yield Note(
            "other_dissolved",
            f"{other:.1f} g per 100 mL is dissolved and has no name here; it is counted as carbohydrate. "
            "That is right for sugar and protein, too much for fibre, and less than half of what fat gives: "
            "with milk, cream, egg or nuts in it have the energy measured.",
            "Reg. (EU) 1169/2011 Annex XIV",
        )
