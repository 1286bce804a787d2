"""Usual doses as a bottle keeps them: the rules one by one, and the worst case that started them.

Ranges are those of `tests/files/doses.csv`; a third of a usual dose of several fruits, 30 g/L of each and a
tenth of usual of what leads elsewhere are from memory, as the data says.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import RunCommand

from formulate.describe.no_recipe import NoRecipe
from formulate.describe.solved import SolvedBottle
from formulate.errors import InfeasibleError
from formulate.files.bottle import load_bottle
from formulate.files.recipe import dump_recipe
from formulate.formulation.solving import recipe_of
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import solve_bottle
from formulate.jobs.weighed import weigh_solved
from tests.jobs.dosed_kitchen import (
    DOSES,
    PLAIN,
    RED_BITTER,
    bottle,
    grams_per_l,
    out_of_range,
    priced_shelf,
    solved_with,
)


def _nothing(folder: Path, *plants: str, more: str = "", **targets: str) -> NoRecipe:
    priced_shelf(folder)
    with pytest.raises(InfeasibleError) as caught:
        solve_bottle(bottle(folder, plants, PLAIN | targets, more))
    assert isinstance(caught.value.explanation, NoRecipe)
    return caught.value.explanation


def _notes(solved: SolvedBottle, code: str) -> str:
    return " ".join(note.text for note in solved.record.notes if note.code == code)


def _low(name: str) -> float:
    return float(DOSES[name]["low_g_per_l"])


def test_the_worst_case_is_gone(tmp_path: Path) -> None:
    """40 % spirit, an hour at 50 °C, five plants, firm: it was 391 g of angelica root a litre."""
    priced_shelf(tmp_path)
    path = bottle(tmp_path, RED_BITTER, PLAIN | {"bitterness": "firm"})
    text = path.read_text("utf-8").replace("neutral-spirit-96", "vodka-40")
    step = "- mix: {time: 1 h, temperature: 50 °C}"
    path.write_text(text.replace("- mix: {strain: true}", step), encoding="utf-8")
    grams = grams_per_l(solve_bottle(path))
    assert not out_of_range(grams, RED_BITTER)
    assert grams["angelica-root"] < 21.6, "the most in print, 1863"


def test_what_is_listed_is_in(tmp_path: Path) -> None:
    """Nothing asks for any of them, and each costs money: all stand at their low."""
    grams = grams_per_l(solved_with(tmp_path, *RED_BITTER))
    for name in RED_BITTER:
        assert grams[name] == pytest.approx(_low(name), rel=1e-6)


def test_doses_any_lifts_all(tmp_path: Path) -> None:
    grams = grams_per_l(solved_with(tmp_path, *RED_BITTER, more="doses: any\n", bitterness="strong"))
    assert len(set(grams) & set(RED_BITTER)) < len(RED_BITTER)


def test_optional_is_left_out_or_noticed(tmp_path: Path) -> None:
    plants = ("gentian-root", "wormwood-herb: {optional: true}")
    without = solved_with(tmp_path, *plants)
    assert "wormwood-herb" not in grams_per_l(without)
    assert _notes(without, "left_out") == "Left out, as it may be: wormwood-herb."
    # 5 g/L of gentian bring 90, and 101 are asked: some of the other, and no less than is noticed.
    grams = grams_per_l(solved_with(tmp_path, *plants, bitterness="like 7 g/L gentian-root"))
    assert not out_of_range(grams, ("gentian-root", "wormwood-herb"))
    with_least = grams_per_l(
        solved_with(tmp_path, "gentian-root", "angelica-root: {optional: true, at_least: 4 g per L bottled}")
    )
    assert "angelica-root" not in with_least


def test_a_candidate_is_taken_within_its_dose_or_not_at_all(tmp_path: Path) -> None:
    candidates = (
        "wormwood-herb",
        "chicory-root",
        "hops-cone",
        "centaury-herb",
        "dandelion-root",
        "bogbean-leaf",
    )
    more = "may_use:\n" + "".join(f"  - {name}\n" for name in candidates)
    grams = grams_per_l(
        solved_with(tmp_path, "seville-orange-peel-dried", more=more, bitterness="like 0.6 g/L gentian-root")
    )
    taken = [name for name in candidates if name in grams]
    assert taken, "3 g/L of dry peel bring 2 of the 8.6 asked"
    assert not out_of_range(grams, ["seville-orange-peel-dried", *taken])


def test_own_limits_replace_each_side(tmp_path: Path) -> None:
    most = solved_with(
        tmp_path, "gentian-root: {at_most: 8 g per L bottled}", bitterness="like 6.5 g/L gentian-root"
    )
    assert 5.0 < grams_per_l(most)["gentian-root"] <= 8.0 * (1.0 + 1e-6)
    assert _notes(most, "own_dose") == (
        "gentian-root: 8 g per L bottled is outside the usual 0.2 to 5 g/L; the most found in print is 3 g/L."
    )
    least = solved_with(tmp_path, "gentian-root: {at_least: 1 g per L bottled}")
    assert grams_per_l(least)["gentian-root"] == pytest.approx(1.0, rel=1e-6)
    assert _notes(least, "own_dose") == ""
    below = solved_with(tmp_path, "gentian-root: {at_most: 0.1 g per L bottled}")
    assert 0.0 < grams_per_l(below)["gentian-root"] <= 0.1 * (1.0 + 1e-6)
    assert "outside the usual" in _notes(below, "own_dose")
    beyond = solved_with(tmp_path, "angelica-root: {at_least: 15 g per L bottled}")
    assert grams_per_l(beyond)["angelica-root"] == pytest.approx(15.0, rel=1e-6)
    exact = solved_with(tmp_path, "gentian-root: {exactly: 12 g}")
    assert grams_per_l(exact)["gentian-root"] == pytest.approx(12.0 / 5.0, rel=1e-6)


def test_fruit_alone_leads_and_several_share(tmp_path: Path) -> None:
    alone = grams_per_l(solved_with(tmp_path, "damson", "gentian-root"))
    assert alone["damson"] == pytest.approx(_low("damson"), rel=1e-6)
    fruits = ("damson", "raspberry", "blackcurrant")
    grams = grams_per_l(solved_with(tmp_path, *fruits))
    assert all(grams[name] >= 30.0 * (1.0 - 1e-6) for name in fruits)
    usual = {name: float(DOSES[name]["usual_g_per_l"]) for name in fruits}
    assert sum(grams[name] / usual[name] for name in fruits) >= (1.0 - 1e-6) / 3.0
    assert sum(grams[name] for name in fruits) < _low("damson")
    # Little of one by the bottle's own limit: the others make up for it.
    own = grams_per_l(solved_with(tmp_path, "damson: {at_most: 35 g per L bottled}", "raspberry"))
    assert own["damson"] <= 35.0 * (1.0 + 1e-6)
    assert own["damson"] / usual["damson"] + own["raspberry"] / usual["raspberry"] >= (1.0 - 1e-6) / 3.0


def test_what_leads_elsewhere_may_be_an_accent(tmp_path: Path) -> None:
    assert grams_per_l(solved_with(tmp_path, "coffee-roasted"))["coffee-roasted"] == pytest.approx(
        30.0, rel=1e-6
    )
    beside = grams_per_l(solved_with(tmp_path, "coffee-roasted", "orange-zest"))
    assert beside["coffee-roasted"] == pytest.approx(8.0, rel=1e-6)


def test_a_concentrate_gets_the_range_of_one(tmp_path: Path) -> None:
    plants = ("gentian-root", "cardamom-green", "clove")
    more = "kind: concentrate\n"
    solved = solved_with(tmp_path, *plants, more=more)
    grams = grams_per_l(solved)
    assert not out_of_range(grams, plants, concentrate=True)
    assert grams["gentian-root"] == pytest.approx(17.0, rel=1e-6)
    assert _notes(solved, "unusual_dose") == ""
    saved = tmp_path / "recipe.yaml"
    saved.write_text(dump_recipe(recipe_of(load_bottle(tmp_path / "bottle.yaml"), solved.answer)), "utf-8")
    assert "kind: concentrate" in saved.read_text("utf-8")


def test_one_of_and_the_least_if_used_say_what_may_be_left_out(tmp_path: Path) -> None:
    more = (
        "choose:\n  one_of: [[gentian-root, chicory-root]]\n"
        "  least_if_used: {seville-orange-peel-dried: 5 g per L bottled}\n"
    )
    plants = ("gentian-root", "chicory-root", "seville-orange-peel-dried")
    grams = grams_per_l(solved_with(tmp_path, *plants, more=more, bitterness="light"))
    assert ("gentian-root" in grams) != ("chicory-root" in grams)
    assert "seville-orange-peel-dried" not in grams or grams["seville-orange-peel-dried"] >= 5.0 * (1 - 1e-6)
    assert not out_of_range(grams, [name for name in ("gentian-root", "chicory-root") if name in grams])


def test_shares_hold_within_doses(tmp_path: Path) -> None:
    plants = (
        "gentian-root: {share_of_bitterness: at most 50 %}",
        "wormwood-herb",
        "seville-orange-peel-dried",
    )
    grams = grams_per_l(solved_with(tmp_path, *plants, bitterness="firm"))
    assert not out_of_range(grams, ("gentian-root", "wormwood-herb", "seville-orange-peel-dried"))
    # Bitterness value a gram and the share drawn out: trade notes 2.2, 90 % where none is said.
    brings = {"gentian-root": 20000.0, "wormwood-herb": 15000.0, "seville-orange-peel-dried": 800.0}
    total = sum(value * grams[name] for name, value in brings.items())
    assert brings["gentian-root"] * grams["gentian-root"] <= 0.5 * total * (1.0 + 1e-6)


def test_the_law_wins_over_a_low_and_says_so(tmp_path: Path) -> None:
    """Up to 1.2 % vol the EU allows 0.5 mg/kg thujone; 0.2 g/L of wormwood at 10 mg/g bring 2 mg."""
    solved = solved_with(tmp_path, "wormwood-herb", "angelica-root", strength="at most 1.2 % vol")
    grams = grams_per_l(solved)
    assert 0.0 < grams["wormwood-herb"] < _low("wormwood-herb")
    assert grams["angelica-root"] == pytest.approx(_low("angelica-root"), rel=1e-6)
    told = _notes(solved, "law_before_dose")
    assert told == "wormwood-herb: the law on thujone allows less than is noticed, and the law wins."


def _with_tincture(folder: Path) -> None:
    """Write a shelf that also has a tincture of 100 g of gentian root in a litre of spirit."""
    (folder / "tincture.yaml").write_text(
        "recipe: Tincture\nshelf: shelf.yaml\nkind: concentrate\nsteps:\n  - mix: {strain: true}\n"
        "ingredients:\n  - vodka-40: {amount: 1 L}\n  - gentian-root: {amount: 100 g}\n",
        encoding="utf-8",
    )
    shelf = priced_shelf(folder)
    made_here = "house_made: {gentian-tincture: {recipe: tincture.yaml}}\n"
    shelf.write_text(shelf.read_text("utf-8") + made_here, "utf-8")


def test_a_tincture_made_here_counts_by_what_is_in_it(tmp_path: Path) -> None:
    _with_tincture(tmp_path)
    solved = solve_bottle(bottle(tmp_path, ["gentian-tincture"], PLAIN))
    # 100 g in 948 g of spirit and some 26 g of what dissolves: the usual 1.5 g of root in 15 g or so.
    assert grams_per_l(solved)["gentian-tincture"] == pytest.approx(15.0, rel=0.05)


def test_what_is_alone_in_a_drink_tastes_of_itself(tmp_path: Path) -> None:
    """An elderflower cordial had 1 g/L of flowers, its low; alone it starts at the usual dose of the table.

    Where the bitterness says how much of a bitter plant there is, or another plant stands beside it, from its
    low up; a fruit's range is of drinks led by it.
    """
    names = ("elderflower", "gentian-root", "raspberry")
    usual, low = ({name: float(DOSES[name][f"{key}_g_per_l"]) for name in names} for key in ("usual", "low"))
    flower = "elderflower"
    assert grams_per_l(solved_with(tmp_path, flower))[flower] == pytest.approx(usual[flower], rel=1e-6)
    beside = grams_per_l(solved_with(tmp_path, flower, "gentian-root"))
    assert beside[flower] == pytest.approx(low[flower], rel=1e-6)
    assert grams_per_l(solved_with(tmp_path, "raspberry"))["raspberry"] == pytest.approx(
        low["raspberry"], rel=1e-6
    )
    assert grams_per_l(solved_with(tmp_path, "gentian-root"))["gentian-root"] == pytest.approx(1.5, rel=1e-6)
    assert grams_per_l(solved_with(tmp_path, "gentian-root", bitterness="light"))["gentian-root"] < 1.0


def test_a_root_and_its_tincture_are_one_dose(tmp_path: Path) -> None:
    """The table's most is 5 g/L: 4.7 g of root leave 0.3 as tincture, 4.9 g not even its least, 0.2."""
    _with_tincture(tmp_path)
    assert float(DOSES["gentian-root"]["high_g_per_l"]) == 5.0
    for least, fits in ((4.7, True), (4.9, False)):
        plants = [f"gentian-root: {{at_least: {least} g per L bottled}}", "gentian-tincture"]
        path = bottle(tmp_path, plants, PLAIN)
        if fits:
            grams = grams_per_l(solve_bottle(path))
            assert grams["gentian-root"] + 0.1 * grams["gentian-tincture"] <= 5.0
            continue
        with pytest.raises(InfeasibleError) as caught:
            solve_bottle(path)
        assert isinstance(caught.value.explanation, NoRecipe)
        assert caught.value.explanation.doses is not None
        assert "gentian-root and gentian-tincture" in caught.value.explanation.doses.why


def test_rounded_to_the_balance_it_is_still_a_recipe(tmp_path: Path) -> None:
    weighed = weigh_solved(solved_with(tmp_path, *RED_BITTER, bitterness="firm"))
    assert {line.ingredient for line in weighed.record.recipe} >= set(RED_BITTER)


# ------------------------------------------------------------------------------------ no recipe by doses


def test_too_mild_says_how_mild_and_what_would_do(tmp_path: Path) -> None:
    """12 g/L of angelica at 500 and 6 of chamomile at 300 a gram, 90 % of it: 7."""
    nothing = _nothing(tmp_path, "angelica-root", "chamomile-flower", bitterness="firm")
    assert nothing.doses is not None
    assert nothing.doses.why == "Within usual doses these plants come to a bitterness of 7; firm asks 24."
    changes = nothing.doses.changes
    assert any(text.startswith("another bitter plant from your shelf: ") for text in changes)
    assert "bitterness light instead of firm" in changes
    assert changes[-1].startswith("`doses: any`")
    # Each works.
    for other in changes[0].removeprefix("another bitter plant from your shelf: ").split(" or "):
        grams = grams_per_l(
            solved_with(tmp_path, "angelica-root", "chamomile-flower", other, bitterness="firm")
        )
        assert not out_of_range(grams, ("angelica-root", "chamomile-flower", other))
    solved_with(tmp_path, "angelica-root", "chamomile-flower", bitterness="light")
    solved_with(tmp_path, "angelica-root", "chamomile-flower", bitterness="firm", more="doses: any\n")


def test_a_longer_steep_is_offered_where_it_would_do(tmp_path: Path) -> None:
    """5 g/L of gentian bring 90 drawn out; ten minutes in the cold give a part of it."""
    priced_shelf(tmp_path)
    path = bottle(tmp_path, ["gentian-root"], PLAIN | {"bitterness": "strong"})
    short = "- mix: {time: 10 min, temperature: 4 °C}"
    path.write_text(path.read_text("utf-8").replace("- mix: {strain: true}", short), encoding="utf-8")
    with pytest.raises(InfeasibleError) as caught:
        solve_bottle(path)
    nothing = caught.value.explanation
    assert isinstance(nothing, NoRecipe)
    assert nothing.doses is not None
    assert any(text.startswith("a longer steep, to the end") for text in nothing.doses.changes)
    assert solved_with(tmp_path, "gentian-root", bitterness="strong").record.status == "optimal"


def test_a_little_more_of_one_is_offered_and_enough(tmp_path: Path) -> None:
    nothing = _nothing(tmp_path, "gentian-root", bitterness="like 6.5 g/L gentian-root")
    assert nothing.doses is not None
    offered = next(text for text in nothing.doses.changes if text.startswith("more gentian-root, to "))
    assert "usual to 5; the most found in print is 3 g/L" in offered
    grams = offered.removeprefix("more gentian-root, to ").partition(" g/L")[0]
    own = f"gentian-root: {{at_most: {grams} g per L bottled}}"
    assert solved_with(tmp_path, own, bitterness="like 6.5 g/L gentian-root").record.status == "optimal"


def test_too_much_fruit_for_the_acid_is_told_too(tmp_path: Path) -> None:
    """200 g/L of sloes bring more acid than 1 g/L."""
    nothing = _nothing(tmp_path, "sloe", acid="at most 1 g/L")
    assert nothing.doses is not None
    less = next(text for text in nothing.doses.changes if text.startswith("less sloe, "))
    grams = less.removeprefix("less sloe, ").partition(" g/L")[0]
    solved_with(tmp_path, f"sloe: {{at_least: {grams} g per L bottled}}", acid="at most 1 g/L")
    assert any("`optional: true`" in text for text in nothing.doses.changes)
    assert any(text.startswith("acid up to ") for text in nothing.doses.changes)


def test_what_doses_do_not_stop_is_not_laid_on_them(tmp_path: Path) -> None:
    nothing = _nothing(tmp_path, "gentian-root", cost="at most 1 EUR/L")
    assert nothing.doses is None


def test_the_screen_and_the_document_tell_of_it(tmp_path: Path, run_here: RunCommand) -> None:
    _nothing(tmp_path, "angelica-root", "chamomile-flower", bitterness="firm")
    path = str(tmp_path / "bottle.yaml")
    done = run_here("solve", path)
    assert done.exit_code == 3
    assert "no recipe within usual doses (proved)" in done.stderr
    assert "Any one of these would do, each tried:" in done.stderr
    assert max(map(len, done.stderr.replace(path, "").splitlines())) <= 80
    document = json.loads(run_here("solve", path, "--json").stdout)
    assert document["doses"]["changes"][-1].startswith("`doses: any`")
    assert {"limit", "bound", "unit"} <= set(document["clash"][0])


# ------------------------------------------------------------------------------------ remarks on a dose


def test_predict_remarks_on_an_unusual_dose(tmp_path: Path) -> None:
    priced_shelf(tmp_path)
    lines = {
        "vodka-40": "900 mL",
        "white-sugar": "150 g",
        "angelica-root": "391 g",
        "wormwood-herb": "0.05 g",
    }
    path = tmp_path / "recipe.yaml"
    path.write_text(
        "recipe: A lot of angelica\nshelf: shelf.yaml\nsteps:\n  - mix: {strain: true}\ningredients:\n"
        + "".join(f"  - {name}: {{amount: {amount}}}\n" for name, amount in lines.items()),
        encoding="utf-8",
    )
    texts = [note.text for note in predict_recipe(path).notes if note.code == "unusual_dose"]
    assert len(texts) == 2
    assert texts[0].startswith("More than is usual by the glass: angelica-root ")
    assert "usual 0.5 to 12; the most found in print is 21.6 g/L" in texts[0]
    assert texts[1].startswith("Less than is noticed by the glass: wormwood-herb ")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("doses: some", "doses"),
        ("kind: liqueur", "kind"),
        ("flavour: none above", "flavour"),
        ("flavour: none above 120 %", "flavour"),
        ("lead: quince", "lead"),
        ("may_use: [damson]", "listed twice"),
    ],
)
def test_what_makes_no_sense_is_refused_at_its_line(
    tmp_path: Path, run_here: RunCommand, line: str, said: str
) -> None:
    priced_shelf(tmp_path)
    path = bottle(tmp_path, ["damson"], PLAIN, f"{line}\n")
    done = run_here("check", path)
    assert done.exit_code == 2
    assert f"{path.as_posix()}:5:" in done.stderr.replace("\\", "/")
    assert said in done.stderr


# ------------------------------------------------------------------------------------ in the other jobs

STRONG_ROOT = "recipe: Strong root\nshelf: shelf.yaml\n"
WEIGHED = "  - neutral-spirit-96: {amount: 300 mL, step: infuse}\n  - water: {amount: 700 mL, step: infuse}\n"


@pytest.fixture
def strong(tmp_path: Path) -> Path:
    """A litre of spirit on 20 g of gentian root: four times the most that is usual."""
    priced_shelf(tmp_path)
    path = tmp_path / "strong.yaml"
    path.write_text(
        f"{STRONG_ROOT}steps:\n  - infuse: {{time: 24 h, temperature: 20 °C}}\n  - finish\n"
        f"ingredients:\n{WEIGHED}  - gentian-root: {{amount: 20 g, step: infuse}}\n",
        encoding="utf-8",
    )
    return path


@pytest.mark.parametrize("arguments", [["predict"], ["infuse"], ["scale", "--to", "3 L bottled"]])
def test_every_job_that_tells_of_a_recipe_remarks(
    strong: Path, run_here: RunCommand, arguments: list[str]
) -> None:
    command, *options = arguments
    done = run_here(command, strong, *options)
    assert done.exit_code == 0, done.stderr
    assert "More than is usual by the glass: gentian-root " in " ".join(done.stdout.split())


def test_adjust_remarks_on_what_it_adds(strong: Path, run_here: RunCommand) -> None:
    folder = strong.parent
    shelf = folder / "shelf.yaml"
    shelf.write_text(
        shelf.read_text("utf-8") + "house_made: {strong-root: {recipe: strong.yaml, on_hand: 2 L}}\n", "utf-8"
    )
    # 7 g/L of gentian is more than is usual, however it gets in.
    aims = PLAIN | {"bitterness": "like 7 g/L gentian-root"}
    path = bottle(folder, ["strong-root"], aims, "doses: any\n")
    figures = {"volume": "2 L", "strength": "24 % vol", "sugar": "180 g/L", "bitterness": "0"}
    options = [part for name, text in figures.items() for part in (f"--{name}", text)]
    done = run_here("adjust", "--all", "--bottle", path, *options)
    assert done.exit_code == 0, done.stderr
    assert "More than is usual by the glass: strong-root " in " ".join(done.stdout.split())


def test_a_menu_remarks_on_its_house_bottles(strong: Path, run_here: RunCommand) -> None:
    folder = strong.parent
    (folder / "drink.yaml").write_text(
        "drink: Root and spirit\nshelf: shelf.yaml\nhouse: {strong-root: strong.yaml}\nmethod: stirred\n"
        "ingredients: [vodka-40: 40 mL, strong-root: 20 mL]\nglass: 14 cl\nprice: 12 EUR\n",
        encoding="utf-8",
    )
    (folder / "menu.yaml").write_text(
        "menu: One drink\nshelf: shelf.yaml\nfor: 1 weeks\nopen_days: 6\n"
        "drinks: [{drink: drink.yaml, sells: 20 per week}]\n",
        encoding="utf-8",
    )
    done = run_here("menu", "--all", folder / "menu.yaml")
    assert done.exit_code == 0, done.stderr
    said = " ".join(done.stdout.split())
    assert "strong-root: More than is usual by the glass: gentian-root " in said
