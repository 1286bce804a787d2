"""One infusing plan worked out on a weighed batch: what it draws out, what it spoils, how long it takes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.batch import BarBatch
from formulate.bar.vessels import contents_l
from formulate.blend.chain import Chain, ethanol_fraction
from formulate.blend.materials import BITTERNESS, LIQUOR, kinetics_of
from formulate.blend.pectin import StepPectin, follow_pectin, hold_before_spirit, pectin_course
from formulate.blend.separation import SEPARATIONS
from formulate.blend.steps import FORTIFIED_PCT_VOL, LEAST_SPIRIT_PCT_VOL, steps_of
from formulate.blend.uptake import COLOUR, StrengthTable
from formulate.describe.infuse_record import Drawn, Miss, Plan, PlanLimits, Strainer
from formulate.files.infusing import PlanText, plan_text
from formulate.files.steps import ENZYME, EnzymeOrder, StepSpec
from formulate.formulation.planned_step import with_planned_step
from formulate.physics.enzyme import UNFORTIFIED_MASH
from formulate.physics.extraction import Kinetics, approach
from formulate.physics.flash import at_or_above_flash_point
from formulate.physics.kinetics import anthocyanin_left, harsh_share
from formulate.physics.mixture import strength_pct_vol, volume_l
from formulate.physics.warming import FIRST_COEFFICIENT, stirred_time_constant_h, time_to_reach_h

__all__ = ["WARM_WITHIN_K", "PlanTable"]

FloatArray = NDArray[np.float64]

USUAL_STRAINERS = ("coarse-sieve", "cloth")
"""What is counted in the clock where a step only says that it strains (common practice)."""

WARM_WITHIN_K = 2.0
"""The middle of the jar counts as warm this near to the bath."""

FRIDGE_C, HOT_C = 5.0, 60.0
"""A step without spirit keeps at or below the first, and does not grow mould above the second."""


@dataclass(frozen=True, slots=True)
class Course:
    """What time and heat do under a plan; the fields are those of `Plan`."""

    drawn: tuple[Drawn, ...]
    colour_left: float | None
    harsh_share: float | None
    pectin_left_g_l: float
    hold_h: float
    hold_c: float


class PlanTable:
    """Works out plans for one step of a weighed batch.

    Parameters
    ----------
    specs : tuple of StepSpec
        Of the batch, defaults filled in.
    position : int
        Of the infusing step.
    start_c : float
        What the jar starts from.
    time_constant_h : float or None
        Of the jar by a probe reading; None for an estimate.
    still : bool
        Whether nobody stirs, so that the estimate is by conduction alone.
    """

    def __init__(
        self,
        batch: BarBatch,
        specs: tuple[StepSpec, ...],
        position: int,
        limits: PlanLimits,
        start_c: float,
        time_constant_h: float | None,
        still: bool,
        enzyme_price_per_kg: float | None,
    ) -> None:
        self.batch, self.specs, self.position, self.limits = batch, specs, position, limits
        self.start_c, self.time_constant_h, self.still = start_c, time_constant_h, still
        self.enzyme_price_per_kg = enzyme_price_per_kg
        gross = batch.run.gross[position]
        liquor = gross[:LIQUOR]
        self.liquor_l = float(volume_l(liquor, check=False))
        self.strength_pct_vol = float(strength_pct_vol(liquor, check=False))
        self.contents_l = contents_l(batch.run, position)
        self.jar_l = min(max(self._vessel_l() or self.contents_l, 0.01), 1000.0)
        self.strainers = self._strainers()
        self.straining_h = sum(strainer.time_h for strainer in self.strainers)
        self.plants, self.counted_from = self._plants(float(ethanol_fraction(gross)))
        self.pectin = self._pectin(specs[position])
        masses, content = batch.masses_kg[position], batch.chain.materials.content
        self.bitter = bool((masses * content[:, batch.chain.materials.column(BITTERNESS)]).any())
        carried = batch.chain.materials.carried
        self.coloured = COLOUR in carried and bool((masses * content[:, carried.index(COLOUR)]).any())

    def orders(self) -> tuple[EnzymeOrder | None, ...]:
        """List the ways of giving enzyme that make sense here; none without fruit."""
        if not self.pectin.fruit_kg or self.pectin.before_g_l <= 0.0:
            return (None,)
        if self.strength_pct_vol <= LEAST_SPIRIT_PCT_VOL:
            return (None, "with spirit")
        return (None, "before spirit", "with spirit")

    def plan(self, time_h: float, temperature_c: float, enzyme: EnzymeOrder | None) -> Plan:
        """Work out one plan."""
        spec = self._spec(time_h, temperature_c, enzyme)
        specs = self._specs(spec)
        chain = Chain(self.batch.chain.materials, steps_of(specs))
        run = chain.run(self.batch.masses_kg)
        bottled_l = float(self.batch.drink.volume_l)  # no plan changes how much liquor there is
        course = self.course(time_h, temperature_c, enzyme)
        warm_up_h = self.warm_up_h(max(temperature_c, course.hold_c))
        plan = Plan(
            name=plan_text(time_h, temperature_c),
            time_h=time_h,
            temperature_c=temperature_c,
            enzyme=enzyme,
            enzyme_hold_h=course.hold_h,
            enzyme_hold_c=course.hold_c,
            drawn=course.drawn,
            bitterness_value=float(run.bottled[LIQUOR]) / bottled_l * 1000.0,
            colour_left=course.colour_left,
            harsh_share=course.harsh_share,
            pectin_left_g_l=course.pectin_left_g_l,
            strength_pct_vol=self.strength_pct_vol,
            volume_l=bottled_l,
            cost_per_l=self._cost_per_l(spec, bottled_l),
            warm_up_h=warm_up_h,
            straining_h=self.straining_h,
            clock_h=course.hold_h + warm_up_h + time_h + self.straining_h,
            above_flash_point=bool(at_or_above_flash_point(self.strength_pct_vol, temperature_c)),
            misses=(),
        )
        return replace(plan, misses=tuple(sorted(self.misses(plan), key=lambda miss: -miss.shortfall)))

    def course(self, time_h: float, temperature_c: float, enzyme: EnzymeOrder | None) -> Course:
        """Work out what time and heat do, which is all that the limits ask; see `plan`."""
        spec = self._spec(time_h, temperature_c, enzyme)
        given = spec.enzyme if self.pectin.fruit_kg else None
        before = self.pectin.before_g_l
        left, hold, _ = pectin_course(given, before, time_h, temperature_c, self.strength_pct_vol)
        colour_left = None
        if self.coloured:
            colour_left = float(anthocyanin_left(time_h, temperature_c))
            if hold is not None:
                colour_left *= float(anthocyanin_left(hold.time_h, hold.temperature_c))
        harsh = None
        if self.bitter and spec.harsh is not False:
            harsh = float(harsh_share(time_h, temperature_c))
        return Course(
            drawn=tuple(
                Drawn(ingredient, what, share, share * ceiling)
                for ingredient, what, kinetics, ceiling in self.plants
                for share in (float(approach(time_h, temperature_c, kinetics)),)
            ),
            colour_left=colour_left,
            harsh_share=harsh,
            pectin_left_g_l=left,
            hold_h=0.0 if hold is None else hold.time_h,
            hold_c=temperature_c if hold is None else hold.temperature_c,
        )

    def specs_of(self, plan: Plan) -> tuple[StepSpec, ...]:
        """Return all steps with a plan in the infusing one."""
        return self._specs(self._spec(plan.time_h, plan.temperature_c, plan.enzyme))

    def counted(self, plan: Plan | Course) -> tuple[Drawn, ...]:
        """Return what of a plan is held against the limit on drawing out."""
        return tuple(drawn for drawn in plan.drawn if drawn.what in self.counted_from)

    def misses(self, plan: Plan) -> list[Miss]:
        """List the limits a plan does not keep."""
        limits = self.limits
        missed = [
            Miss(
                "drawn",
                f"{drawn.share * 100:.0f} % drawn out of the {drawn.ingredient} ({drawn.what}), at "
                f"least {limits.drawn * 100:.0f} % is asked",
                1.0 - drawn.share / limits.drawn,
            )
            for drawn in self.counted(plan)
            if drawn.share < limits.drawn
        ]
        if plan.harsh_share is not None and plan.harsh_share > limits.harsh:
            missed.append(
                Miss(
                    "harsh",
                    f"{plan.harsh_share * 100:.0f} % of the bitterness coarse, at most "
                    f"{limits.harsh * 100:.0f} % is asked",
                    1.0 - limits.harsh / plan.harsh_share,
                )
            )
        if plan.colour_left is not None and plan.colour_left < limits.colour_left:
            missed.append(
                Miss(
                    "colour_left",
                    f"{plan.colour_left * 100:.0f} % of the colour left, at least "
                    f"{limits.colour_left * 100:.0f} % is asked",
                    1.0 - plan.colour_left / limits.colour_left,
                )
            )
        most = limits.pectin_left_g_l
        if most is not None and plan.pectin_left_g_l > most:
            missed.append(
                Miss(
                    "pectin_left",
                    f"{plan.pectin_left_g_l:.1f} g/L of pectin left, at most {most:g} is asked",
                    1.0 - most / plan.pectin_left_g_l,
                )
            )
        if plan.temperature_c > limits.hottest_c:
            missed.append(
                Miss(
                    "hottest",
                    f"{plan.temperature_c:.0f} °C, at most {limits.hottest_c:.0f} °C is asked",
                    min((plan.temperature_c - limits.hottest_c) / 100.0, 1.0),
                )
            )
        longest = UNFORTIFIED_MASH.longest_h
        if (
            self.strength_pct_vol < FORTIFIED_PCT_VOL
            and FRIDGE_C < plan.temperature_c < HOT_C
            and plan.time_h > longest
        ):
            missed.append(
                Miss(
                    "keeping",
                    f"{self.strength_pct_vol:.0f} % vol does not keep it: warm for {longest:g} h at most, "
                    "then spirit or the fridge",
                    1.0 - longest / plan.time_h,
                )
            )
        return missed

    def margins(self, plan: Plan | Course) -> FloatArray:
        """Say how far each limit is kept, scaled to the limit; below zero is a breach."""
        limits = self.limits
        margins = [drawn.share / limits.drawn - 1.0 for drawn in self.counted(plan)] if limits.drawn else []
        if plan.harsh_share is not None:
            margins.append(limits.harsh - plan.harsh_share)
        if plan.colour_left is not None:
            margins.append(plan.colour_left - limits.colour_left)
        if limits.pectin_left_g_l is not None:
            # In the logarithm pectin falls evenly with time, which a minimiser likes.
            margins.append(float(np.log(max(limits.pectin_left_g_l, 1e-6) / max(plan.pectin_left_g_l, 1e-9))))
        return np.array(margins)

    def clock_h(self, time_h: float, temperature_c: float, enzyme: EnzymeOrder | None) -> float:
        """Return how long a plan takes in all, which plans are ranked by; see `Plan`."""
        hold_h, warmest_c = 0.0, temperature_c
        if enzyme == "before spirit" and self.pectin.fruit_kg:
            given = self._spec(time_h, temperature_c, enzyme).enzyme
            assert given is not None
            hold = hold_before_spirit(given, self.pectin.before_g_l, temperature_c)
            hold_h, warmest_c = hold.time_h, max(temperature_c, hold.temperature_c)
        return hold_h + self.warm_up_h(warmest_c) + time_h + self.straining_h

    def warm_up_h(self, bath_c: float) -> float:
        """Say how long the middle of the jar takes to come within 2 K of a bath.

        Nobody waits for a jar to cool: what it draws while still warm only helps.
        """
        gap = (bath_c - self.start_c) / WARM_WITHIN_K
        if gap <= 1.0:
            return 0.0
        if self.time_constant_h is not None:
            return max(0.0, self.time_constant_h * float(np.log(FIRST_COEFFICIENT * gap)))
        if self.still:
            return float(time_to_reach_h(bath_c - WARM_WITHIN_K, bath_c, self.start_c, self.jar_l))
        return stirred_time_constant_h(self.jar_l) * float(np.log(gap))

    def _spec(self, time_h: float, temperature_c: float, enzyme: EnzymeOrder | None) -> StepSpec:
        return with_planned_step(
            self.specs[self.position], PlanText(time_h, temperature_c, enzyme is not None, enzyme)
        )

    def _specs(self, spec: StepSpec) -> tuple[StepSpec, ...]:
        return (*self.specs[: self.position], spec, *self.specs[self.position + 1 :])

    def _pectin(self, spec: StepSpec) -> StepPectin:
        return follow_pectin(replace(self.batch, specs=self._specs(spec))).steps[self.position]

    def _vessel_l(self) -> float | None:
        shelf, vessel = self.batch.pantry.shelf, self.specs[self.position].vessel
        if shelf is None or vessel is None or vessel not in shelf.vessels:
            return None
        return min(shelf.vessels[vessel], self.contents_l)

    def _strainers(self) -> tuple[Strainer, ...]:
        """Time each strainer of this step and those after it; a sieve and a cloth where none is named."""
        found = []
        for place in range(self.position, len(self.specs)):
            spec = self.specs[place]
            litres = float(volume_l(self.batch.run.gross[place, :LIQUOR], check=False))
            for name in spec.separate or (USUAL_STRAINERS if spec.strain else ()):
                minutes = SEPARATIONS[name].minutes_per_l * litres
                found.append(Strainer(name, minutes / 60.0, named=bool(spec.separate)))
        return tuple(found)

    def _cost_per_l(self, spec: StepSpec, bottled_l: float) -> float | None:
        bill = self.batch.bill
        if bill is None:
            return None
        there_kg = sum(mass for one, mass in self.batch.holdings() if one.id == ENZYME)
        dose = 0.0 if spec.enzyme is None else spec.enzyme.dose_g_per_kg / 1000.0
        more_kg = dose * self.pectin.fruit_kg - there_kg
        return (bill.total + more_kg * (self.enzyme_price_per_kg or 0.0)) / bottled_l

    def _plants(self, ethanol: float) -> tuple[tuple[tuple[str, str, Kinetics, float], ...], frozenset[str]]:
        """List what time draws out: ingredient, what, how, and the share the strength allows."""
        materials = self.batch.chain.materials
        plants: list[tuple[str, str, Kinetics, float]] = []
        for number, ingredient in enumerate(self.batch.ingredients):
            if not self.batch.masses_kg[self.position, number] > 0.0:
                continue
            drawn = [
                (name if name == BITTERNESS else "colour", kinetics)
                for name, kinetics in zip(materials.carried[LIQUOR:], materials.kinetics[number], strict=True)
                if kinetics is not None
                and name in (BITTERNESS, COLOUR)
                and materials.content[number, materials.column(name)]
            ]
            flavour = kinetics_of(ingredient)
            if not drawn and flavour is not None:
                drawn = [("flavour", flavour)]
            plants += [
                (ingredient.id, what, kinetics, float(StrengthTable(kinetics.equilibrium).share(ethanol)))
                for what, kinetics in drawn
            ]
        kinds = {what for _, what, _, _ in plants}
        return tuple(plants), frozenset(kinds - {"flavour"} or kinds)
