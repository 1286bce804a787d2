"""The table of measures: whatever a person may ask of a drink, one row each.

Files read names and units from it, the question its weights, a drink its figures, a report digits and
words. A new target is a row here, the content of the ingredients that bring it, and its test.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import inf, isfinite
from types import MappingProxyType

from formulate.physics.components import CITRIC_EQUIVALENT, ETHANOL_KG_L, INVERT_EQUIVALENT, SUGARS
from formulate.quantity import Band, Dimension
from formulate.quantity.units import factor

__all__ = [
    "ACID",
    "ASKED_BY_BAND",
    "BITTERNESS",
    "BY_WEIGHT",
    "COST",
    "INVERT",
    "IN_EVERY_DRINK",
    "MEASURES",
    "MOST_BY_WEIGHT",
    "PCT_VOL_PER_KG_L",
    "STRENGTH",
    "SUGAR",
    "SUGAR_OF_A_PCT_VOL_G_L",
    "TOTAL",
    "Measure",
    "contents_among",
    "measure_of",
]

PCT_VOL_PER_KG_L = 100.0 / ETHANOL_KG_L
"""% vol for each kilogram of ethanol in a litre."""

LEAST_TOLERANCE = 1e-9
"""A share of nothing is no tolerance."""

SUGAR_OF_A_PCT_VOL_G_L = 16.83
"""Invert sugar that could ferment to 1 % vol, g/L (OIV, from memory)."""


@dataclass(frozen=True)
class Measure:
    """One thing that may be asked of a drink.

    Attributes
    ----------
    name
        Key under `targets:` in a file, and what it is called on screen.
    dimension
        Of a value as typed; None for money.
    unit
        It is shown in.
    weights
        By name of what a drink carries, what a kilogram of it in a litre counts; empty for money.
    per_kg_l
        Canonical units of `dimension` for each weighted kilogram in a litre.
    figure
        Key in JSON, and field of a `Profile`; a content, which only drinks that carry it have, has none.
    digits
        After the point, on screen; None for three significant ones.
    usual_tolerance
        A plain value may be off by so much, in canonical units; None where a band must be written.
    is_relative
        Whether that is a share of the value.
    on_tolerance
        What the schema of the shelf says of it.
    caveat
        How far to trust the figure, told where it is asked for; empty for nothing beside what is told anyway.
    in_bottle, in_glass
        What the schema says of it in a bottle file and in a drink file; empty where it has no key of its own.
    """

    name: str
    dimension: Dimension | None
    unit: str
    weights: Mapping[str, float]
    per_kg_l: float = 1000.0
    figure: str = ""
    digits: int | None = None
    usual_tolerance: float | None = None
    is_relative: bool = False
    on_tolerance: str = ""
    caveat: str = ""
    in_bottle: str = ""
    in_glass: str = ""

    @cached_property
    def shown_per_canonical(self) -> float:
        """How many of `unit` one canonical unit is: 1000 where mg/L are shown."""
        return 1.0 if self.dimension is None else float(1 / factor(self.dimension, self.unit))

    def ends(self, band: Band) -> tuple[float, float]:
        """Return the ends of a band in `unit`; zero and infinite where open."""
        scale = self.shown_per_canonical
        return (
            0.0 if band.lower is None else band.lower * scale,
            inf if band.upper is None else band.upper * scale,
        )

    def bounds(self, band: Band) -> tuple[float, float]:
        """Return the ends of a band as weighted kilograms in a litre; infinite where open."""
        return (
            -inf if band.lower is None else band.lower / self.per_kg_l,
            inf if band.upper is None else band.upper / self.per_kg_l,
        )

    def band(self, lower: float, upper: float, text: str) -> Band:
        """Ask for it between two ends in `unit`; an infinite one leaves the end open."""
        assert self.dimension is not None
        low, high = (end / self.shown_per_canonical if isfinite(end) else None for end in (lower, upper))
        return Band(low, high, self.dimension, text)

    def plain(self, band: Band, usual_tolerance: float) -> Band:
        """Widen a plain value by the usual tolerance; any other band is returned as it is."""
        if not band.plain or band.lower is None:
            return band
        return band.with_tolerance(
            max(band.lower * usual_tolerance, LEAST_TOLERANCE) if self.is_relative else usual_tolerance
        )

    @property
    def display(self) -> float:
        """What a weighted kilogram in a litre is, in `unit`."""
        return self.per_kg_l * self.shown_per_canonical

    @property
    def key(self) -> str:
        """Key in JSON with the unit in it, such as ``sugar_g_l``."""
        return self.figure or f"{self.name}_{self.unit}".replace("/", "_").replace("-", "_").lower()

    @property
    def unit_bottled(self) -> str:
        """The unit where it must be clear what the litre is of."""
        return f"{self.unit} bottled" if self.unit.endswith("/L") else self.unit

    @property
    def is_content(self) -> bool:
        """Whether ingredients bring it under `attributes:`."""
        return self.dimension is not None and not self.figure and self.name in self.weights


STRENGTH, SUGAR, ACID, BITTERNESS, COST = "strength", "sugar", "acid", "bitterness", "cost"
INVERT, BY_WEIGHT, MOST_BY_WEIGHT = "sugar as invert", "sugar by weight", "most sugar by weight"
TOTAL = "total strength"

_ROWS = (
    Measure(
        STRENGTH,
        Dimension.STRENGTH,
        "% vol",
        {"ethanol": 1.0},
        PCT_VOL_PER_KG_L,
        figure="strength_pct_vol",
        digits=1,
        usual_tolerance=0.3,
        on_tolerance="Default 0.3 % vol, the labelling tolerance.",
        in_bottle="Strength at 20 °C.",
        in_glass="Strength, melt and all.",
    ),
    Measure(
        SUGAR,
        Dimension.MASS_CONCENTRATION,
        "g/L",
        dict.fromkeys(SUGARS, 1.0),
        figure="sugar_g_l",
        digits=0,
        usual_tolerance=5.0,
        on_tolerance="Default 5 g/L.",
        in_bottle="Sugars in all.",
        in_glass="Sugars, per litre in the glass.",
    ),
    Measure(
        ACID,
        Dimension.MASS_CONCENTRATION,
        "g/L",
        CITRIC_EQUIVALENT,
        figure="acid_g_l",
        digits=1,
        usual_tolerance=0.5,
        on_tolerance="Default 0.5 g/L.",
        in_bottle="Acids in all, as citric acid.",
        in_glass="Acids, per litre in the glass.",
    ),
    Measure(
        "caffeine",
        Dimension.MASS_CONCENTRATION,
        "mg/L",
        {"caffeine": 1.0},
        digits=0,
        usual_tolerance=0.1,
        is_relative=True,
        on_tolerance="Share of the aim, default 10 %.",
        caveat="Caffeine is reckoned from the usual content of each plant as if all of it came out. Lots "
        "differ by a third and more, and a short or cold infusion gives less: measure it where it must be "
        "right.",
        in_bottle="Caffeine of coffee, tea, guarana, cacao and what else holds it.",
        in_glass="Caffeine, per litre in the glass.",
    ),
    Measure(
        BITTERNESS,
        Dimension.BITTERNESS,
        "",
        {BITTERNESS: 1.0},
        figure="bitterness_value",
        digits=0,
        usual_tolerance=0.2,
        is_relative=True,
        on_tolerance="Share of the aim, default 20 %.",
    ),
    Measure(COST, None, "{currency}/L", {}, figure="cost_per_l", digits=2),
    # What a category of the law asks for; its name stands before them: `liqueur (EU) sugar as invert`.
    Measure(
        INVERT, Dimension.MASS_CONCENTRATION, "g/L", INVERT_EQUIVALENT, figure="invert_sugar_g_l", digits=0
    ),
    # The strength, and what the sugar could still give.
    Measure(
        TOTAL,
        Dimension.STRENGTH,
        "% vol",
        {"ethanol": 1.0}
        | {
            name: 1000.0 * share / SUGAR_OF_A_PCT_VOL_G_L / PCT_VOL_PER_KG_L
            for name, share in INVERT_EQUIVALENT.items()
        },
        PCT_VOL_PER_KG_L,
        digits=1,
    ),
    # Held as sugar in a litre above the share that is asked for, so the share is among the weights.
    Measure(BY_WEIGHT, Dimension.MASS_CONCENTRATION, "g/L", {}, digits=1),
    Measure(MOST_BY_WEIGHT, Dimension.MASS_CONCENTRATION, "g/L", {}, digits=1),
)

MEASURES: Mapping[str, Measure] = MappingProxyType({row.name: row for row in _ROWS})
"""By name, in the order they are shown in."""

ASKED_BY_BAND = tuple(row for row in _ROWS if row.in_bottle)
"""What a bottle or drink file asks for with a band under a key of its own."""

IN_EVERY_DRINK = (MEASURES[STRENGTH], MEASURES[SUGAR], MEASURES[ACID], MEASURES[BITTERNESS])
"""What is told of every drink, asked for or not."""


def measure_of(name: str) -> Measure:
    """Return the row of a name; one for a content of ingredients where the table has none."""
    row = MEASURES.get(name)
    return Measure(name, Dimension.MASS_CONCENTRATION, "g/L", {name: 1.0}) if row is None else row


def contents_among(names: Iterable[str]) -> tuple[str, ...]:
    """Pick the names of what ingredients bring under `attributes:`, in the order given."""
    return tuple(name for name in names if measure_of(name).is_content)
