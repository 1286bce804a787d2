"""The question of least change: as near to an old recipe as the limits allow, few ingredients moved.

What an ingredient moves is counted against a scale of its own and added up, without squares, so that
the least sum leaves most ingredients exactly where they were. Flavour is kept in the same way: what each
brings in usual doses, each kind of bitterness, of acid and of named attribute against what the old recipe
had of it.

Of a batch that is there already the least change is the smallest addition (`smaller_addition`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import BITTERNESS
from formulate.optimise.assembly import assemble
from formulate.optimise.point import evaluate
from formulate.optimise.problem import BlendProblem, Limit, Origin, Over
from formulate.optimise.program import BlendProgram
from formulate.optimise.tolerances import ABOVE_NOTHING
from formulate.optimise.tree.proof import prove
from formulate.physics.mixture import ACIDS, INDEX

__all__ = ["KEEP_STILL", "OldRecipe", "Role", "least_change", "moved", "nearest_flavour", "smaller_addition"]

FloatArray = NDArray[np.float64]

FLAVOUR_COUNTS = 1.0
"""What losing all the flavour counts, in whole changes of an ingredient."""

KEEP_STILL = 0.01
"""What moving an ingredient by its whole scale counts beside losing a whole flavour."""

SECONDS = 5.0
"""For the proof that no addition is smaller."""


@dataclass(frozen=True)
class Role:
    """The place of a missing ingredient, which others may fill.

    Attributes
    ----------
    indices : ndarray of int
        The ingredients that may fill it.
    worth : ndarray
        Kilograms of the missing one that a kilogram of each is worth.
    mass_kg_l : float
        What the old recipe had of the missing one, per litre; above zero.
    """

    indices: NDArray[np.intp]
    worth: FloatArray
    mass_kg_l: float


@dataclass(frozen=True)
class OldRecipe:
    """What a new recipe is held against, in the order of the problem's ingredients.

    Attributes
    ----------
    masses_kg_l : ndarray, shape (n,)
        Weighed in per litre bottled; 0 for what is new.
    scales_kg_l : ndarray, shape (n,)
        How much of each counts as one whole change, above zero.
    roles : tuple of Role
        What the missing ones were there for.
    gone : tuple of int
        The missing ones, whose own move does not count.
    bottled : ndarray, shape (carried,)
        What the old recipe carried into the bottle, per litre.
    kinds : tuple of str
        Kind of each ingredient, such as its family: bitterness is kept kind by kind.
    tastes : tuple of str
        What each tastes of: flavour is kept taste by taste.
    contents : mapping of str to ndarray, shape (n,)
        What a kilogram of each brings of colour or aroma, by name.
    flavour : ndarray, shape (n,)
        Usual doses that a kilogram per litre of each gives; 0 for what has none.
    """

    masses_kg_l: FloatArray
    scales_kg_l: FloatArray
    roles: tuple[Role, ...]
    gone: tuple[int, ...]
    bottled: FloatArray
    kinds: tuple[str, ...]
    tastes: tuple[str, ...]
    contents: Mapping[str, FloatArray]
    flavour: FloatArray

    @property
    def flavour_had(self) -> float:
        """Usual doses in the old recipe, in all."""
        return float(self.flavour @ self.masses_kg_l)


def moved(old: OldRecipe, masses_kg_l: FloatArray) -> float:
    """Add up how far a recipe is from the old one: whole changes, roles not filled, flavour shifted.

    Parameters
    ----------
    masses_kg_l : ndarray, shape (n,)
        Per litre bottled.
    """
    changes = np.abs(masses_kg_l - old.masses_kg_l) / old.scales_kg_l
    changes[list(old.gone)] = 0.0
    empty = [abs(float(role.worth @ masses_kg_l[role.indices]) / role.mass_kg_l - 1.0) for role in old.roles]
    flavour = 0.0
    if old.flavour_had > 0.0:
        more = old.flavour * (masses_kg_l - old.masses_kg_l)
        shifted = sum(abs(float(more[group].sum())) for group in _groups(old.tastes, old.flavour))
        flavour = FLAVOUR_COUNTS * shifted / old.flavour_had
    return float(changes.sum()) + sum(empty) + flavour


def _groups(names: Sequence[str], flavour: FloatArray) -> Iterator[NDArray[np.intp]]:
    """Put together, by position, what has one name and any flavour."""
    every = np.array(names)
    for name in dict.fromkeys(names):
        found = np.flatnonzero((every == name) & (flavour > 0.0))
        if len(found):
            yield found


def least_change(problem: BlendProblem, old: OldRecipe) -> BlendProblem:
    """Ask for the recipe within every limit that moves least.

    Returns
    -------
    BlendProblem
        Its cost is `moved`.
    """
    flavours = _flavours(old, old.tastes, FLAVOUR_COUNTS)
    return problem.asking([*problem.limits, *flavours, *_still(old, 1.0)]).for_free()


def nearest_flavour(problem: BlendProblem, old: OldRecipe) -> BlendProblem:
    """Ask for the recipe within every limit that keeps flavour, bitterness, acids, colour and aroma.

    What each taste gives in usual doses, and each kind of them, counts as a share of the old flavour,
    each kind of bitterness of all the old bitterness, each acid of all the old acid, colour and aroma of
    themselves. Where that leaves a choice the least change decides.
    """
    flavours = [*_flavours(old, old.tastes, 0.5), *_flavours(old, old.kinds, 0.5)]
    flavours += [*_bitterness(problem, old), *_acids(problem, old), *_contents(old)]
    return problem.asking([*problem.limits, *flavours, *_still(old, KEEP_STILL)]).for_free()


def _still(old: OldRecipe, price: float) -> list[Limit]:
    alone = [
        _soft(Over.MASSES, [number], [1.0], float(mass), price / float(scale), "as before")
        for number, (mass, scale) in enumerate(zip(old.masses_kg_l, old.scales_kg_l, strict=True))
        if number not in old.gone
    ]
    together = [
        _soft(Over.MASSES, role.indices, role.worth, role.mass_kg_l, price / role.mass_kg_l, "role filled")
        for role in old.roles
    ]
    return [*alone, *together]


def _flavours(old: OldRecipe, names: Sequence[str], price: float) -> list[Limit]:
    """Keep what each taste, or each kind, brings in usual doses, as a share of the old flavour."""
    if not old.flavour_had > 0.0:
        return []
    limits = []
    for group in _groups(names, old.flavour):
        had = float(old.flavour[group] @ old.masses_kg_l[group])
        name = f"flavour of {names[group[0]]}"
        limits.append(_soft(Over.MASSES, group, old.flavour[group], had, price / old.flavour_had, name))
    return limits


def _bitterness(problem: BlendProblem, old: OldRecipe) -> list[Limit]:
    """Keep what each kind of plant brings of the bitterness, as weighed in."""
    brings = problem.chain.materials.content[:, problem.chain.materials.column(BITTERNESS)]
    had = brings * old.masses_kg_l
    if not had.sum() > 0.0:
        return []
    limits = []
    for kind in dict.fromkeys(old.kinds):
        mine = np.array([other == kind for other in old.kinds]) & (brings > 0.0)
        if mine.any():
            numbers = np.flatnonzero(mine)
            price = 1.0 / float(had.sum())
            aim = float(had[mine].sum())
            limits.append(_soft(Over.MASSES, numbers, brings[numbers], aim, price, f"bitterness of {kind}"))
    return limits


def _acids(problem: BlendProblem, old: OldRecipe) -> list[Limit]:
    total = sum(float(old.bottled[INDEX[acid]]) for acid in ACIDS)
    if not total > 0.0:
        return []
    content = problem.chain.materials.content
    return [
        _soft(Over.BOTTLE, [INDEX[acid]], [1.0], float(old.bottled[INDEX[acid]]), 1.0 / total, acid)
        for acid in ACIDS
        if content[:, INDEX[acid]].any()
    ]


def _contents(old: OldRecipe) -> list[Limit]:
    """Keep colour and aroma, as weighed in."""
    limits = []
    for name, content in old.contents.items():
        had = float(content @ old.masses_kg_l)
        if had > 0.0:
            numbers = np.flatnonzero(content)
            limits.append(_soft(Over.MASSES, numbers, content[numbers], had, 1.0 / had, name))
    return limits


def _soft(
    over: Over, indices: Sequence[int] | NDArray[np.intp], weights: Sequence[float] | FloatArray,
    aim: float, price: float, name: str,
) -> Limit:  # fmt: skip
    return Limit(
        over=over,
        indices=np.array(indices, dtype=np.int32),
        weights=np.array(weights, dtype=float),
        lower=aim,
        upper=aim,
        origin=Origin(name, name),
        display=np.nan,
        penalty=price,
    )


def smaller_addition(
    problem: BlendProblem, weights: FloatArray, masses_kg: FloatArray, volume_l: float, share: float
) -> tuple[FloatArray | None, bool]:
    """Look for an addition that is smaller by a share, or prove that there is none.

    Parameters
    ----------
    problem : BlendProblem
        Of one step; its first ingredient is the batch, fixed in mass.
    weights : ndarray, shape (n,)
        What a kilogram of each counts; that of the batch is 0.
    masses_kg : ndarray, shape (n,)
        The best known, in all.
    volume_l : float
        What it makes.
    share : float
        Such as 0.001.

    Returns
    -------
    masses_kg : ndarray, shape (n,), or None
        A smaller one, in all.
    proved : bool
        Whether it is proved that there is none.

    Notes
    -----
    The program minimises what is spent per litre in the end. What is added to a batch that is there is an
    amount in all, and a larger addition makes more litres to spread it over. The two are told apart by one
    more question: with the batch itself paid at the rate of the best addition known, less a share, can
    anything come out below zero? If it is proved that nothing can, no addition is smaller by that share.
    """
    rate = float(weights @ masses_kg) / float(masses_kg[0]) * (1.0 - share)
    prices = weights.copy()
    prices[0] = -rate
    program = BlendProgram(assemble(replace(problem, price_per_kg=prices, money_counts=True)))
    known = evaluate(program.assembly, masses_kg / volume_l, 1.0 / volume_l, np.zeros(0))
    proof = prove(program, known, gap=1.0 - ABOVE_NOTHING, seconds=SECONDS)
    best = proof.best
    if best is not None and best.cost_per_l < 0.0:
        smaller: FloatArray = best.columns * float(masses_kg[0]) / float(best.columns[0])
        return smaller, False
    return None, proof.complete
