"""`learn`: known kitchens found again without bias, and own values put on the shelf and taken out."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from conftest import ROOT, RunCommand
from scipy.stats import binom, chi2

import formulate
from formulate.errors import FormulateError
from formulate.files.trial import load_trial
from formulate.learn.kitchen import TriedJar, learn_kitchen
from formulate.learn.learned import learned_of
from tests.trials.kitchens import Found, by_hand, jar, ours

RUNS = 200
NAMES = ("fridge", "warm", "hot")
DAY = date(2026, 11, 9)

ONE_PLANT = {"vodka-40": 500, "gentian-root": 2}
SIX_PLANTS = {
    "vodka-40": 500,
    "damson": 80,
    "raspberry": 80,
    "gentian-root": 1,
    "wormwood-herb": 0.5,
    "chicory-root": 6,
    "seville-orange-peel-dried": 5,
}


def _one() -> list[TriedJar]:
    plans = ("6 h at 20 °C", "3 days at 20 °C")
    return [jar(plan, plan, ONE_PLANT, bitter=True) for plan in plans]


def _six() -> list[TriedJar]:
    return [jar("six", "1 h at 50 °C", SIX_PLANTS, bitter=True)]


@pytest.mark.slow
@pytest.mark.parametrize("kitchen", [ours, by_hand])
@pytest.mark.parametrize("jars", [_one, _six])
def test_known_kitchens_are_found_without_bias_and_as_sure_as_said(
    kitchen: Callable[[Sequence[TriedJar], int, int], Found], jars: Callable[[], list[TriedJar]]
) -> None:
    found = kitchen(jars(), RUNS, 11)
    off = found.errors.mean(axis=0) * RUNS**0.5 / found.errors.std(axis=0)
    # In units of its standard error each mean is normal: together within what chance does in 999 of 1000,
    # none beyond what the largest of so many may be, and as many within 2 as there should be.
    count = len(off)
    assert (off**2).sum() < chi2.ppf(0.999, count)
    assert np.abs(off).max() < 4.0
    assert (np.abs(off) < 2.0).sum() >= binom.ppf(0.001, count, 0.954)
    inside = (np.abs(found.errors) < 1.96).mean()
    assert inside == pytest.approx(0.95, abs=0.02)


@pytest.fixture
def bar(tmp_path: Path) -> Path:
    """A copy of the bar of the examples."""
    return shutil.copytree(ROOT / "examples", tmp_path / "bar")


def _trials(bar: Path) -> list[Path]:
    return [bar / "trials" / f"{name}.yaml" for name in NAMES]


def test_six_plants_in_a_jar_are_not_told_apart_and_it_says_which() -> None:
    record = learned_of(learn_kitchen(_six()))
    told = " / ".join(record.not_told_apart)
    for plant in ("gentian-root", "wormwood-herb", "chicory-root", "seville-orange-peel-dried"):
        assert plant in told
    assert "how bitter" in told
    alone = learned_of(learn_kitchen(_one()))
    assert not [text for text in alone.not_told_apart if "how bitter" in text and " each" in text]


def test_nothing_is_written_silently_and_undo_brings_the_shelf_back(bar: Path) -> None:
    shelf = bar / "shelf.yaml"
    before = shelf.read_bytes()
    assert formulate.learn_from(*_trials(bar), today=DAY).written == ()
    assert shelf.read_bytes() == before
    taught = formulate.learn_from(*_trials(bar), write=True, today=DAY)
    assert "raspberry" in taught.written
    text = shelf.read_text(encoding="utf-8")
    assert "learned from trials on 2026-11-09: Fridge, two days (2026-11-02)" in text
    # The same trials again: what they taught does not count twice.
    again = formulate.learn_from(*_trials(bar), write=True, today=DAY)
    for one, other in zip(taught.learned.things, again.learned.things, strict=True):
        assert other.own == pytest.approx(one.own, rel=1e-9)
    formulate.forget(shelf)
    assert shelf.read_text(encoding="utf-8") == text
    formulate.forget(shelf)
    assert shelf.read_bytes() == before
    with pytest.raises(FormulateError, match="nothing on this shelf was learned"):
        formulate.forget(shelf)


def test_a_whole_week(bar: Path, run_here: RunCommand) -> None:
    files = [str(path) for path in _trials(bar)]
    compared = run_here("compare", *files)
    assert compared.exit_code == 0
    assert "Go on from" in compared.stdout
    sheet = run_here("compare", *files[:2], "--blind")
    assert "ring the odd one" in sheet.stdout
    tasted = run_here("compare", *files[:2], "--triangle", "5 of 6")
    assert "a difference is shown" in " ".join(tasted.stdout.split())
    bottle = bar / "bottles" / "red-fruit-bitter.yaml"
    before = formulate.solve(bottle).record
    learned = run_here("learn", *files, "--write")
    assert (learned.exit_code, learned.stderr) == (0, "")
    assert "Written on the shelf" in learned.stdout
    after = formulate.solve(bottle).record
    # This kitchen's cake keeps more: more spirit goes in, and the litre is dearer.
    spirit = [
        next(line.mass_kg for line in one.recipe if line.ingredient == "vodka-40") for one in (before, after)
    ]
    assert spirit[1] > spirit[0] * 1.002
    assert after.cost.per_litre > before.cost.per_litre


def test_an_odd_reading_is_named(bar: Path) -> None:
    warm = bar / "trials" / "warm.yaml"
    text = warm.read_text(encoding="utf-8")
    warm.write_text(text.replace("refraction: 24.6 Brix", "refraction: 27.4 Brix"), encoding="utf-8")
    jars = _trials(bar)
    record = formulate.learn_from(*jars, today=DAY).learned
    assert record.outlier is not None
    assert (record.outlier.trial, record.outlier.what) == ("Warm, an hour", "refraction")
    assert record.notes[0].code == "out_of_line"
    assert load_trial(warm).refraction is not None


def test_screens_are_short_and_narrow(run_here: RunCommand) -> None:
    files = [f"examples/trials/{name}.yaml" for name in NAMES]
    done = run_here("learn", *files)
    assert (done.exit_code, done.stderr) == (0, "")
    assert len(done.stdout.splitlines()) <= 24
    assert max(map(len, done.stdout.splitlines())) <= 80
