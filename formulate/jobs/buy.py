"""`buy`: a bottle file to the packs to buy for it, with the recipe fitted to them.

What is on hand is used first and costs nothing more. Packs are whole; the recipe moves within
its limits to make the best of them. The money shown is the sum of the packs shown.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from formulate.errors import InfeasibleError, UnboundedError
from formulate.jobs.choices import choices_of
from formulate.jobs.formulation import Formulation, formulate_bottle
from formulate.jobs.law import told_everywhere
from formulate.jobs.on_sale import on_sale
from formulate.jobs.pantry import open_pantry
from formulate.jobs.records import DrinkRecord, Note
from formulate.jobs.solve import SolvedBottle, no_recipe, size_not_tied, solved_record
from formulate.optimise.answer import Answer, Status
from formulate.optimise.integers import WholeAnswer, answer_of, at_size, solve_whole
from formulate.optimise.packs import Pack, Thing
from formulate.optimise.problem import BlendProblem, Over
from formulate.optimise.search import solve
from formulate.optimise.whole import WholeTerms
from formulate.spec.bottle import load_bottle

__all__ = ["BuyLine", "BuyRecord", "buy_bottle"]

LEAST_USED_KG = 1e-6
SECONDS = 20.0
FITTINGS = 3
OVERFULL = 1e-3
"""A vessel is fuller than asked when its contents are larger by this share."""


@dataclass(frozen=True, slots=True)
class BuyLine:
    """One thing on the list.

    Attributes
    ----------
    name : str
    supplier : str
        Empty when the shelf names none.
    packs : int or None
        How many; None for a thing sold by weight, on hand, or free.
    pack : str
        What one is, as the shelf says; `by weight`, `made here`, `on hand`, or empty for what is free.
    bought_kg, cost : float
        Cost to the cent.
    used_kg, from_stock_kg, left_kg : float
        What the batch uses, what of it is on hand already, and what is left over of all that. With several
        packs of a thing they stand beside the first.
    """

    name: str
    supplier: str
    packs: int | None
    pack: str
    bought_kg: float
    cost: float
    used_kg: float
    from_stock_kg: float
    left_kg: float


@dataclass(frozen=True)
class BuyRecord:
    """A buying list.

    Attributes
    ----------
    solved : SolvedBottle
        The recipe fitted to the packs; its cost counts what is used.
    lines : tuple of BuyLine
        What is paid by supplier, then the rest, each in the order of the bottle file.
    total : float
        Sum of the lines.
    currency : str
    status : str
        `optimal` when no list is cheaper, by more than the gap.
    proven_gap : float
        How much dearer, relative, the list may be than the cheapest.
    leftover_share : float
        What a rest counted as still worth; where it is above 0 the cheapest is meant after that.
    least_orders : tuple of (str, float)
        Minimum orders that were kept, of suppliers on the list.
    notes : tuple of Note
    """

    solved: SolvedBottle
    lines: tuple[BuyLine, ...]
    total: float
    currency: str
    status: str
    proven_gap: float
    leftover_share: float = 0.0
    least_orders: tuple[tuple[str, float], ...] = ()
    notes: tuple[Note, ...] = ()

    @property
    def drink(self) -> DrinkRecord:
        """The recipe fitted to the packs, worked out."""
        return self.solved.record


def buy_bottle(
    path: Path, *, leftover_share: float = 0.0, use_stock: bool = True, today: date | None = None
) -> BuyRecord:
    """List what to buy for a bottle file.

    Parameters
    ----------
    path : Path
    leftover_share : float
        What an unused rest of a pack is still worth, 0 to 1 of its price; only for choosing, the
        list shows what is paid.
    use_stock : bool
        Whether what is on hand is used first.
    today : date, optional
        See `solve.solve_bottle`.

    Returns
    -------
    BuyRecord

    Raises
    ------
    SpecError
        If a file is wrong.
    InfeasibleError
        With a `NoRecipe`, when no recipe exists.
    UnboundedError, NotConvergedError, VerificationError
        See `optimise.search.solve`.
    """
    bottle = load_bottle(path)
    pantry = open_pantry(bottle.shelf_path, bottle.places, today=today)
    formulation = formulate_bottle(bottle, pantry)
    sale = on_sale(formulation, use_stock=use_stock)
    terms = WholeTerms(
        batch_l=1.0,
        choices=choices_of(formulation),
        packs=sale.packs,
        stock_kg=sale.stock_kg,
        stock_bought_kg=sale.stock_bought_kg,
        least_order=sale.least_order,
        leftover_share=leftover_share,
    )
    try:
        answer, terms, whole = _fitted(formulation.problem, terms)
    except InfeasibleError:
        raise InfeasibleError(no_recipe(formulation)) from None
    except UnboundedError:
        raise UnboundedError(bottle.places.problem(("size",), size_not_tied(bottle))) from None
    lines = _lines(formulation, answer, terms, whole.packs.tolist())
    bought_from = {line.supplier for line in lines if line.cost > 0.0}
    drink = _drink(formulation, answer, today)
    return BuyRecord(
        solved=SolvedBottle(drink, formulation, answer),
        lines=lines,
        total=round(sum(line.cost for line in lines), 2),
        currency=pantry.currency,
        status=str(whole.status),
        proven_gap=whole.proven_gap,
        leftover_share=leftover_share,
        least_orders=tuple(least for least in terms.least_order if least[0] in bought_from),
        notes=(*told_everywhere(drink.notes), *_notes(formulation)),
    )


def _fitted(problem: BlendProblem, terms: WholeTerms) -> tuple[Answer, WholeTerms, WholeAnswer]:
    """Fit the recipe to the packs; a vessel to be filled is not filled further than asked."""
    sized = _sized(problem, problem.volume_l or solve(problem).volume_l)
    for _ in range(FITTINGS):
        assert sized.volume_l is not None
        terms = replace(terms, batch_l=sized.volume_l)
        whole = solve_whole(sized, terms, seconds=SECONDS)
        answer = answer_of(sized, whole)
        fullness = _fullness(problem, answer)
        if fullness <= 1.0 + OVERFULL:
            break
        sized = _sized(problem, sized.volume_l / fullness)
    return answer, terms, whole


def _sized(problem: BlendProblem, volume_l: float) -> BlendProblem:
    """Fix the size of the batch; a target on cost counts what is used, so whole packs are not held to it."""
    if problem.volume_l is None:
        size = [limit for limit in problem.limits if limit.origin == problem.size_origin]
        problem = at_size(problem, volume_l)
        # Where the size was what is there of a thing, no more of it than that is used.
        problem = problem.asking([*problem.limits, *(replace(limit, lower=-np.inf) for limit in size)])
    return problem.asking([limit for limit in problem.limits if limit.over is not Over.COST])


def _fullness(problem: BlendProblem, answer: Answer) -> float:
    """How full the vessel is that gave the size, as a share of what was asked."""
    if problem.fill is None:
        return 0.0
    from formulate.blend.materials import LIQUOR, SOLID_VOLUME_L_KG
    from formulate.physics.mixture import volume_l

    step = problem.fill.step
    contents = float(volume_l(answer.run.gross[step, :LIQUOR], check=False))
    contents += SOLID_VOLUME_L_KG * float(answer.masses_kg[step] @ problem.chain.materials.solids)
    return contents / problem.fill.volume_l


def _drink(formulation: Formulation, answer: Answer, today: date | None) -> DrinkRecord:
    """Tell of the recipe; that it costs the least is proved of the list, not of what is used."""
    record = solved_record(formulation.bottle, formulation, replace(answer, status=Status.FEASIBLE), today)
    cost = None if record.cost is None else replace(record.cost, proven_gap=None)
    return replace(record, cost=cost)


def _notes(formulation: Formulation) -> tuple[Note, ...]:
    notes = [
        Note(
            "fitted_to_packs",
            "What is on hand is used first. The recipe is fitted to whole packs within your limits: save "
            "it with -o.",
        )
    ]
    if any(limit.over is Over.COST for limit in formulation.problem.limits):
        text = "Your target on cost counts what is used, so it is not held against whole packs."
        notes.append(Note("cost_not_held", text))
    if formulation.problem.volume_l is None:
        notes.append(Note("size_fixed", "The size is that of the cheapest recipe by use, or a little less."))
    return tuple(notes)


def _lines(
    formulation: Formulation, answer: Answer, terms: WholeTerms, counts: list[float]
) -> tuple[BuyLine, ...]:
    used = answer.masses_kg.sum(axis=0)
    lines: list[BuyLine] = []
    parts = {part for purchase in answer.problem.purchases for part, _ in purchase.parts}
    for position, ingredient in enumerate(formulation.ingredients):
        if position not in parts:
            lines += _of_thing(Thing(False, position), ingredient.id, float(used[position]), terms, counts)
    for position, purchase in enumerate(answer.problem.purchases):
        amount = float(answer.purchases_kg[position])
        lines += _of_thing(Thing(True, position), purchase.name, amount, terms, counts)
    return tuple(sorted(lines, key=lambda line: (line.cost <= 0.0, line.supplier)))


def _of_thing(
    thing: Thing, name: str, used_kg: float, terms: WholeTerms, counts: list[float]
) -> list[BuyLine]:
    """List the packs of one thing, and what it needs no pack for."""
    taken = [
        (pack, count)
        for pack, count in zip(terms.packs, counts, strict=True)
        if pack.thing == thing and pack.size_kg * count > (LEAST_USED_KG if pack.loose else 0.0)
    ]
    stock = terms.stock_of(thing)
    bought = sum(pack.size_kg * count for pack, count in taken)
    from_stock = min(stock, used_kg)
    # Without a pack it is on tap.
    has_rest = stock > 0.0 or bought > 0.0
    left = max(stock + bought - used_kg, 0.0) if has_rest and used_kg > LEAST_USED_KG else 0.0
    if not taken:
        if used_kg <= LEAST_USED_KG:
            return []
        word = "on hand" if from_stock > 0.0 else ""
        return [BuyLine(name, "", None, word, 0.0, 0.0, used_kg, from_stock, left)]
    first = _line(*taken[0], name)
    lines = [replace(first, used_kg=used_kg, from_stock_kg=from_stock, left_kg=left)]
    return [*lines, *(_line(pack, count, name) for pack, count in taken[1:])]


def _line(pack: Pack, count: float, name: str) -> BuyLine:
    return BuyLine(
        name=name,
        supplier=pack.supplier,
        packs=None if pack.loose else round(count),
        pack=pack.name,
        bought_kg=pack.size_kg * count,
        cost=round(pack.price * count, 2),
        used_kg=0.0,
        from_stock_kg=0.0,
        left_kg=0.0,
    )
