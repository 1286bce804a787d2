"""Random bottles of 1 to 8 plants and fruits: every dose in its range, none dropped, every refusal of use.

Where doses leave no recipe each change that is offered is made, as the text says it, and solved again.
"""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from formulate.describe.no_recipe import NoRecipe
from formulate.describe.solved import SolvedBottle
from formulate.errors import InfeasibleError
from formulate.jobs.solve import solve_bottle
from tests.jobs.dosed_kitchen import DOSES, bottle, grams_per_l, out_of_range, priced_shelf

BOTTLES, QUICK = 500, 20
"""How many there are, and every so many-th is in the quick run."""

WORDS = ("light", "medium", "firm", "strong")
BITTER = ("gentian-root", "wormwood-herb", "seville-orange-peel-dried", "chicory-root", "cinchona-bark")
SEEDS = [pytest.param(seed, marks=() if seed % QUICK == 0 else pytest.mark.slow) for seed in range(BOTTLES)]
SALT_AND_THE_LIKE = {"salt"}
"""Salt tastes of salt: it is in, but no bar tries 1 g/L of it at random."""


def _drawn(seed: int) -> tuple[dict[str, str], dict[str, str], list[str]]:
    """Return lines of the list, targets, and candidates."""
    draw = random.Random(seed)
    names = draw.sample(sorted(set(DOSES) - SALT_AND_THE_LIKE), draw.randint(1, 8))
    if draw.random() < 0.5 and not set(names) & set(BITTER):
        names[0] = draw.choice(BITTER)
    lines = {name: f"{name}: {{optional: true}}" if draw.random() < 0.15 else name for name in names}
    strength, sugar = draw.uniform(17.0, 34.0), draw.uniform(120.0, 280.0)
    targets = {"strength": f"{strength:.1f} ± 0.5 % vol", "sugar": f"{sugar:.0f} ± 15 g/L"}
    if set(names) & set(BITTER) and draw.random() < 0.7:
        targets["bitterness"] = draw.choice(WORDS)
    others = sorted(set(DOSES) - set(names) - SALT_AND_THE_LIKE)
    candidates = draw.sample(others, 3) if draw.random() < 0.3 else []
    return lines, targets, candidates


def _tried(
    folder: Path, lines: dict[str, str], targets: dict[str, str], candidates: list[str], more: str = ""
) -> SolvedBottle:
    listed = "".join(f"  - {name}\n" for name in candidates)
    more += f"may_use:\n{listed}" if candidates else ""
    return solve_bottle(bottle(folder, lines.values(), targets, more))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_random_bottle(tmp_path: Path, seed: int) -> None:
    priced_shelf(tmp_path)
    lines, targets, candidates = _drawn(seed)
    try:
        solved = _tried(tmp_path, lines, targets, candidates)
    except InfeasibleError as error:
        nothing = error.explanation
        assert isinstance(nothing, NoRecipe)
        _check_refusal(tmp_path, nothing, lines, targets, candidates)
        return
    grams = grams_per_l(solved)
    sure = [name for name, line in lines.items() if line == name]
    told = " ".join(note.text for note in solved.record.notes if note.code == "law_before_dose")
    # What is taken of what may be left out is noticed too; a fruit beside sure ones may be an accent.
    taken = [name for name in (*lines, *candidates) if name in grams and name not in sure]
    missed = out_of_range(grams, sure)
    missed |= {name: miss for name, miss in out_of_range(grams, [*sure, *taken]).items() if name in taken}
    assert all(name in told for name in missed), missed
    assert set(sure) <= set(grams)


def _check_refusal(
    folder: Path, nothing: NoRecipe, lines: dict[str, str], targets: dict[str, str], candidates: list[str]
) -> None:
    """Make every change that is offered, one at a time."""
    if nothing.doses is None:
        with pytest.raises(InfeasibleError):
            _tried(folder, lines, targets, candidates, "doses: any\n")
        return
    for change in nothing.doses.changes:
        made, asked, more = _changed(change, lines, targets)
        assert (made, asked, more) != (lines, targets, ""), f"not understood: {change}"
        _tried(folder, made, asked, candidates, more)


def _changed(
    change: str, lines: dict[str, str], targets: dict[str, str]
) -> tuple[dict[str, str], dict[str, str], str]:
    if change.startswith("`doses: any`"):
        return lines, targets, "doses: any\n"
    if found := re.match(r"another bitter plant from your shelf: (\S+)", change):
        return {**lines, found[1]: found[1]}, targets, ""
    if found := re.match(r"bitterness (\w+) instead of", change):
        return lines, {**targets, "bitterness": found[1]}, ""
    if found := re.match(r"(more|less) (\S+), (?:to )?(\S+) g/L", change):
        limit = "at_most" if found[1] == "more" else "at_least"
        return {**lines, found[2]: f"{found[2]}: {{{limit}: {found[3]} g per L bottled}}"}, targets, ""
    if found := re.match(r"(\S+) marked `optional: true`", change):
        return {**lines, found[1]: f"{found[1]}: {{optional: true}}"}, targets, ""
    if found := re.match(r"(strength|sugar) (up|down) to (\S+) (.*)", change):
        low, high = _ends(targets[found[1]])
        low, high = (low, float(found[3])) if found[2] == "up" else (float(found[3]), high)
        return lines, {**targets, found[1]: f"{low} to {high} {found[4]}"}, ""
    return lines, targets, ""


def _ends(band: str) -> tuple[float, float]:
    middle, _, width = band.partition(" ± ")
    return float(middle) - float(width.split()[0]), float(middle) + float(width.split()[0])
