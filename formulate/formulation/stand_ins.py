"""What could stand in for an ingredient that is gone, and what the bottle file asks of it then."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.bar.permitted import refusal, rules_of
from formulate.bar.restricted import limited_in_spirit
from formulate.blend.chain import Step
from formulate.blend.materials import gather, kinetics_of
from formulate.blend.steps import leaves_solids, steps_of
from formulate.errors import SpecError
from formulate.files.bottle import Bottle, IngredientUse
from formulate.files.ingredient import Ingredient
from formulate.files.measures import BITTERNESS
from formulate.files.search import BITTER_FROM, is_bitter
from formulate.files.together import Ratio, ShareOf, Sum
from formulate.formulation.ingredient_limits import MASS
from formulate.physics.extraction import approach
from formulate.physics.mixture import CITRIC_EQUIVALENT
from formulate.quantity import Amount, AmountBand, AmountBasis
from formulate.quantity.words import listed

__all__ = ["StandIns", "let_in_beside", "properties", "stand_ins_for", "with_stand_ins", "worth_of"]

MAINLY = 0.5
"""A thing is sour or sweet when this share of it, by mass, is acid or sugar."""

STRONG_PCT_VOL = 30.0
MOST_SUGGESTED = 6
MUCH_MORE_BITTER = 50.0
"""So many times as bitter, weight for weight, is another plant."""
_HANDED = ("at_least", "at_most", "exactly", "share_of_bitterness", "share_of_mass")
AS_MUCH = 0.1
"""What was asked exactly is asked of another plant within this share: no two lots are nearer."""


@dataclass(frozen=True)
class StandIns:
    """What could take the place of one ingredient.

    Attributes
    ----------
    listed
        Of the same family, already in the bottle file.
    offered
        On the shelf with a price, not in the bottle file.
    suggested
        In the library, without a price: named, not used.
    """

    missing: str
    listed: tuple[str, ...]
    offered: tuple[str, ...]
    suggested: tuple[str, ...]


def properties(ingredient: Ingredient) -> frozenset[str]:
    """Say what an ingredient is there for: its family, and bitter, sour, sweet or strong."""
    names = {f"family {ingredient.family}"}
    if is_bitter(ingredient):
        names.add("bitter")
    if ingredient.acid_share >= MAINLY:
        names.add("sour")
    if ingredient.sugar_share >= MAINLY:
        names.add("sweet")
    if (ingredient.strength_pct_vol or 0.0) >= STRONG_PCT_VOL:
        names.add("strong")
    return frozenset(names)


def stand_ins_for(missing: str, bottle: Bottle, pantry: Pantry, excluded: Iterable[str]) -> StandIns:
    """Look for stand-ins: on the bottle's list, then among the shelf's offers, then in the library.

    Parameters
    ----------
    excluded
        Everything that may not be used.

    Returns
    -------
    StandIns
        Of the same family or with the same property, those of the same family first. What is much more
        bitter never stands in, nor for a mild plant what holds something else that the law limits.
    """
    wanted = pantry.unaged(missing)
    rules = rules_of(bottle, pantry)
    listed = {use.id for use in bottle.uses}
    out = {missing, *excluded}
    same_family = tuple(
        use.id
        for use in bottle.uses
        if use.id not in out
        and (known := pantry.unaged(use.id)).family == wanted.family
        and _no_harsher(known, wanted)
    )
    offered: list[Ingredient] = []
    suggested: list[Ingredient] = []
    for name in _known(pantry):
        if name in out or name in listed:
            continue
        candidate = _usable(name, pantry)
        if candidate is None or not properties(candidate) & properties(wanted) or refusal(candidate, rules):
            continue
        if not _no_harsher(candidate, wanted):
            continue
        (offered if _priced(candidate, pantry) else suggested).append(candidate)
    return StandIns(
        missing,
        same_family,
        tuple(candidate.id for candidate in _ranked(offered, wanted)),
        tuple(candidate.id for candidate in _ranked(suggested, wanted)[:MOST_SUGGESTED]),
    )


def _no_harsher(candidate: Ingredient, wanted: Ingredient) -> bool:
    """Say whether one plant may take another's weight: not if much more bitter, or more limited by law."""
    # Among bitter plants one that the law limits may stand in, up to its limit; for a mild one it may not.
    if not is_bitter(wanted) and limited_in_spirit(candidate) - set(wanted.restricted):
        return False
    bitter, known = (
        0.0 if plant.bitterness is None else plant.bitterness.value for plant in (candidate, wanted)
    )
    return bitter <= max(BITTER_FROM, MUCH_MORE_BITTER * known)


def with_stand_ins(
    bottle: Bottle, pantry: Pantry, stand_ins: Iterable[StandIns], short: Collection[str] = ()
) -> tuple[Bottle, list[str]]:
    """Put stand-ins on a bottle's list and hand them what was asked of the missing ones.

    The missing ones stay on the list, so that every line keeps its place in the file; the caller keeps them
    out of the recipe, or to what is left of them: what was asked of one that is short is then asked of it and
    its stand-ins together.

    Parameters
    ----------
    short
        Those that are not wholly missing.

    Returns
    -------
    handed : list of str
        What was handed over, in words.
    """
    handed: list[str] = []
    for stand_in in stand_ins:
        bottle = _joined(bottle, pantry, stand_in)
        left = (stand_in.missing,) if stand_in.missing in short else ()
        if not left:
            bottle = _without_ratios(bottle, stand_in.missing, handed)
            bottle = _without_lead(bottle, stand_in.missing, handed)
        heirs = (*left, *stand_in.listed, *stand_in.offered)
        if len(heirs) > len(left):
            bottle = _handed_over(bottle, pantry, stand_in.missing, heirs, stand_in.listed, handed)
    return bottle, handed


def _joined(bottle: Bottle, pantry: Pantry, stand_in: StandIns) -> Bottle:
    """List the offered stand-ins in the step of the missing one, or in any that strains if it must be."""
    step = next(use.step for use in bottle.uses if use.id == stand_in.missing)
    specs = steps_of(bottle.resolved_steps())
    straining = {spec.name for spec in specs if spec.strains}
    uses = []
    for name in stand_in.offered:
        if any(use.id == name for use in bottle.uses):
            continue
        ingredient = pantry.ingredient(name)
        solid = leaves_solids(ingredient, gather([ingredient]), 0)
        if solid and not straining:
            continue
        goes_there = step is not None and (not solid or step in straining)
        uses.append(IngredientUse(id=name, step=step if goes_there else None, optional=True))
    return bottle.model_copy(update={"ingredients": (*bottle.ingredients, *uses)})


def _handed_over(
    bottle: Bottle, pantry: Pantry, missing: str, heirs: tuple[str, ...], there: tuple[str, ...],
    handed: list[str],
) -> Bottle:  # fmt: skip
    """Ask of the heirs together what the file asks of the missing one.

    The most is asked of those that are new: what is `there` already has its own.
    """
    known = {use.id for use in bottle.uses}
    ids = tuple(name for name in heirs if name in known)
    if not ids:
        return bottle
    together = [_widened(rule, missing, ids) for rule in bottle.together]
    uses = []
    for index, use in enumerate(bottle.ingredients):
        if use.id != missing:
            uses.append(use)
            continue
        uses.append(use.model_copy(update=dict.fromkeys(_HANDED)))
        worth = _worth_in_step(use, bottle, pantry, ids)
        for key, amount in (("at_least", use.at_least), ("exactly", use.exactly), ("at_most", use.at_most)):
            if amount is not None:
                path = ("ingredients", index, missing, key)
                try:
                    band = _band(amount, key, pantry, missing)
                except UnknownMassError as error:
                    raise SpecError([bottle.places.problem(path, str(error))]) from None
                asked = dict(zip(ids, worth, strict=True))
                if key == "at_most":
                    asked = {name: factor for name, factor in asked.items() if name not in there}
                if not asked.keys() - {missing}:
                    continue
                together.append(Sum(tuple(asked), band, (missing, path), tuple(asked.values())))
                handed.append(_handed_text(f"{key.replace('_', ' ')} {amount.text}", missing, asked))
        for of, share in ((BITTERNESS, use.share_of_bitterness), (MASS, use.share_of_mass)):
            if share is not None:
                place = ("ingredients", index, missing, f"share_of_{of}")
                together.append(ShareOf(ids, of, share, (missing, place)))
                handed.append(f"{share.text} of the {of} from {missing} is now asked of {_any_of(ids)}")
    return bottle.model_copy(update={"ingredients": tuple(uses), "together": tuple(together)})


def _worth_in_step(
    use: IngredientUse, bottle: Bottle, pantry: Pantry, ids: Sequence[str]
) -> tuple[float, ...]:
    """Say what each heir is worth of the missing one, mass for mass, as the step of that draws them out."""
    steps = steps_of(bottle.resolved_steps())
    step = next(
        (step for step in steps if step.name == use.step or (use.step is None and step.strains)), None
    )
    wanted = pantry.unaged(use.id)
    return tuple(1.0 if name == use.id else worth_of(wanted, pantry.unaged(name), step) for name in ids)


def _handed_text(asked: str, missing: str, worth: Mapping[str, float]) -> str:
    """Say what is asked of others now, and what a gram of each counts."""
    scaled = [
        f"1 g of {name} counts as {factor:.2g} g"
        for name, factor in worth.items()
        if name != missing and factor != 1.0
    ]
    by = f": {listed(scaled)}, by what each brings" if scaled else ""
    return f"{asked} of {missing} is now asked of {_any_of(tuple(worth))}{by}"


def _any_of(ids: tuple[str, ...]) -> str:
    return ids[0] if len(ids) == 1 else f"{', '.join(ids[:-1])} and {ids[-1]} together"


def _without_ratios(bottle: Bottle, missing: str, handed: list[str]) -> Bottle:
    """Drop ratios to what is gone: kept, they would take their other side out too."""
    rules = []
    for rule in bottle.together:
        if isinstance(rule, Ratio) and missing in (rule.numerator, rule.denominator):
            text = f"{rule.numerator} to {rule.denominator}"
            handed.append(f"the ratio of {text} was left out, for {missing} is gone")
        else:
            rules.append(rule)
    return bottle.model_copy(update={"together": tuple(rules)})


def _without_lead(bottle: Bottle, missing: str, handed: list[str]) -> Bottle:
    """Let anything lead where what was to lead is gone."""
    if bottle.lead != missing:
        return bottle
    handed.append(f"that {missing} leads the flavour was left out, for it is gone")
    return bottle.model_copy(update={"lead": None})


def _widened(rule: Ratio | Sum | ShareOf, missing: str, ids: tuple[str, ...]) -> Ratio | Sum | ShareOf:
    if isinstance(rule, Ratio) or missing not in rule.ids:
        return rule
    return replace(rule, ids=tuple(dict.fromkeys((*rule.ids, *ids))))


def _band(amount: Amount, key: str, pantry: Pantry, missing: str) -> AmountBand:
    basis, value = amount.basis, amount.value
    if basis is not AmountBasis.SHARE_OF_MASS:
        value = pantry.mass_kg(amount, pantry.unaged(missing))
        per_litre = basis in (AmountBasis.MASS_PER_LITRE, AmountBasis.VOLUME_PER_LITRE)
        basis = AmountBasis.MASS_PER_LITRE if per_litre else AmountBasis.MASS
    near = AS_MUCH if key == "exactly" else 0.0
    lower = None if key == "at_most" else value * (1.0 - near)
    upper = None if key == "at_least" else value * (1.0 + near)
    return AmountBand(lower, upper, basis, amount.text)


def _known(pantry: Pantry) -> list[str]:
    """Everything that could be taken: the shelf's own first, then the library."""
    shelf = pantry.shelf
    own = [] if shelf is None else [*shelf.offers, *shelf.house_made, *shelf.ingredients]
    parts = [] if shelf is None else [part for whole in shelf.whole.values() for part in whole.parts]
    return list(dict.fromkeys([*own, *parts, *pantry.library.ids()]))


def _usable(name: str, pantry: Pantry) -> Ingredient | None:
    try:
        return pantry.ingredient(name)
    except SpecError:  # only a stand-in: `check` on the shelf tells what is wrong with it
        return None


def _priced(ingredient: Ingredient, pantry: Pantry) -> bool:
    try:
        return pantry.price_per_kg(ingredient) is not None
    except UnknownMassError:
        return False


def _ranked(candidates: list[Ingredient], wanted: Ingredient) -> list[Ingredient]:
    """Put the same family first, then by how many properties are shared, else as found."""
    return sorted(
        candidates,
        key=lambda candidate: (
            candidate.family != wanted.family,
            -len(properties(candidate) & properties(wanted)),
        ),
    )


def let_in_beside(dearer: Sequence[str], stand_ins: Sequence[StandIns]) -> str:
    """Say what was let in beside what has become too dear."""
    names = dict.fromkeys(
        name
        for stand_in in stand_ins
        if stand_in.missing in dearer
        for name in (*stand_in.listed, *stand_in.offered)
    )
    let_in = f" What may stand in was let in beside it: {', '.join(names)}." if names else ""
    what = ", ".join(dearer)
    return f"With {what} at the new price nothing on the list keeps your limit on the cost.{let_in}"


def worth_of(missing: Ingredient, other: Ingredient, step: Step | None = None) -> float:
    """Return how much of the missing one a stand-in is worth, mass for mass.

    By what both are there for: bitterness as the step draws it out, acid, sugar or alcohol; else by their
    usual doses, as far as both are known; else the same mass.
    """
    shared = properties(missing) & properties(other)
    for name, brings in (("bitter", _bitter), ("sour", _sour), ("sweet", _sweet), ("strong", _strong)):
        if name in shared and brings(missing) > 0.0 and brings(other) > 0.0:
            drawn = _drawn(other, step) / _drawn(missing, step) if name == "bitter" else 1.0
            return drawn * brings(other) / brings(missing)
    if missing.dose is not None and other.dose is not None:
        return missing.dose.usual_g_l / other.dose.usual_g_l
    return 1.0


def _drawn(ingredient: Ingredient, step: Step | None) -> float:
    """Return the share that the time and warmth of a step draw out."""
    kinetics = kinetics_of(ingredient)
    if kinetics is None or step is None or step.time_h is None or step.temperature_c is None:
        return 1.0
    return float(approach(step.time_h, step.temperature_c, kinetics))


def _bitter(ingredient: Ingredient) -> float:
    return (
        0.0
        if ingredient.bitterness is None
        else ingredient.bitterness.value * ingredient.bitterness.extracted
    )


def _sour(ingredient: Ingredient) -> float:
    return sum(ingredient.composition.get(acid, 0.0) * worth for acid, worth in CITRIC_EQUIVALENT.items())


def _sweet(ingredient: Ingredient) -> float:
    return ingredient.sugar_share


def _strong(ingredient: Ingredient) -> float:
    return ingredient.strength_pct_vol or 0.0
