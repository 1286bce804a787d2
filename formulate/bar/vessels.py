"""How full a vessel gets: liquor and solids of a step together, before it is strained."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from formulate.bar.pantry import Pantry
from formulate.blend.batch import Batch
from formulate.blend.chain import ChainRun
from formulate.blend.materials import LIQUOR, SOLID_VOLUME_L_KG
from formulate.files.fields import did_you_mean
from formulate.files.issues import KeyPath, Problems
from formulate.files.steps import StepSpec
from formulate.physics.mixture import volume_l

__all__ = ["FillRecord", "contents_l", "fills_of", "unknown_vessels", "vessels_l"]


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


def fills_of(batch: Batch, pantry: Pantry) -> tuple[FillRecord, ...]:
    """Say how full the vessels get that steps name and the shelf has."""
    vessels = vessels_l(pantry)
    return tuple(
        FillRecord(step.name, step.vessel, contents_l(batch.run, position), float(vessels[step.vessel]))
        for position, step in enumerate(batch.specs)
        if step.vessel is not None and step.vessel in vessels
    )


def unknown_vessels(path: KeyPath, specs: Sequence[StepSpec], pantry: Pantry, problems: Problems) -> None:
    """Refuse vessels that the shelf does not have, where it lists any.

    Parameters
    ----------
    path : KeyPath
        Of the steps in the file.
    specs : sequence of StepSpec
        As written there.
    problems : Problems
        Takes them up.
    """
    vessels = vessels_l(pantry)
    for index, step in enumerate(specs):
        if vessels and step.vessel is not None and step.vessel not in vessels:
            text = f"no vessel called '{step.vessel}' on the shelf. {did_you_mean(step.vessel, vessels)}"
            problems.add((*path, index, step.name, "vessel"), text.rstrip())


def vessels_l(pantry: Pantry) -> Mapping[str, float]:
    """Return what each vessel of the shelf holds to the brim, litres, by name."""
    return pantry.shelf.vessels if pantry.shelf else {}


@dataclass(frozen=True, slots=True)
class FillRecord:
    """How full a vessel is at the end of a step, before it is strained.

    Attributes
    ----------
    volume_l, holds_l : float
        Liquor and solids together, and what the vessel holds to the brim.
    """

    step: str
    vessel: str
    volume_l: float
    holds_l: float

    @property
    def share(self) -> float:
        """How full, of the whole."""
        return self.volume_l / self.holds_l

    @property
    def too_small(self) -> bool:
        """Whether it does not go in at all."""
        return self.share > 1.0 + 1e-6
