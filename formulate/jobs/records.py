"""What jobs answer with: frozen records that any report can show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from formulate.blend.profile import Profile

__all__ = [
    "CostLine",
    "DrinkRecord",
    "Note",
    "PartRecord",
    "PurchaseRecord",
    "RecipeLineRecord",
    "StepRecord",
    "TargetRecord",
]


@dataclass(frozen=True, slots=True)
class Note:
    """Something a person should know beside the figures.

    Attributes
    ----------
    code : str
        Stable name for JSON.
    text : str
        In plain words.
    source : str
        Where the fact comes from, or the file and line it is about; may be empty.
    """

    code: str
    text: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class RecipeLineRecord:
    """One thing to weigh.

    Attributes
    ----------
    ingredient, name, step : str
    mass_kg : float
        As bought, for the whole batch.
    measure : str
        The same as a bar measures it (bottles and a rest, mL), or empty.
    cost : float or None
        None when a price is missing, and for what comes out of a whole thing: see `PurchaseRecord`.
    """

    ingredient: str
    name: str
    step: str
    mass_kg: float
    measure: str
    cost: float | None


@dataclass(frozen=True, slots=True)
class StepRecord:
    """What happens to the liquor in a step.

    Attributes
    ----------
    name : str
    liquor_kg, volume_l, strength_pct_vol : float
        In the vessel before straining, solids aside.
    kept_kg, lost_kg, solids_kg : float
        Liquor left in the cake, liquor lost, dry solids thrown out.
    """

    name: str
    liquor_kg: float
    volume_l: float
    strength_pct_vol: float
    kept_kg: float
    lost_kg: float
    solids_kg: float


@dataclass(frozen=True, slots=True)
class TargetRecord:
    """A target with what the recipe makes of it.

    Attributes
    ----------
    target : str
    lower, upper : float or None
        None when open.
    value : float
    unit : str
        Per litre bottled where it is per litre.
    binding : bool
    shadow_price : float or None
        Change of the cost per litre bottled for one more unit of the bound; None when unknown.
    text : str
        As typed, with the tolerance that was used.
    source : str
        file:line:column.
    """

    target: str
    lower: float | None
    upper: float | None
    value: float
    unit: str
    binding: bool
    shadow_price: float | None
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class CostLine:
    """What a batch costs.

    Attributes
    ----------
    total, per_litre : float
        Counted by what is used, not by whole packs.
    currency : str
    proven_gap : float or None
        How much dearer, relative, this may be than the cheapest; None when nothing was proved.
    """

    total: float
    per_litre: float
    currency: str
    proven_gap: float | None = None


@dataclass(frozen=True, slots=True)
class PartRecord:
    """A part of a whole thing.

    Attributes
    ----------
    ingredient : str
    used_kg, left_kg : float
        In the recipe, and over for something else.
    """

    ingredient: str
    used_kg: float
    left_kg: float


@dataclass(frozen=True, slots=True)
class PurchaseRecord:
    """A whole thing bought for its parts.

    Attributes
    ----------
    name : str
    mass_kg : float
        As bought, as much as the recipe needs.
    pieces : float or None
        The same counted; None when the mass of one is not known.
    whole_pieces : int or None
        Pieces one has to take, none of them cut.
    on_hand_kg : float or None
        What the shelf says is left.
    cost : float
        Of `mass_kg`, for all its parts together.
    parts : tuple of PartRecord
    waste_kg : float
        Neither part nor left over.
    """

    name: str
    mass_kg: float
    pieces: float | None
    whole_pieces: int | None
    on_hand_kg: float | None
    cost: float
    parts: tuple[PartRecord, ...]
    waste_kg: float


@dataclass(frozen=True)
class DrinkRecord:
    """A batch worked out: shared by `solve` and `predict`.

    Attributes
    ----------
    name : str
    status : str
        `optimal`, `feasible` or `predicted`.
    size_text : str
        How the size was asked for.
    recipe : tuple of RecipeLineRecord
    steps : tuple of StepRecord
    predicted : Profile
    targets : tuple of TargetRecord
    cost : CostLine or None
        None when a price is missing.
    notes, cautions : tuple of Note
    confirmable_pct_vol : float or None
        To how many % vol a scale, a hydrometer and a refractometer can confirm the strength.
    bitterness_range : tuple of float or None
        What weak and strong lots of the same plants would give.
    solver : mapping
        Name, passes, seconds; empty for a prediction.
    """

    name: str
    status: str
    size_text: str
    recipe: tuple[RecipeLineRecord, ...]
    steps: tuple[StepRecord, ...]
    predicted: Profile
    targets: tuple[TargetRecord, ...]
    cost: CostLine | None
    notes: tuple[Note, ...]
    cautions: tuple[Note, ...]
    confirmable_pct_vol: float | None
    bitterness_range: tuple[float, float] | None
    solver: Mapping[str, object] = field(default_factory=dict)
    used_limits: tuple[TargetRecord, ...] = ()
    """Limits on ingredients that the recipe stands at."""
    purchases: tuple[PurchaseRecord, ...] = ()
    """Whole things bought for their parts."""
