"""What to know of pectin, enzyme and coarse bitterness in a batch."""

from __future__ import annotations

import math

from formulate.blend.batch import Batch
from formulate.blend.materials import BITTERNESS
from formulate.blend.pectin import CLEAR_G_L, PectinRun, StepPectin, follow_pectin
from formulate.blend.steps import FORTIFIED_PCT_VOL, LEAST_SPIRIT_PCT_VOL
from formulate.errors import Note
from formulate.files.infusing import plan_text
from formulate.files.steps import StepSpec
from formulate.physics.enzyme import ALCOHOL_TEST, DOSE_G_PER_KG, UNFORTIFIED_MASH
from formulate.physics.kinetics import harsh_share
from formulate.quantity.words import duration, listed

__all__ = ["MASH_SHORT", "coarse_share", "dose_text", "enzyme_notes", "kitchen_notes"]

PECTIN_RICH_G_L = 1.0
"""Pectin brought in per litre of liquor above which cloud and slow filters are usual (common practice)."""

COARSE_SHOWN = 0.15
"""Share of coarse bitterness from which it is said; as in `infuse` (our working figure)."""


PRACTICE = "Kept warm, an hour often does, even with spirit and sugar in (common practice)."


MASH_SHORT = "Fruit and enzyme without spirit: below pH 4, for two hours at most."


def kitchen_notes(batch: Batch) -> list[Note]:
    """Say what enzyme, pectin and time do to a batch.

    Returns
    -------
    list of Note
        Codes: enzyme, unfortified_mash, end_test, pectin_without_enzyme, coarse.
    """
    notes = enzyme_notes(batch)
    materials = batch.chain.materials
    column = materials.column(BITTERNESS)
    for spec, masses in zip(batch.specs, batch.masses_kg, strict=True):
        share = coarse_share(spec)
        if share is None or share <= COARSE_SHOWN or not (masses * materials.content[:, column]).any():
            continue
        assert spec.time_h is not None
        assert spec.temperature_c is not None
        notes.append(
            Note(
                "coarse",
                f"About {share * 100:.0f} % of the bitterness drawn in `{spec.name}` may be coarse after "
                f"{plan_text(spec.time_h, spec.temperature_c)}: our working model, no published figure. "
                "Taste early; `harsh: false` on the step switches it off.",
            )
        )
    return notes


def coarse_share(spec: StepSpec) -> float | None:
    """Return the coarse share of what is bitter in a step; None where it is not known or switched off."""
    if spec.harsh is False or spec.time_h is None or spec.temperature_c is None:
        return None
    return float(harsh_share(spec.time_h, spec.temperature_c))


def enzyme_notes(batch: Batch) -> list[Note]:
    """Say what the enzyme is given to, how far it comes and how to see that."""
    pectin = follow_pectin(batch)
    treated = [step for step in pectin.steps if step.enzyme is not None]
    notes = [
        Note(
            "enzyme",
            _enzyme_text(step),
            "common practice",
            short=f"Enzyme in `{step.step}`: {dose_text(step)}.",
        )
        for step in treated
    ]
    if any(step.hold is not None or step.strength_pct_vol < FORTIFIED_PCT_VOL for step in treated):
        notes.append(Note("unfortified_mash", _mash_text(pectin, batch), "common practice", short=MASH_SHORT))
    if treated:
        text = ALCOHOL_TEST.text
        notes.append(
            Note(
                "end_test",
                f"How to see that the enzyme is done: {text[0].lower()}{text[1:]}",
                f"{ALCOHOL_TEST.source}, {ALCOHOL_TEST.confidence}",
            )
        )
    for position, step in enumerate(pectin.steps):
        by_hand = any(
            ingredient.family == "enzyme" and mass
            for ingredient, mass in zip(batch.ingredients, batch.masses_kg[position], strict=True)
        )
        if step.enzyme is None and not by_hand and step.fruit_kg and step.before_g_l >= PECTIN_RICH_G_L:
            notes.append(
                Note(
                    "pectin_without_enzyme",
                    f"Fruit and pith bring up to {step.before_g_l:.1f} g of pectin per litre into "
                    f"`{step.step}`: it may cloud, gel or filter slowly. For a clear bottle give the step "
                    "`enzyme: {dose: 2 g/kg}`.",
                    "common practice",
                    short=f"Pectin may cloud it: `enzyme: {{dose: 2 g/kg}}` in `{step.step}` clears it.",
                )
            )
    return notes


def dose_text(step: StepPectin) -> str:
    """Say how much enzyme a step takes."""
    assert step.enzyme is not None
    text = (
        f"{step.enzyme_g:.2g} g of pectinase" if step.enzyme_g < 10 else f"{step.enzyme_g:.0f} g of pectinase"
    )
    return f"{text} for {_kilograms(step.fruit_kg)} of fruit and pith"


def _enzyme_text(step: StepPectin) -> str:
    assert step.enzyme is not None
    text = f"Enzyme in `{step.step}`: {dose_text(step)}"
    falls = f"pectin from {step.before_g_l:.1f} to about {step.left_g_l:.1f} g/L"
    dose = DOSE_G_PER_KG["retail"]
    heavy = (
        ""
        if step.enzyme.dose_g_per_kg <= dose.high
        else f" More than the usual {dose.low:g} to {dose.high:g} g/kg."
    )
    guess = "our figure is a starting guess; do the end test"
    if step.hold is not None:
        hold = step.hold
        spirit = (
            "then the spirit" if step.strength_pct_vol > LEAST_SPIRIT_PCT_VOL else "then on with the rest"
        )
        aim = f": clear is below about {CLEAR_G_L:g}" if step.left_g_l > CLEAR_G_L else ""
        return (
            f"{text}, with the fruit alone for {duration(hold.time_h)} at {hold.temperature_c:.0f} °C, "
            f"{spirit}; {falls}{aim} ({guess}).{heavy}"
        )
    strength = (
        f"with the spirit, at {step.strength_pct_vol:.0f} % vol"
        if step.strength_pct_vol > LEAST_SPIRIT_PCT_VOL
        else "no spirit in"
    )
    if step.finish is None or math.isnan(step.left_g_l):
        return (
            f"{text}, {strength}; no time and temperature, so only the end test tells when it is done.{heavy}"
        )
    finish = step.finish
    text = f"{text}, {strength}; {falls}; {finish.text}."
    if step.strength_pct_vol > LEAST_SPIRIT_PCT_VOL:
        text += f" {PRACTICE}"
    if finish.earliest_h is not None:
        text += f" First test after {duration(max(finish.earliest_h, 0.25))}."
    return f"{text}{heavy}"


def _mash_text(pectin: PectinRun, batch: Batch) -> str:
    """Give the rule for fruit without spirit, and name the fruit whose usual pH breaks it."""
    sour = UNFORTIFIED_MASH.highest_ph
    weak = [
        ingredient.id
        for position, step in enumerate(pectin.steps)
        if step.enzyme is not None
        for ingredient, mass in zip(batch.ingredients, batch.masses_kg[position], strict=True)
        if mass > 0.0
        and ingredient.composition.get("pectin", 0.0)
        and ingredient.ph
        and ingredient.ph >= sour
    ]
    text = f"Fruit and enzyme without spirit: {UNFORTIFIED_MASH.text[0].lower()}{UNFORTIFIED_MASH.text[1:]}"
    if weak:
        names = listed(list(dict.fromkeys(weak)))
        text += f" {names} is not below pH {sour:g} by itself: measure, and add acid first."
    return text


def _kilograms(mass_kg: float) -> str:
    return f"{mass_kg:.2f} kg" if mass_kg >= 1.0 else f"{mass_kg * 1000:.0f} g"
