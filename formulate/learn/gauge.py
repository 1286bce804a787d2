"""`gauge`: what a hydrometer and a refractometer show, to strength and sugar with their uncertainty.

Two readings give both figures; one reading and one figure known gives the other. The uncertainty
puts together each tool's division, the thermometer, and the models' own doubt.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from formulate.errors import Note, ReadingError
from formulate.learn.doubt import Doubt, Figure, figure_of
from formulate.learn.gauge_notes import gauge_notes
from formulate.learn.readings import GaugeRecord, Readings, model_density_doubt, model_index_doubt
from formulate.learn.scales import (
    STEPS,
    density_of_reading,
    index_of_reading,
    refuse_impossible,
    shown_density,
    shown_refraction,
)
from formulate.physics.gauging import (
    INDEX_TEMPERATURE_SHARE,
    index_at_temperature,
    index_of_brix_at_temperature,
    masses_of_litre,
    strength_and_sugar,
)
from formulate.physics.mixture import density_kg_m3
from formulate.physics.refraction import refractive_index_mixture
from formulate.physics.thermal import GLASS_CUBIC_EXPANSION_PER_K, density_mixture_kg_m3
from formulate.quantity import Band
from formulate.quantity.readings import Scale

__all__ = ["gauge"]

FloatArray = NDArray[np.float64]

NUDGES = (1e-3, 1e-2)
MOST_SUGAR_G_L = 1200.0
ENDS = (100.0, MOST_SUGAR_G_L)


def gauge(readings: Readings) -> GaugeRecord:
    """Work out strength and sugar from readings.

    Parameters
    ----------
    readings : Readings
        Two of density, refraction, strength and sugar; not strength and sugar alone.

    Raises
    ------
    ReadingError
        With an explanation: too little or too much was given, a reading belongs to no drink, or no drink
        has both.
    """
    given = [readings.density, readings.refraction, readings.strength, readings.sugar]
    if readings.density is None and readings.refraction is None:
        raise ReadingError("Nothing was read. Give a density, a refraction, or both.")
    if sum(one is not None for one in given) != 2:
        what = "both readings" if sum(one is not None for one in given) > 2 else "one reading"
        raise ReadingError(
            f"Two figures give the other two, and {what} with what is known makes "
            f"{sum(one is not None for one in given)}. Give density and refraction; or one of them and a "
            "strength or sugar that is known."
        )
    return _Gauging(readings).run()


class _Gauging:
    """Works out one set of readings; used once."""

    def __init__(self, readings: Readings) -> None:
        self.readings = readings
        self.known = (readings.acid_g_l, readings.solids_g_l)
        self.notes: list[Note] = []
        self.targets: list[float | None] = [None, None]
        if readings.density is not None:
            refuse_impossible(readings.density, readings.density_c)
            self.targets[0] = density_of_reading(readings.density, readings.density_c)
        if readings.refraction is not None:
            refuse_impossible(readings.refraction, readings.refraction_c)
            self.targets[1] = index_of_reading(
                readings.refraction, readings.refraction_c, self_correcting=readings.corrects_itself
            )
        self.rows = [row for row in (0, 1) if self.targets[row] is not None]
        self.unknown = [
            column for column, band in enumerate((readings.strength, readings.sugar)) if band is None
        ]

    def run(self) -> GaugeRecord:
        point, other = self._find()
        slopes = self._slopes(point)
        doubts = self._doubts(point, slopes)
        figures = []
        for column in (0, 1):
            if column in self.unknown:
                figures.append(figure_of(point[column], doubts[column]))
            else:
                figures.append(self._given(column, point[column]))
        masses = masses_of_litre(*point, *self.known)
        by_density = None
        if 0 in self.rows:
            by_density = np.zeros(2)
            by_density[self.unknown] = np.linalg.inv(slopes[np.ix_(self.rows, self.unknown)])[:, 0]
        self.notes += gauge_notes(self.readings, figures[0], figures[1], by_density)
        return GaugeRecord(
            readings=self.readings,
            strength=figures[0],
            sugar=figures[1],
            other_strength_pct_vol=other,
            density_kg_m3=float(density_kg_m3(masses)),
            refractive_index=float(refractive_index_mixture(masses)),
            notes=tuple(self.notes),
        )

    # --- the drink ------------------------------------------------------------------------------------

    def _forward(self, strength: Any, sugar: Any, row: int) -> FloatArray:
        """Return what one tool would see of many drinks; NaN where there is no such drink."""
        masses = masses_of_litre(strength, sugar, *self.known)
        fine = np.isfinite(masses[..., 0])
        seen = np.full(fine.shape, np.nan)
        if fine.any():
            seen[fine] = (
                density_mixture_kg_m3(masses[fine], self.readings.density_c)
                if row == 0
                else index_at_temperature(masses[fine], self.readings.refraction_c)
            )
        return seen

    def _find(self) -> tuple[tuple[float, float], float | None]:
        if len(self.unknown) == 1:
            return self._find_one()
        strength, sugar = (
            float(value)
            for value in strength_and_sugar(
                self.targets[0],
                self.targets[1],
                density_temperature_c=self.readings.density_c,
                index_temperature_c=self.readings.refraction_c,
                acid_g_l=self.readings.acid_g_l,
                solids_g_l=self.readings.solids_g_l,
            )
        )
        if not np.isfinite([strength, sugar]).all():
            raise self._contradiction()
        if strength >= 0.0 and sugar >= 0.0:
            return (strength, sugar), None
        rim = (max(strength, 0.0), max(sugar, 0.0))
        doubts = self._doubts(rim, self._slopes(rim))
        for column, (value, words) in enumerate(((strength, "alcohol"), (sugar, "sugar"))):
            if value >= 0.0:
                continue
            if -value > figure_of(value, doubts[column]).expanded:
                raise self._contradiction()
            self.notes.append(
                Note(
                    f"no_{words}",
                    f"No {words} that these tools could tell: taken as none, the rest from the density.",
                )
            )
        if strength < 0.0 and sugar < 0.0:
            return (0.0, 0.0), None
        free = 1 if strength < 0.0 else 0
        values = self._roots(free, 0.0, 0)
        return ((0.0, values[0]) if free == 1 else (values[0], 0.0)) if values else rim, None

    def _find_one(self) -> tuple[tuple[float, float], float | None]:
        free, row = self.unknown[0], self.rows[0]
        band = self.readings.sugar if free == 0 else self.readings.strength
        assert band is not None
        known = _middle(band)
        values = self._roots(free, known, row)
        if not values:
            values = self._nearly_none(free, known, row)
        pairs = [(value, known) if free == 0 else (known, value) for value in values]
        other = values[1] if len(values) > 1 else None
        if other is not None:
            self.notes.append(
                Note(
                    "two_strengths",
                    f"The refractive index turns near 85 % vol, so this reading fits {values[0]:.1f} and "
                    f"{other:.1f} % vol alike: a hydrometer tells which.",
                )
            )
        return pairs[0], other

    def _nearly_none(self, free: int, known: float, row: int) -> list[float]:
        """Take nothing as the answer where the reading lies no further below it than the tool's doubt."""
        rim = (0.0, known) if free == 0 else (known, 0.0)
        slopes = self._slopes(rim)
        target = self.targets[row]
        assert target is not None
        value = float((target - self._forward(*rim, row)) / slopes[row, free])
        if not np.isfinite(value) or value > 0.0:
            raise self._out_of_reach(free, known, row)
        if -value > figure_of(value, self._doubts(rim, slopes)[free]).expanded:
            raise self._out_of_reach(free, known, row)
        words = ("alcohol", "sugar")[free]
        self.notes.append(Note(f"no_{words}", f"No {words} that this tool could tell: taken as none."))
        return [0.0]

    def _roots(self, free: int, known: float, row: int) -> list[float]:
        """Find every value of one figure that gives a reading, the other known: a grid, then halving."""
        target = self.targets[row]
        assert target is not None

        def miss(values: Any) -> FloatArray:
            pair = (values, known) if free == 0 else (known, values)
            return np.asarray(self._forward(pair[0], pair[1], row) - target)

        grid = np.linspace(0.0, ENDS[free], 241)
        misses = miss(grid)
        roots = []
        for low, high, at_low, at_high in zip(grid, grid[1:], misses, misses[1:], strict=False):
            if at_low == 0.0:
                roots.append(float(low))
            if not at_low * at_high < 0.0:
                continue
            for _ in range(60):
                middle = 0.5 * (low + high)
                if float(miss(middle)) * at_low > 0.0:
                    low = middle
                else:
                    high = middle
            roots.append(float(0.5 * (low + high)))
        return roots

    # --- the doubt ------------------------------------------------------------------------------------

    def _slopes(self, at: tuple[float, float]) -> FloatArray:
        """Slopes of what each tool sees, by strength and by sugar, shape (2, 2)."""
        slopes = np.empty((2, 2))
        for column, nudge in enumerate(NUDGES):
            low = list(at)
            low[column] = max(at[column] - nudge, 0.0)
            high = list(low)
            high[column] = low[column] + 2.0 * nudge
            for row in (0, 1):
                rise = self._forward(high[0], high[1], row) - self._forward(low[0], low[1], row)
                slopes[row, column] = float(rise) / (2.0 * nudge)
        return slopes

    def _doubts(self, at: tuple[float, float], slopes: FloatArray) -> tuple[list[Doubt], list[Doubt]]:
        """List what makes strength and sugar doubtful, each in its own unit."""
        inverse = np.linalg.inv(slopes[np.ix_(self.rows, self.unknown)])
        doubts: tuple[list[Doubt], list[Doubt]] = ([], [])

        def add(cause: str, shift: FloatArray, *, even: bool) -> None:
            effects = inverse @ shift[self.rows]
            for column, effect in zip(self.unknown, effects, strict=True):
                if effect:
                    doubts[column].append(Doubt(cause, float(effect), even))

        for row in self.rows:
            for cause, size, even in self._causes(row, at):
                shift = np.zeros(2)
                shift[row] = size
                add(cause, shift, even=even)
        for column, band in enumerate((self.readings.strength, self.readings.sugar)):
            if band is not None and (doubt := _half(band)):
                add(f"the {('strength', 'sugar')[column]} given", slopes[:, column] * doubt, even=True)
        return doubts

    def _causes(self, row: int, at: tuple[float, float]) -> list[tuple[str, float, bool]]:
        """List how far each cause may shift one reading: its name, its size, and whether evenly so."""
        readings = self.readings
        masses = masses_of_litre(*at, *self.known)
        kelvin = readings.thermometer_k
        if row == 0:
            reading = readings.density
            assert reading is not None
            step = STEPS[reading.scale] if readings.density_step is None else readings.density_step
            here = density_of_reading(reading, readings.density_c)
            size = abs(density_of_reading(reading, readings.density_c, plus=step) - here)
            warming = _by_kelvin(lambda t: float(density_mixture_kg_m3(masses, t)), readings.density_c)
            if reading.scale is not Scale.DENSITY:
                warming += GLASS_CUBIC_EXPANSION_PER_K * here
            return [
                ("the hydrometer's division", size, True),
                ("the thermometer", warming * kelvin, True),
                ("the density model", model_density_doubt(*at), False),
            ]
        reading = readings.refraction
        assert reading is not None
        step = STEPS[reading.scale] if readings.refraction_step is None else readings.refraction_step
        corrects = readings.corrects_itself

        def index(plus: float, temperature_c: float) -> float:
            return index_of_reading(reading, temperature_c, self_correcting=corrects, plus=plus)

        at_c = readings.refraction_c
        here = index(0.0, at_c)
        warming = _by_kelvin(lambda t: float(index_at_temperature(masses, t)) - index(0.0, t), at_c)
        correction = float(index_at_temperature(masses, at_c)) - float(refractive_index_mixture(masses))
        if corrects and reading.scale is Scale.BRIX:
            correction -= here - float(index_of_brix_at_temperature(reading.value, 20.0))
        return [
            ("the refractometer's division", abs(index(step, at_c) - here), True),
            ("the thermometer at the refractometer", warming * kelvin, True),
            ("the index model", model_index_doubt(*at), False),
            ("the index model away from 20 °C", INDEX_TEMPERATURE_SHARE * correction, True),
        ]

    def _given(self, column: int, value: float) -> Figure:
        band = (self.readings.strength, self.readings.sugar)[column]
        assert band is not None
        doubt = _half(band)
        return figure_of(value, [Doubt("as given", doubt, True)] if doubt else [], given=True)

    # --- the words ------------------------------------------------------------------------------------

    def _possible(self) -> tuple[float, float] | None:
        """Return the lowest and highest index of all drinks of the density read."""
        target = self.targets[0]
        assert target is not None
        strengths = np.linspace(0.0, 100.0, 101)[:, None]
        sugars = np.linspace(0.0, MOST_SUGAR_G_L, 121)[None, :]
        density = self._forward(strengths, sugars, 0)
        index = self._forward(strengths, sugars, 1)
        crossings = []
        for along, seen in ((density, index), (density.T, index.T)):
            for along_line, seen_line in zip(along, seen, strict=True):
                crossing = np.flatnonzero((along_line[:-1] - target) * (along_line[1:] - target) <= 0.0)
                for at in crossing:
                    share = (target - along_line[at]) / (along_line[at + 1] - along_line[at])
                    crossings.append(float(seen_line[at] + share * (seen_line[at + 1] - seen_line[at])))
        return (min(crossings), max(crossings)) if crossings else None

    def _contradiction(self) -> ReadingError:
        readings = self.readings
        assert readings.density is not None
        assert readings.refraction is not None
        possible = self._possible()
        pair = f"{shown_density(readings.density)} and {shown_refraction(readings.refraction)}"
        checks = (
            "Check both again: strain and stir out gas bubbles, let drink and tools come to one temperature "
            "and say it (--at), set the refractometer to zero with water."
        )
        if possible is None:
            return ReadingError(f"No drink of water, spirit and sugar shows {pair}. {checks}")
        target = self.targets[1]
        assert target is not None
        ends = [self._as_shown(index) for index in possible]
        side = "less" if target < possible[0] else "more" if target > possible[1] else "another"
        meaning = {
            "less": "Less would need less than no alcohol in it: the density reads high or the index low.",
            "more": "More would leave no room for water: the density reads low or the index high.",
            "another": "",
        }[side]
        return ReadingError(
            f"These readings contradict each other: no drink of water, spirit and sugar shows {pair}. "
            f"At that density a drink shows {ends[0]} to {ends[1]}. {meaning} {checks}".replace("  ", " ")
        )

    def _as_shown(self, index: float) -> str:
        readings = self.readings
        assert readings.refraction is not None
        return shown_refraction(
            readings.refraction, index, readings.refraction_c, self_correcting=readings.corrects_itself
        )

    def _out_of_reach(self, free: int, known: float, row: int) -> ReadingError:
        """Say between what a reading would have to lie, the one figure known."""
        grid = np.linspace(0.0, ENDS[free], 241)
        seen = self._forward(grid, known, row) if free == 0 else self._forward(known, grid, row)
        fine = np.isfinite(seen)
        figure = f"{known:g} g/L of sugar" if free == 0 else f"{known:g} % vol"
        other = "strength" if free == 0 else "sugar"
        readings = self.readings
        reading = readings.density if row == 0 else readings.refraction
        assert reading is not None
        typed = shown_density(reading) if row == 0 else shown_refraction(reading)
        if not fine.any():
            return ReadingError(f"No drink holds {figure}: there would be no room for water.")
        low, high = float(seen[fine].min()), float(seen[fine].max())
        ends = (
            [shown_density(reading, value, readings.density_c) for value in (low, high)]
            if row == 0
            else [self._as_shown(value) for value in (low, high)]
        )
        return ReadingError(
            f"{typed} and {figure} contradict each other: with {figure}, whatever the {other}, a drink shows "
            f"{ends[0]} to {ends[1]}. Check the reading, its temperature (--at) and the figure given."
        )


def _middle(band: Band) -> float:
    ends = [end for end in (band.lower, band.upper) if end is not None]
    return sum(ends) / len(ends)


def _half(band: Band) -> float:
    return 0.0 if band.lower is None or band.upper is None else (band.upper - band.lower) / 2.0


def _by_kelvin(evaluate: Any, temperature_c: float) -> float:
    """Change of something per kelvin, inside 0 to 40 degrees Celsius."""
    low, high = max(temperature_c - 0.5, 0.0), min(temperature_c + 0.5, 40.0)
    return float((evaluate(high) - evaluate(low)) / (high - low))
