"""Flavour in usual doses, a working measure of ours: by hand, as a limit, and kept in a reformulation."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import ROOT, RunCommand

from formulate.jobs.solve import solve_bottle
from tests.jobs.dosed_kitchen import (
    DOSES,
    FRUIT,
    PLAIN,
    RED_BITTER,
    bottle,
    grams_per_l,
    priced_shelf,
    solved_with,
)


def test_flavour_is_the_dose_over_the_usual_one(tmp_path: Path) -> None:
    """By hand: grams per litre over the usual dose of the table, nothing being timed."""
    solved = solved_with(tmp_path, *RED_BITTER, bitterness="firm")
    grams = grams_per_l(solved)
    doses = {name: grams[name] / float(DOSES[name]["usual_g_per_l"]) for name in RED_BITTER}
    total = sum(doses.values())
    parts = solved.record.flavour
    assert [part.ingredient for part in parts] == sorted(doses, key=lambda name: -doses[name])
    for part in parts:
        assert part.usual_doses == pytest.approx(doses[part.ingredient], rel=1e-9)
        assert part.share == pytest.approx(doses[part.ingredient] / total, rel=1e-9)


def test_lead_and_none_above_are_kept(tmp_path: Path) -> None:
    more = "lead: angelica-root\nflavour: none above 35 % of the flavour\n"
    parts = solved_with(tmp_path, *RED_BITTER, more=more, bitterness="firm").record.flavour
    assert parts[0].ingredient == "angelica-root"
    assert parts[0].share <= 0.35 * (1.0 + 1e-6)
    assert parts[0].usual_doses >= 1.05 * parts[1].usual_doses * (1.0 - 1e-6)


def test_a_share_of_flavour_is_a_limit_like_others(tmp_path: Path) -> None:
    plants = ("gentian-root", "angelica-root: {share_of_flavour: 40 to 45 %}", "clove")
    parts = {part.ingredient: part.share for part in solved_with(tmp_path, *plants).record.flavour}
    assert 0.4 - 1e-6 <= parts["angelica-root"] <= 0.45 + 1e-6


def test_half_drawn_is_half_the_flavour(tmp_path: Path) -> None:
    """A time counts for the flavour as for the bitterness; what steeps without one is drawn out."""
    priced_shelf(tmp_path)
    path = bottle(tmp_path, ["gentian-root"], PLAIN)
    whole = solve_bottle(path).record.flavour[0].usual_doses
    timed = path.read_text("utf-8").replace("strain: true", "time: 1 h, temperature: 20 °C")
    path.write_text(timed, encoding="utf-8")
    record = solve_bottle(path).record
    part = record.flavour[0].usual_doses
    grams = 1000.0 * sum(line.mass_kg for line in record.recipe if line.ingredient == "gentian-root")
    assert grams / 5.0 == pytest.approx(1.5, rel=1e-6)  # alone: its usual dose
    assert 0.0 < part < whole
    assert np.isfinite(part)


# ------------------------------------------------------------------------------------ made again

DAMSON = ROOT / "examples" / "recipes" / "damson-aperitif.yaml"


RED_FRUIT = ROOT / "examples" / "recipes" / "red-fruit-bitter.yaml"


def _again(run_here: RunCommand, *options: str, recipe: Path = DAMSON) -> dict[str, Any]:
    done = run_here("reformulate", recipe, *options, "--json")
    assert done.exit_code == 0, done.stderr
    document: dict[str, Any] = json.loads(done.stdout)
    return document


def _flavour(document: dict[str, Any]) -> dict[str, float]:
    return {part["ingredient"]: part["usual_doses"] for part in document["flavour"]}


GONE = ("--without", "centaury-herb")


def test_what_goes_comes_and_shifts_is_said(run_here: RunCommand) -> None:
    document = _again(run_here, *GONE)
    before = {"grapefruit-zest", "damson", "centaury-herb", "yarrow-herb"}
    for one in document["flavours"]:
        if one["ingredient"] == "centaury-herb":
            assert one["after"] == 0.0
            assert one["before"] > 0.0
        if one["ingredient"] not in before:
            assert one["before"] == 0.0
    shares = {one["ingredient"]: one["share"] for one in document["flavour"]}
    for one in document["flavours"]:
        assert one["after"] == pytest.approx(shares.get(one["ingredient"], 0.0), abs=1e-12)
    text = " ".join(run_here("reformulate", "--all", DAMSON, *GONE).stdout.split())
    assert "Flavour, a measure of ours: gone: centaury-herb (" in text
    assert "; new: " in text


def test_a_tincture_of_the_missing_root_tastes_of_it(run_here: RunCommand) -> None:
    """The tincture of the shelf is gentian and spirit: nothing goes and nothing comes."""
    document = _again(run_here, "--without", "gentian-root", recipe=RED_FRUIT)
    assert "gentian-tincture" in {line["ingredient"] for line in document["recipe"]}
    assert document["flavours"] == []


def test_nearest_flavour_moves_by_flavour(run_here: RunCommand) -> None:
    """It comes nearer by kind of plant and by plant than the least change and the cheapest recipe do."""
    families = {"gentian-root": "root", "gentian-tincture": "root", "chicory-root": "root"}
    families |= dict.fromkeys(("centaury-herb", "yarrow-herb", "wormwood-herb"), "herb")
    families |= {"grapefruit-zest": "citrus", "damson": "fruit"}
    recipe = json.loads(run_here("predict", DAMSON, "--json").stdout)
    before = _flavour(recipe)

    def distance(after: dict[str, float]) -> float:
        each = sum(abs(after.get(name, 0.0) - before.get(name, 0.0)) for name in families)
        kinds = 0.0
        for kind in set(families.values()):
            mine = [name for name, family in families.items() if family == kind]
            kinds += abs(sum(after.get(name, 0.0) - before.get(name, 0.0) for name in mine))
        return (each + kinds) / 2.0

    found = {
        mode: _again(run_here, *GONE, *options)
        for mode, options in (
            ("nearest flavour", ("--nearest-flavour",)),
            ("least change", ()),
            ("cheapest", ("--cheapest",)),
        )
    }
    assert set().union(*(_flavour(one) for one in found.values())) <= set(families)
    assert found["nearest flavour"]["recipe"] != found["least change"]["recipe"]
    away = {mode: distance(_flavour(one)) for mode, one in found.items()}
    assert away["nearest flavour"] < min(away["least change"], away["cheapest"])


def test_without_what_leads_another_fruit_may(run_here: RunCommand) -> None:
    """Raspberry is to lead and is gone: it is said, and the fruits left still come to a third of a dose."""
    done = run_here("reformulate", RED_FRUIT, "--without", "raspberry", "--cheapest", "--json")
    assert done.exit_code == 0, done.stderr
    document = json.loads(done.stdout)
    assert any("that raspberry leads the flavour" in note["text"].lower() for note in document["warnings"])
    volume = document["predicted"]["volume_l"]
    fruits = {
        line["ingredient"]: line["mass_g"] / volume
        for line in document["recipe"]
        if line["ingredient"] in FRUIT
    }
    assert "raspberry" not in fruits
    usual = sum(grams / float(DOSES[name]["usual_g_per_l"]) for name, grams in fruits.items())
    assert usual >= (1.0 - 1e-6) / 3.0


def test_a_tincture_counts_with_its_root_for_the_largest_share(run_here: RunCommand) -> None:
    """The bottle asks for none above 40 %: gentian, as root and as tincture, is one taste."""
    gone = [text for name in ("wormwood", "yarrow", "centaury") for text in ("--without", f"{name}-herb")]
    document = json.loads(run_here("reformulate", RED_FRUIT, *gone, "--json").stdout)
    shares = {part["ingredient"]: part["share"] for part in document["flavour"]}
    assert shares["gentian-root"] + shares["gentian-tincture"] <= 0.4 * (1.0 + 1e-6)
    assert max(shares.values()) == shares["raspberry"]


def test_a_drink_named_after_what_is_hardly_tasted_is_told(tmp_path: Path) -> None:
    """A name promises a taste (common practice); an invented digestif whose bitter root drowns the coffee."""
    priced_shelf(tmp_path)
    path = bottle(tmp_path, ["gentian-root", "coffee-roasted"], PLAIN | {"bitterness": "firm"})
    path.write_text("name: Coffee digestif\n" + path.read_text("utf-8").split("\n", 1)[1], encoding="utf-8")
    record = solve_bottle(path).record
    shares = {part.ingredient: part.share for part in record.flavour}
    assert shares["coffee-roasted"] < 0.25
    told = [note.text for note in record.notes if note.code == "named_after"]
    assert len(told) == 1
    assert "`lead: coffee-roasted`" in told[0]
    path.write_text(path.read_text("utf-8") + "lead: coffee-roasted\n", encoding="utf-8")
    led = solve_bottle(path).record
    assert led.flavour[0].ingredient == "coffee-roasted"
    assert not [note for note in led.notes if note.code == "named_after"]


def test_several_that_might_lead_are_tasted_together(tmp_path: Path) -> None:
    """Hibiscus and ginger, each an accent beside the other: in all a third of a usual dose, as fruits are."""
    grams = grams_per_l(solved_with(tmp_path, "hibiscus-calyx", "ginger-fresh"))
    parts = [grams[name] / float(DOSES[name]["usual_g_per_l"]) for name in ("hibiscus-calyx", "ginger-fresh")]
    assert sum(parts) >= (1.0 - 1e-6) / 3.0
