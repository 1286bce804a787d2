"""Trials side by side: one row for each thing that matters, the best of each marked, and what to try next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from formulate.errors import Note
from formulate.files.trial import MORE_IS_BETTER, TASTED, WORDS_OF_TASTE, Trial
from formulate.learn.doubt import Figure
from formulate.learn.kitchen import TriedJar
from formulate.learn.tasting import TasteTest
from formulate.learn.trials import Estimate
from formulate.quantity.document import Result, shown
from formulate.quantity.words import duration

__all__ = ["Comparison", "Row", "compare_jars"]

TASTED_WORDS = {"neat": "neat", "at_20": "at 20 % vol", "in_drink": "in the drink"}
CLOSE = 1e-6


@dataclass(frozen=True, kw_only=True)
class Row:
    """One thing compared.

    Attributes
    ----------
    what : str
    unit : str
    values : tuple of float or None
        In the order of the trials; None where nobody knows.
    doubts : tuple of float
        Half the width that holds 95 of 100; 0 where it is as weighed or tasted.
    best : tuple of int
        Which trials are best; none where all are alike or nothing says which way is better.
    digits : int
    """

    what: str
    unit: str
    values: tuple[float | None, ...]
    doubts: tuple[float, ...]
    best: tuple[int, ...] = ()
    digits: int = 0


@dataclass(frozen=True, kw_only=True)
class Comparison(Result):
    """Trials side by side.

    Attributes
    ----------
    trials : tuple of str
    plans : tuple of str
        How long and how warm each drew.
    rows : tuple of Row
    following : str
        One sentence on what to try next.
    tests : tuple of TasteTest
    dose_factor : float or None
        By how much to multiply the dose of the weaker drink.
    """

    status: str = field(default="compared", init=False)
    trials: tuple[str, ...]
    plans: tuple[str, ...]
    rows: tuple[Row, ...]
    following: str = field(metadata=shown("try_next"))
    tests: tuple[TasteTest, ...] = ()
    dose_factor: float | None = None
    notes: tuple[Note, ...] = field(default=(), metadata=shown("warnings"))


def compare_jars(
    jars: Sequence[TriedJar],
    estimates: Sequence[Estimate],
    aims: Mapping[str, tuple[float, float]],
    costs: Sequence[float | None],
    currency: str,
) -> Comparison:
    """Lay trials side by side.

    Parameters
    ----------
    jars, estimates : sequences of the same length
    aims : mapping of str to (float, float)
        Ends of what the bottle asks, by measure; open ends infinite.
    costs : sequence of float or None
        Per litre bottled.
    currency : str
    """
    lost = [one.lost_share for one in estimates]
    rows = [
        _row("yield", "%", [100.0 * one.yield_share for one in estimates], more=True),
        _estimated("cake keeps", "kg/kg", [one.kept_kg_per_kg for one in estimates], more=False, digits=2),
        _estimated("lost in straining", "%", lost, more=False, digits=1, by=100.0),
    ]
    for what, unit, digits, figures in (
        ("strength", "% vol", 1, [one.strength_pct_vol for one in estimates]),
        ("sugar", "g/L", 0, [one.sugar_g_l for one in estimates]),
        ("acid", "g/L", 1, [one.acid_g_l for one in estimates]),
        ("bitterness", "", 0, [one.bitterness_value for one in estimates]),
    ):
        rows.append(_estimated(what, unit, figures, aim=aims.get(what), digits=digits))
    trials = [jar.trial for jar in jars]
    rows.append(_row("colour, thinned 1 to", "", [one.colour_thinned for one in trials], more=True))
    work = [None if one.work is None else one.work * 60.0 for one in trials]
    rows.append(_row("hands at work", "min", work, more=False))
    rows.append(_row("cost", f"{currency}/L", list(costs), more=False, digits=2))
    for how in TASTED:
        for word in WORDS_OF_TASTE:
            marks = [getattr(one, how).get(word) for one in trials]
            name = f"{word}, {TASTED_WORDS[how]}"
            rows.append(_row(name, "of 5", marks, more=MORE_IS_BETTER.get(word), digits=1))
    kept = tuple(row for row in rows if any(value is not None for value in row.values))
    return Comparison(
        trials=tuple(one.name for one in trials),
        plans=tuple(_plan(jar) for jar in jars),
        rows=kept,
        following=_following(trials, kept, aims),
        notes=tuple(note for one in estimates for note in one.notes),
    )


def _plan(jar: TriedJar) -> str:
    step = jar.batch.chain.steps[jar.position]
    if step.time_h is None or step.temperature_c is None:
        return "to the end"
    return f"{duration(step.time_h)} at {step.temperature_c:g} °C"


def _row(
    what: str,
    unit: str,
    values: Sequence[float | None],
    *,
    more: bool | None = None,
    digits: int = 0,
) -> Row:
    known = [value for value in values if value is not None]
    best: tuple[int, ...] = ()
    if more is not None and len(known) > 1 and max(known) - min(known) > CLOSE:
        top = max(known) if more else min(known)
        best = tuple(at for at, value in enumerate(values) if value is not None and abs(value - top) <= CLOSE)
    return Row(
        what=what, unit=unit, values=tuple(values), doubts=(0.0,) * len(values), best=best, digits=digits
    )


def _estimated(
    what: str,
    unit: str,
    figures: Sequence[Figure | None],
    *,
    more: bool | None = None,
    aim: tuple[float, float] | None = None,
    digits: int = 0,
    by: float = 1.0,
) -> Row:
    values = tuple(None if one is None else one.value * by for one in figures)
    doubts = tuple(0.0 if one is None else one.expanded * by for one in figures)
    # How far each is from the best there could be: off its aim, or short of the best of all.
    known = [value for value in values if value is not None]
    if aim is not None:
        far = [None if value is None else max(aim[0] - value, value - aim[1], 0.0) for value in values]
    elif more is None or not known:
        far = [None for _ in values]
    else:
        top = max(known) if more else min(known)
        far = [None if value is None else abs(value - top) for value in values]
    least = min((one for one in far if one is not None), default=0.0)
    best = tuple(
        at
        for at, (one, doubt) in enumerate(zip(far, doubts, strict=True))
        if one is not None and one - least <= doubt
    )
    if len(best) == len(known):
        best = ()  # what cannot be told apart is no better
    return Row(what=what, unit=unit, values=values, doubts=doubts, best=best, digits=digits)


def _following(trials: Sequence[Trial], rows: Sequence[Row], aims: Mapping[str, tuple[float, float]]) -> str:
    """Say in a sentence which trial to go on from, and what to change in it."""
    marks = [sum(at in row.best for row in rows) for at in range(len(trials))]
    lead = max(range(len(trials)), key=lambda at: (marks[at], -at))
    by_name = {row.what: row for row in rows}
    name = trials[lead].name
    if (row := by_name.get("rough, neat")) is not None:
        mark = row.values[lead]
        if mark is not None and mark >= 3.0 and lead not in row.best:
            return f"Go on from {name}, cooler or shorter: it is best in most rows, but rough."
    for what, less, more in (
        ("bitterness", "draw the bitter plants longer", "draw them shorter, or hold back a part"),
        ("acid", "add acid", "less sour fruit"),
        ("sugar", "sweeten more", "sweeten less"),
        ("strength", "less water at the end", "more water at the end"),
    ):
        value = by_name[what].values[lead] if what in by_name else None
        if what not in aims or value is None:
            continue
        (low, high), doubt = aims[what], by_name[what].doubts[lead]
        if value + doubt < low:
            return f"Go on from {name} and {less}: its {what} is {value:.3g}, the aim from {low:.3g}."
        if value - doubt > high:
            return f"Go on from {name} and {more}: its {what} is {value:.3g}, the aim up to {high:.3g}."
    for what, advice in (
        ("cake keeps", "press its cake as hard as that of"),
        ("lost in straining", "strain and scrape it as in"),
        ("fruit, neat", "let the fruit draw as in"),
    ):
        row = by_name.get(what)
        if row is not None and row.best and lead not in row.best:
            return f"Go on from {name}, and {advice} {trials[row.best[0]].name}."
    return f"Go on from {name}: it is best in {marks[lead]} of {len(rows)} rows. Next, change one thing only."
