"""A bar with restricted plants for the tests, and the arithmetic on them done again by hand.

Contents and limits are written out here a second time, from the trade notes the data was made of, so
that a slip of a digit in the data shows. All contents are the worst mg/g of the dried plant.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from formulate.describe.records import DrinkRecord
from formulate.files.ingredient import Ingredient
from formulate.files.library import Library
from formulate.files.recipe import dump_recipe
from formulate.formulation.solving import recipe_of
from formulate.jobs.solve import solve_bottle

__all__ = [
    "NO_MORE",
    "SHELF",
    "at_worst_mg_kg",
    "bottle",
    "keeps_every_limit",
    "liquor_share",
    "recipe",
    "saved",
    "write",
]

NO_MORE = {  # mg/kg, trade notes 3.1 and 3.2
    "EU": {"cinchona alkaloids": 250.0, "quassin": 1.5, "coumarin": 10.0, "safrole": 2.0, "thujone": 35.0},
    "US": {"cinchona alkaloids": 83.0, "coumarin": 10.0, "safrole": 2.0, "thujone": 10.0},
}
ROUNDING = 1.0 + 1e-12

SHELF = """\
currency: EUR
{rules}
offers:
  neutral-spirit-96: {{price: 14 EUR/L}}
  vodka-40: {{pack: 70 cl, price: 9.40 EUR}}
  white-sugar: {{price: 1.15 EUR/kg}}
  citric-acid: {{price: 9 EUR/kg}}
  wormwood-herb: {{price: 20 EUR/kg}}
  roman-wormwood-herb: {{price: 20 EUR/kg}}
  sage-leaf: {{price: 2 EUR/kg}}
  yarrow-herb: {{price: 2 EUR/kg}}
  cinchona-bark: {{price: 10 EUR/kg}}
  quassia-wood: {{price: 5 EUR/kg}}
  cassia-bark: {{price: 10 EUR/kg}}
  nutmeg: {{price: 10 EUR/kg}}
  peppermint-leaf: {{price: 10 EUR/kg}}
  liquorice-root: {{price: 10 EUR/kg}}
  rhubarb-root: {{price: 10 EUR/kg}}
  gentian-root: {{price: 1000 EUR/kg}}
{more}
"""

WORST_MG_G: Mapping[str, tuple[str, float]] = {
    "wormwood-herb": ("thujone", 10.0),
    "roman-wormwood-herb": ("thujone", 3.0),
    "sage-leaf": ("thujone", 12.0),
    "yarrow-herb": ("thujone", 1.0),
    "cinchona-bark": ("cinchona alkaloids", 100.0),
    "quassia-wood": ("quassin", 2.0),
    "cassia-bark": ("coumarin", 12.0),
    "nutmeg": ("safrole", 5.0),
}


def write(folder: Path, name: str, text: str) -> Path:
    """Write a file and return its path."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def bottle(
    folder: Path,
    plants: Iterable[str],
    *,
    targets: str = "  bitterness: like 4 g/L gentian-root",
    rules: str = "",
    shelf_rules: str = "",
    more: str = "",
    steps: str = "",
    name: str = "bottle.yaml",
) -> Path:
    """Write a bottle file and its shelf; plants are lines of the ingredient list, in any dose."""
    write(folder, "shelf.yaml", SHELF.format(rules=shelf_rules, more=more))
    lines = "\n".join(f"  - {plant}" for plant in plants)
    return write(
        folder,
        name,
        f"""\
name: Bitter try
size: 5 L bottled
shelf: shelf.yaml
{rules}
targets:
  strength: 28 ± 0.3 % vol
  sugar: 180 ± 5 g/L
{targets}
{steps}
ingredients:
  - neutral-spirit-96
  - water
  - white-sugar
{lines}
doses: any
""",
    )


def recipe(folder: Path, lines: Mapping[str, str], *, head: str = "shelf: shelf.yaml", name: str) -> Path:
    """Write a recipe file."""
    body = "\n".join(f"  - {ingredient}: {{amount: {amount}}}" for ingredient, amount in lines.items())
    return write(folder, name, f"recipe: {name.partition('.')[0]}\n{head}\ningredients:\n{body}\n")


def liquor_share(ingredient: Ingredient) -> float:
    """Return what of a kilogram goes into the liquor: all but pectin, and what no line accounts for."""
    if ingredient.strength_pct_vol is not None:
        return 1.0
    return sum(share for name, share in ingredient.composition.items() if name not in ("insoluble", "pectin"))


def at_worst_mg_kg(record: DrinkRecord, substance: str, only: Iterable[str] | None = None) -> float:
    """Add up by hand: mg in the plants weighed in, over the kilograms of liquor they and the rest give.

    In one step that is the drink's own content, whatever the cake keeps of it.
    """
    library = Library.built_in()
    milligrams = liquor_kg = 0.0
    for line in record.recipe:
        what, worst = WORST_MG_G.get(line.ingredient, ("", 0.0))
        if what == substance and (only is None or line.ingredient in only):
            milligrams += 1000.0 * line.mass_kg * worst
        liquor_kg += line.mass_kg * liquor_share(library.get(line.ingredient))
    return milligrams / liquor_kg


def keeps_every_limit(record: DrinkRecord, where: str) -> None:
    """Check the program's own word, and add it up again by hand (recipes of one step)."""
    assert record.law is not None
    assert record.law.over == ()
    for substance, most in NO_MORE[where].items():
        assert at_worst_mg_kg(record, substance) <= most * ROUNDING, substance
    if where == "EU":
        assert at_worst_mg_kg(record, "thujone", ("sage-leaf", "yarrow-herb")) <= 10.0 * ROUNDING


def saved(folder: Path, path: Path, *, shelf: str = "shelf.yaml") -> Path:
    """Solve a bottle and save its recipe beside it."""
    solved = solve_bottle(path)
    recipe = recipe_of(solved.formulation.bottle, solved.answer, bottle_path=path.name, shelf_path=shelf)
    text = dump_recipe(recipe)
    return write(folder, "saved.yaml", text)
