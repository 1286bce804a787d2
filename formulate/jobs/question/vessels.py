"""How full a vessel gets: liquor and solids of a step together, before it is strained."""

from __future__ import annotations

from dataclasses import dataclass

from formulate.blend.chain import ChainRun
from formulate.blend.materials import LIQUOR, SOLID_VOLUME_L_KG
from formulate.jobs.question.pantry import Pantry
from formulate.physics.mixture import volume_l
from formulate.spec.recipe import Recipe

__all__ = ["FillRecord", "contents_l", "fills_of"]


@dataclass(frozen=True, slots=True)
class FillRecord:
    """How full a vessel is at the end of a step, before it is strained.

    Attributes
    ----------
    step, vessel : str
    volume_l, holds_l : float
        Liquor and solids together, and what the vessel holds to the brim.
    """

    step: str
    vessel: str
    volume_l: float
    holds_l: float


def contents_l(run: ChainRun, step: int) -> float:
    """Return the volume of liquor and solids of a step before it is strained, litres.

    Parameters
    ----------
    run : ChainRun
        Of one batch.
    step : int
        Its position.
    """
    liquor = float(volume_l(run.gross[step, :LIQUOR], check=False))
    return liquor + SOLID_VOLUME_L_KG * float(run.solids_kg[step])


def fills_of(recipe: Recipe, pantry: Pantry, run: ChainRun) -> tuple[FillRecord, ...]:
    """Say how full the vessels get that a recipe names and the shelf has.

    Parameters
    ----------
    recipe : Recipe
    pantry : Pantry
    run : ChainRun
        Of the recipe.
    """
    vessels = pantry.shelf.vessels if pantry.shelf else {}
    return tuple(
        FillRecord(step.name, step.vessel, contents_l(run, position), float(vessels[step.vessel]))
        for position, step in enumerate(recipe.resolved_steps())
        if step.vessel is not None and step.vessel in vessels
    )
