"""Why a question has no answer: the limits or choices that clash, and what would do instead."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from formulate.describe.dose_changes import Again, DoseChanges, dose_changes
from formulate.errors import Note, SpecProblem
from formulate.formulation.bottle import Formulation
from formulate.formulation.category_limits import PATH
from formulate.formulation.choices import broken_choices, choices_of, possible_with
from formulate.optimise.diagnose import ClashMember, Explanation, explain, is_possible
from formulate.optimise.mip.integer_terms import Choices
from formulate.optimise.problem import BlendProblem
from formulate.quantity.document import HIDDEN, Result, computed, shown
from formulate.rules.law_notes import question_notes

__all__ = ["NoRecipe", "no_recipe"]


def _choices(problems: tuple[SpecProblem, ...]) -> list[dict[str, str]]:
    return [
        {"choice": problem.path, "text": problem.message, "source": str(problem.location or "")}
        for problem in problems
    ]


@dataclass(frozen=True)
class NoRecipe(Result):
    """Why a bottle file has no recipe; carried by `InfeasibleError.explanation`.

    Attributes
    ----------
    name : str
        Of the bottle.
    formulation : Formulation
        The question that has no answer.
    choices : tuple of SpecProblem
        Choices that cannot be kept where every limit could be; then the explanation is empty.
    notes : tuple of Note
        Whose law counts, and what is lifted of it.
    doses : DoseChanges or None
        Where usual doses stand in the way.
    """

    status: str = field(default="infeasible", init=False)
    name: str
    explanation: Explanation = field(metadata=HIDDEN)
    formulation: Formulation = field(metadata=HIDDEN)
    choices: tuple[SpecProblem, ...] = field(default=(), metadata=shown(by=_choices))
    notes: tuple[Note, ...] = field(default=(), metadata=shown("warnings"))
    doses: DoseChanges | None = None

    @property
    @computed(after="name")
    def clash(self) -> list[dict[str, Any]]:
        """The limits that cannot hold together, each with where it would have to stand."""
        return [
            {
                "limit": member.limit.origin.name,
                "side": "lower" if member.is_lower else "upper",
                "text": member.limit.origin.text,
                "bound": member.bound,
                "reachable": member.reachable,
                "unit": member.limit.unit,
                "source": str(member.limit.origin.location or ""),
            }
            for member in self.explanation.clash
        ]

    @property
    @computed(after="clash")
    def irreducible(self) -> bool:
        """Whether none of them could be left out of the clash."""
        return self.explanation.irreducible

    @property
    @computed(after="choices")
    def reach(self) -> list[dict[str, Any]]:
        """What each target could be with the others left out."""
        return [
            {
                "target": reach.limit.origin.name,
                "lowest": reach.lowest,
                "highest": reach.highest,
                "unit": reach.limit.unit,
                "proved": reach.proved,
            }
            for reach in self.explanation.reach
        ]

    def __str__(self) -> str:
        if self.choices:
            return "\n".join(str(problem) for problem in self.choices)
        return str(self.explanation)


def no_recipe(formulation: Formulation, again: Again | None = None) -> NoRecipe:
    """Say why a question has no answer: its choices where every limit could be kept, else its limits.

    Parameters
    ----------
    again : callable, optional
        See `dose_changes`.
    """
    name = formulation.bottle.name
    notes = tuple(question_notes(formulation.rules, formulation.problem.limits))
    choices = choices_of(formulation)
    if choices and is_possible(formulation.problem):
        explanation = Explanation((), False)
        doses = dose_changes(formulation, explanation, again)
        return NoRecipe(name, explanation, formulation, broken_choices(formulation), notes, doses)
    explanation = explain(formulation.problem)
    if choices:
        clash = tuple(_with_choices(member, formulation.problem, choices) for member in explanation.clash)
        explanation = replace(explanation, clash=clash)
    notes = (*_only_in_the_middle(formulation), *notes, *_without_the_name(explanation, formulation))
    doses = dose_changes(formulation, explanation, again)
    return NoRecipe(name, explanation, formulation, notes=notes, doses=doses)


def _only_in_the_middle(formulation: Formulation) -> list[Note]:
    """Say so where the bands have a recipe and only their middles have none: nobody wrote those."""
    if not formulation.as_asked:
        return []
    text = "Asked was the middle tenth of each band, as `--middle` does; the limits above are its ends."
    if is_possible(formulation.problem.asking(formulation.as_asked)):
        text += " Within the bands themselves there is a recipe: leave --middle out."
    return [Note("only_the_middle", text)]


def _without_the_name(explanation: Explanation, formulation: Formulation) -> list[Note]:
    """Say so where giving up the name that was asked for would do: its limits are the law's."""
    category = formulation.bottle.targets.category
    place = formulation.bottle.places.value(PATH)
    if category is None or all(member.limit.origin.location != place for member in explanation.clash):
        return []
    others = [limit for limit in formulation.problem.limits if limit.origin.location != place]
    if not is_possible(formulation.problem.asking(others)):
        return []
    text = f"Without the name {category.name} ({category.jurisdiction}) there is a recipe."
    return [Note("without_the_name", text, str(place or ""))]


def _with_choices(member: ClashMember, problem: BlendProblem, choices: Choices) -> ClashMember:
    """Take back a move of one limit unless there is a recipe with it that keeps the choices too."""
    if not member.has_figure:  # nothing was promised, or no figure that could be tried
        return member
    possible = possible_with(member.moved_in(problem), choices)
    return member if possible else replace(member, reachable=None, settled=possible is False)
