"""What jobs answer with: frozen records that any report can show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from formulate.bar.vessels import FillRecord
from formulate.blend.flavour import FlavourPart
from formulate.blend.profile import Profile
from formulate.errors import VESSEL_TOO_SMALL, Note
from formulate.quantity.document import HIDDEN, Cautioned, Record, computed, in_full, shown
from formulate.rules.records import CategoryRecord, LawRecord

__all__ = [
    "ADVICE",
    "BarMeasure",
    "ClarityRecord",
    "CostLine",
    "DrinkRecord",
    "IngredientFacts",
    "PartRecord",
    "PurchaseRecord",
    "RecipeLineRecord",
    "StepRecord",
    "TargetRecord",
]

ADVICE = "Not legal or medical advice: ask your local code and a licensed professional."


@dataclass(frozen=True, slots=True)
class BarMeasure:
    """A mass as a bar measures it; nothing for what is weighed.

    Attributes
    ----------
    text : str
        Bottles and a rest, pieces, or a volume.
    bottles : int
        Whole ones in it.
    has_volume : bool
        Whether a volume is measured out, which holds at 20 °C.
    """

    text: str = ""
    bottles: int = 0
    has_volume: bool = False

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class RecipeLineRecord(Record):
    """One thing to weigh.

    Attributes
    ----------
    mass_kg : float
        As bought, for the whole batch.
    cost : float or None
        None when a price is missing; the lines add up to the cost of the batch.
    running_total_kg : float or None
        What a scale under the step's vessel shows after this line; None where nothing is weighed in steps.
    no_more : bool
        Whether it stands at a limit of the law, so that it is shown rounded down.
    """

    ingredient: str
    name: str = field(metadata=HIDDEN)
    step: str
    mass_kg: float
    measure: BarMeasure = field(metadata=shown(by=str))
    cost: float | None
    running_total_kg: float | None = field(default=None, metadata=shown(if_any=True))
    no_more: bool = field(default=False, metadata=HIDDEN)


@dataclass(frozen=True, slots=True)
class StepRecord(Record):
    """What happens to the liquor in a step.

    Attributes
    ----------
    liquor_kg, volume_l, strength_pct_vol : float
        In the vessel before straining, solids aside.
    kept_kg, lost_kg, solids_kg : float
        Liquor left in the cake, liquor lost, dry solids thrown out.
    """

    name: str = field(metadata=shown("step"))
    liquor_kg: float
    volume_l: float
    strength_pct_vol: float
    kept_kg: float = field(metadata=shown("kept_in_cake_g"))
    lost_kg: float
    solids_kg: float


@dataclass(frozen=True, slots=True)
class TargetRecord(Record):
    """A target with what the recipe makes of it.

    Attributes
    ----------
    lower, upper : float or None
        None when open.
    unit : str
        Per litre bottled where it is per litre.
    shadow_price : float or None
        Change of the cost per litre bottled for one more unit of the bound; None when unknown.
    text : str
        As typed, with the tolerance that was used.
    source : str
        file:line:column.
    measure : str
        Row of the table of measures; empty for a limit that is no target. What a category asks has a name
        that says more.
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
    measure: str = field(default="", metadata=HIDDEN)

    @property
    def verdict(self) -> str:
        """`too low`, `too high`, or empty where the target is met."""
        slack = 1e-6 * max(abs(self.value), 1.0)
        if self.lower is not None and self.value < self.lower - slack:
            return "too low"
        return "too high" if self.upper is not None and self.value > self.upper + slack else ""


@dataclass(frozen=True, slots=True)
class CostLine(Record):
    """What a batch costs.

    Attributes
    ----------
    total, per_litre : float
        Counted by what is used, not by whole packs.
    proven_gap : float or None
        How much dearer, relative, this may be than the cheapest; None when nothing was proved.
    """

    total: float
    per_litre: float
    currency: str
    proven_gap: float | None = None


@dataclass(frozen=True, slots=True)
class PartRecord(Record):
    """A part of a whole thing.

    Attributes
    ----------
    used_kg, left_kg : float
        In the recipe, and over for something else.
    """

    ingredient: str
    used_kg: float
    left_kg: float


@dataclass(frozen=True, slots=True)
class PurchaseRecord(Record):
    """A whole thing bought for its parts.

    Attributes
    ----------
    mass_kg : float
        As bought, as much as the recipe needs.
    pieces : float or None
        The same counted; None when the mass of one is not known.
    whole_pieces : int or None
        Pieces one has to take, none of them cut.
    on_hand_kg : float or None
        What the shelf says is left.
    cost : float
        Of `mass_kg`; the lines of its parts hold it already.
    waste_kg : float
        Neither part nor left over.
    """

    name: str = field(metadata=shown("whole"))
    mass_kg: float
    pieces: float | None
    whole_pieces: int | None
    on_hand_kg: float | None
    cost: float
    parts: tuple[PartRecord, ...]
    waste_kg: float


@dataclass(frozen=True, slots=True)
class ClarityRecord(Record):
    """Whether the drink stays clear and how thick it is.

    The risks are working classifications of ours, meant to make a person do the test beside them.

    Attributes
    ----------
    viscosity_20c_mpa_s, viscosity_5c_mpa_s : float or None
        None where more is dissolved than the formula covers.
    viscosity_uncertainty_share : float
        Either way.
    viscosity_limits : str
        What the figure covers and leaves out.
    sugar_saturation_20c, sugar_saturation_5c : float
        Sucrose over what stays dissolved in the drink's alcohol and water; above 1 it crystallises in time.
    sugar_uncertainty_20c, sugar_uncertainty_5c : float
        Of these, either way.
    sugar_assumption : str
        What they rest on.
    pectin_g_l : float
        Most that can be in the bottle.
    pectin_removal : str
        What was counted as taken out by an enzyme, in words.
    gel_risk, oil_haze_risk : str
        `low`, `possible` or `high`.
    oil_from : tuple of str
        What brings so much oil that it may cloud, strong infusion or not.
    oil_extract_strength_pct_vol : float or None
        Of the strongest liquor it lay in; None without such a thing.
    lines : tuple of Note
        What is worth saying, each with the bar's own test; empty for a harmless drink.
    """

    viscosity_20c_mpa_s: float | None
    viscosity_5c_mpa_s: float | None
    viscosity_uncertainty_share: float
    viscosity_limits: str
    sugar_saturation_20c: float
    sugar_saturation_5c: float
    sugar_uncertainty_20c: float
    sugar_uncertainty_5c: float
    sugar_assumption: str
    pectin_g_l: float
    pectin_removal: str
    gel_risk: str
    oil_haze_risk: str
    oil_from: tuple[str, ...]
    oil_extract_strength_pct_vol: float | None
    lines: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class IngredientFacts(Record):
    """What is worked out about one ingredient beside what its entry says.

    Attributes
    ----------
    own : bool
        The shelf has an entry of its own for it.
    infusion_class : str or None
        How it is extracted; None for what needs no extracting.
    time_constant_h, at_c : float or None
        After that time at that temperature 63 % of what will come out is out.
    fresh_g_per_g_dried : float or None
        By dry matter; None where no pair of fresh and dried is known.
    pair : str
        The other one of the pair; empty without.
    pair_text, potency_text : str
        In plain words; empty where there is nothing to say.
    potency : float or None
        Share of the bitterness that is left in the stock on the shelf.
    restricted : tuple of (str, float, str)
        Substances that the law limits: name, mg/g at worst or as measured here, and where from.
    rules : tuple of str
        By what it is prohibited or kept to drinks with alcohol, in words.
    """

    own: bool
    infusion_class: str | None
    time_constant_h: float | None
    wash_share: float | None
    at_c: float | None
    infusion_source: str
    infusion_confidence: str
    fresh_g_per_g_dried: float | None
    pair: str
    pair_text: str
    potency_text: str
    potency: float | None
    restricted: tuple[tuple[str, float, str], ...] = ()
    rules: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class DrinkRecord(Cautioned):
    """A batch worked out: shared by `solve` and `predict`.

    Attributes
    ----------
    status : str
        `optimal`, `feasible` or `predicted`.
    size_text : str
        How the size was asked for.
    confirmable_pct_vol : float or None
        To how many % vol a scale, a hydrometer and a refractometer can confirm the strength.
    bitterness_range : tuple of float or None
        What weak and strong lots of the same plants would give.
    bitterness_word : str
        Our working word for its bitterness, such as `firm`; empty where it is hardly bitter.
    used_limits : tuple of TargetRecord
        Limits on ingredients that the recipe stands at.
    law : LawRecord or None
        How near it comes to the limits on restricted substances.
    cost : CostLine or None
        None when a price is missing.
    purchases : tuple of PurchaseRecord
        Whole things bought for their parts.
    clarity : ClarityRecord or None
        Whether it stays clear and how thick it is.
    categories : tuple of CategoryRecord
        What it may be called, and what it lacks for other names.
    solver : mapping
        Name, passes, seconds; empty for a prediction.
    fills : tuple of FillRecord
        Vessels that its steps name and the shelf has.
    """

    status: str = field(metadata=HIDDEN)
    name: str
    size_text: str = field(metadata=shown("size"))
    recipe: tuple[RecipeLineRecord, ...]
    steps: tuple[StepRecord, ...]
    predicted: Profile
    confirmable_pct_vol: float | None = field(metadata=shown("predicted.confirmable_strength_pct_vol"))
    bitterness_range: tuple[float, float] | None = field(metadata=shown("predicted.bitterness_range"))
    bitterness_word: str = field(metadata=shown("predicted.bitterness_word"))
    targets: tuple[TargetRecord, ...]
    used_limits: tuple[TargetRecord, ...] = field(default=(), metadata=shown("limits_reached"))
    law: LawRecord | None = field(default=None, metadata=shown(""))
    cost: CostLine | None
    purchases: tuple[PurchaseRecord, ...] = ()
    clarity: ClarityRecord | None = None
    categories: tuple[CategoryRecord, ...] = ()
    notes: tuple[Note, ...] = field(metadata=HIDDEN)
    cautions: tuple[Note, ...] = field(metadata=shown(by=in_full))
    advice: str = field(default=ADVICE, init=False)
    solver: Mapping[str, object] = field(default_factory=dict, metadata=shown(if_any=True))
    fills: tuple[FillRecord, ...] = field(default=(), metadata=HIDDEN)
    flavour: tuple[FlavourPart, ...] = ()
    work: str = ""
    """The work of the batch in one line."""

    @property
    @computed("hydrometer_sg", after="predicted")
    def hydrometer_sg(self) -> float:
        """What a hydrometer marked SG 20/20 shows at 20 degrees Celsius."""
        from formulate.physics.density import density_ethanol_water

        return float(self.predicted.density_kg_m3) / float(density_ethanol_water(0.0))

    @property
    @computed("refractometer_brix", after="hydrometer_sg")
    def refractometer_brix(self) -> float | None:
        """What a refractometer marked Brix shows at 20 degrees Celsius; None beyond its scale."""
        from formulate.errors import RangeError
        from formulate.physics.refraction import brix_from_refractive_index

        try:
            return float(brix_from_refractive_index(float(self.predicted.refractive_index)))
        except RangeError:
            return None

    @property
    @computed("status", after="status")
    def told_status(self) -> str:
        """The status, or that a vessel is too small."""
        return VESSEL_TOO_SMALL if self.overfull else self.status

    @property
    def overfull(self) -> bool:
        """Whether a vessel that the file names cannot hold it."""
        return any(fill.too_small for fill in self.fills)

    @property
    def off_target(self) -> bool:
        """Whether it is not to be made as it stands: too much for its vessel, or over a limit of the law."""
        return self.overfull or (self.law is not None and self.law.broken)
