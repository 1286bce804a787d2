"""Caps on plants: what every command says of them, and that solver and report have one law."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path

import pytest
from conftest import RunCommand
from hypothesis import assume, given
from hypothesis import strategies as st

from formulate.bar.opening import open_pantry
from formulate.bar.permitted import Rules
from formulate.blend.chain import Step
from formulate.blend.materials import LIQUOR
from formulate.errors import InfeasibleError
from formulate.files.issues import Places
from formulate.formulation.caps import cap_limits
from formulate.jobs.adjust import adjust_lot, open_bottle
from formulate.jobs.buy import buy_bottle
from formulate.jobs.check import check_files
from formulate.jobs.infuse import compare_plans
from formulate.jobs.nearest import nearest_recipe
from formulate.jobs.options import read_circumstances
from formulate.jobs.predict import predict_recipe
from formulate.jobs.reformulate import reformulate
from formulate.jobs.scale import scale_recipe
from formulate.jobs.solve import solve_bottle
from formulate.jobs.tradeoff import trade_off
from formulate.learn.lot import lot_of_file
from formulate.optimise.disjunctions import keeps
from formulate.optimise.problem import limit_value
from formulate.rules.law import law_of
from tests.batches import batch_of
from tests.jobs.restricted_kitchen import bottle, keeps_every_limit, saved, write

EU = "jurisdiction: EU"


# ---- what is said everywhere ----------------------------------------------------------------------------


def codes(notes: Iterable[object]) -> set[str]:
    return {str(getattr(note, "code", "")) for note in notes}


def test_a_lifted_limit_is_told_by_every_job(tmp_path: Path) -> None:
    rules = "lifted: [{limit: old-coumarin, name: bar manager, reason: a test, date: 2026-11-20}]"
    lines = ["cassia-bark: {exactly: 1 g per L bottled}", "wormwood-herb", "gentian-root"]
    path = bottle(tmp_path, lines, rules=rules)
    made = saved(tmp_path, path)
    lot = lot_of_file(made)
    told = {
        "solve": codes(solve_bottle(path).record.notes),
        "predict": codes(predict_recipe(made).notes),
        "scale": codes(scale_recipe(made, "2 L bottled").drink.notes),
        "reformulate": codes(reformulate(made, read_circumstances()).record.best.drink.notes),
        "buy": codes(buy_bottle(path).notes),
        "infuse": codes(compare_plans(path).notes),
        "adjust": codes(adjust_lot(lot, open_bottle(path)).notes),
        "tradeoff": codes(trade_off(path, "strength", "27 % vol", "29 % vol", points=3).notes),
    }
    for job, said in told.items():
        assert "limit_lifted" in said, job
        assert "no_jurisdiction" in said, job


def test_a_bottle_without_a_shelf_keeps_the_limits_too(tmp_path: Path) -> None:
    write(tmp_path, "alone.yaml", "recipe: A\ningredients:\n  - vodka-40: {amount: 1 kg}\n"
          "  - sage-leaf: {amount: 1 g}\n")  # fmt: skip
    record = predict_recipe(tmp_path / "alone.yaml")
    assert record.law is not None
    # 1 g x 12 mg/g in a little over 1 kg: 12 mg/kg, over 10 everywhere.
    assert {cap.rule for cap in record.law.over} == {"eu-thujone", "us-thujone"}
    assert open_pantry(None, Places()).ingredient("sage-leaf").restricted["thujone"] == 12.0


def test_checking_a_bottle_names_what_is_lifted(tmp_path: Path) -> None:
    rules = "lifted: [{limit: old-coumarin, name: bar manager, reason: a test, date: 2026-11-20}]"
    path = bottle(tmp_path, ["gentian-root"], rules=rules)
    (checked,) = check_files([path])
    assert (
        "NOT KEPT: coumarin, 10 mg/kg (old-coumarin), lifted by bar manager on 2026-11-20" in checked.summary
    )


def test_the_nearest_recipe_keeps_the_caps_that_stand_in_the_way(tmp_path: Path) -> None:
    # 6 g/L gentian is BV 108, 86 at the least; wormwood alone gives 49 within its cap.
    path = bottle(tmp_path, ["wormwood-herb"], rules=EU, targets="  bitterness: like 6 g/L gentian-root")
    with pytest.raises(InfeasibleError) as caught:
        solve_bottle(path)
    nothing = caught.value.explanation
    assert "thujone (eu-thujone-artemisia)" in [one.limit.origin.name for one in nothing.explanation.clash]
    nearest = nearest_recipe(nothing)
    assert nearest is not None
    keeps_every_limit(nearest.record, "EU")


def test_choices_keep_the_caps(tmp_path: Path) -> None:
    path = bottle(tmp_path, ["wormwood-herb", "sage-leaf", "gentian-root"], rules=EU)
    path.write_text(path.read_text("utf-8") + "choose: {at_most: 5}\n", "utf-8")
    record = solve_bottle(path).record
    assert len(record.recipe) <= 5
    keeps_every_limit(record, "EU")


LIQUORS = st.lists(
    st.tuples(st.floats(0.01, 3.0), st.floats(0.0, 0.02), st.floats(0.0, 0.02), st.floats(0.0, 2.0)),
    min_size=1,
    max_size=1,
)


@given(masses=LIQUORS, where=st.sampled_from(["EU", "US", None]), loss=st.floats(0.0, 0.5))
def test_the_rows_of_the_solver_and_what_is_told_are_one_law(
    masses: list[tuple[float, float, float, float]], where: str | None, loss: float
) -> None:
    spirit, wormwood, sage, syrup = masses[0]
    pantry = open_pantry(None, Places())
    names = ("vodka-40", "wormwood-herb", "sage-leaf", "simple-syrup-1-1")
    steps = Step("infuse", loss_fraction=loss), Step("finish", strains=False)
    weighed = [[spirit, wormwood, sage, 0.0], [0.0, 0.0, 0.0, syrup]]
    batch = batch_of([pantry.ingredient(name) for name in names], weighed, *steps)
    run = batch.run
    assume(run.bottled[:LIQUOR].sum() > 1e-3 and (run.kept_kg < run.gross[:, :LIQUOR].sum(axis=1)).all())
    rules = Rules(where)
    law, volume = law_of(batch, rules), batch.volume_l
    # The rows for what may come late hold for what comes early too
    rows, disjunctions = cap_limits(rules, batch.chain, range(len(names)))
    slips = [
        limit.violation(limit_value(limit, batch.bottled / volume, batch.used_kg / volume, 1.0, 0.0))
        for limit in rows
    ]
    kept = all(
        any(keeps(case, batch.masses_kg, batch.bottled, volume) for case in one.cases) for one in disjunctions
    )
    if kept and max(slips, default=0.0) == 0.0:
        assert law.over == ()
    if law.over:
        assert not kept or max(slips) > 0.0


def test_where_there_is_no_recipe_it_is_said_whose_law_stands_in_the_way(
    tmp_path: Path, run_here: RunCommand
) -> None:
    path = bottle(tmp_path, ["wormwood-herb: {at_least: 2 g per L bottled}"], targets="")
    done = run_here("solve", "--all", path)
    assert done.exit_code == 3
    assert "thujone (us-thujone): at most 10 mg/kg (US: 21 CFR 172.510; 10 mg/kg after" in done.stderr
    assert "No file says whose law counts" in done.stderr
    document = json.loads(run_here("solve", path, "--json").stdout)
    assert [note["code"] for note in document["warnings"]] == ["no_jurisdiction"]
