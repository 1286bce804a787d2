"""Cases held against what is now: by hand, against other runs of the program, and by law."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from conftest import RunCommand
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import spearmanr

from formulate.bar.changed import repriced
from formulate.bar.opening import open_pantry
from formulate.describe.suppose_record import CaseRecord, Supposed
from formulate.errors import SpecError
from formulate.files.listed_shelf import load_shelf
from formulate.files.scenarios import Draws, Grid, Scenarios, load_scenarios
from formulate.jobs.menu import plan_menu
from formulate.jobs.solve import solve_bottle
from formulate.jobs.suppose import suppose
from formulate.planning.case_comparison import rank_correlation
from formulate.planning.cases import cases_of, content_of, drawn
from formulate.planning.results_file import key_of
from formulate.quantity.changes import PriceChange, parse_price_change, parse_price_range
from formulate.report.suppose_text import suppose_text
from tests.jobs.supposed import BOTTLE, DRINK, MENU, SHELF, write_bar


def _case(record: Supposed, name: str) -> CaseRecord:
    return next(one for one in record.cases if one.name == name)


def test_a_fifth_dearer_costs_a_fifth_of_what_goes_in(tmp_path: Path) -> None:
    # By hand: 50 g of honey a litre at 5.40 EUR for 500 g is 0.54 EUR; a fifth of it is 0.108 EUR.
    record = suppose(write_bar(tmp_path, "cases: {dear: {prices: {honey: +20 %}}}\n"))
    assert record.as_it_is["uses"]["honey"] == pytest.approx(50.0, rel=1e-6)
    assert _case(record, "dear").difference == pytest.approx(0.108, abs=1e-7)
    assert _case(record, "dear").moves == ()
    # The same as a price: a fifth more than 10.80 EUR/kg.
    told = suppose(write_bar(tmp_path, "cases: {dear: {prices: {honey: 12.96 EUR/kg}}}\n"))
    assert _case(told, "dear").difference == pytest.approx(0.108, abs=1e-7)


def test_a_case_is_what_solve_says_of_files_changed_by_hand(tmp_path: Path) -> None:
    cases = """\
cases:
  dear spirit: {prices: {neutral-spirit-96: +80 %}}
  no sugar: {gone: [white-sugar]}
  stronger: {targets: {strength: 35 ± 0.5 % vol}}
"""
    record = suppose(write_bar(tmp_path, cases))
    changed = {
        "dear spirit": {"shelf": SHELF.replace("23.50", "42.30").replace("104", "187.20")},
        "no sugar": {"bottle": BOTTLE.replace("  - white-sugar\n", "")},
        "stronger": {"bottle": BOTTLE.replace("30 ±", "35 ±")},
    }
    for name, texts in changed.items():
        write_bar(tmp_path, cases, **texts)
        if name == "no sugar":
            # 50 g of honey cannot bring 195 g of sugar: there is none either way.
            assert _case(record, name).outcome["status"] == "no_recipe"
            continue
        solved = solve_bottle(tmp_path / "bottle.yaml").record
        assert solved.cost is not None
        assert _case(record, name).outcome["figure"] == pytest.approx(solved.cost.per_litre, rel=1e-6)
    # With vodka at its price the dear spirit is left out of the recipe, which is said.
    moves = {move.name: move for move in _case(record, "dear spirit").moves}
    assert moves["vodka-40"].before == 0.0
    assert moves["vodka-40"].now > 100.0


def test_what_is_gone_and_not_needed_is_left_out(tmp_path: Path) -> None:
    record = suppose(write_bar(tmp_path, "cases: {no spirit: {gone: [neutral-spirit-96]}}\n"))
    write_bar(tmp_path, "", bottle=BOTTLE.replace("  - neutral-spirit-96\n", ""))
    solved = solve_bottle(tmp_path / "bottle.yaml").record
    assert solved.cost is not None
    assert _case(record, "no spirit").outcome["figure"] == pytest.approx(solved.cost.per_litre, rel=1e-6)
    assert "neutral-spirit-96" not in _case(record, "no spirit").outcome["uses"]


def test_why_there_is_no_recipe_is_said(tmp_path: Path, run_here: RunCommand) -> None:
    path = write_bar(tmp_path, "cases: {no honey: {gone: [honey]}}\n")
    clash = _case(suppose(path), "no honey").outcome["clash"]
    assert {(one["limit"], one["side"]) for one in clash} == {
        ("honey exactly", "at least"),
        ("honey", "at most"),
    }
    done = run_here("suppose", path)
    assert done.exit_code == 3  # no case has a recipe
    assert "No recipe: honey exactly 50 g per L bottled, honey is gone" in " ".join(done.stdout.split())


def test_a_recipe_above_its_limit_is_shown_with_what_it_costs(tmp_path: Path, run_here: RunCommand) -> None:
    ceiling = BOTTLE.replace("200 ± 5 g/L}", "200 ± 5 g/L, cost: at most 8 EUR/L}")
    path = write_bar(tmp_path, "cases: {dear: {prices: {neutral-spirit-96: +20 %}}}\n", bottle=ceiling)
    record = suppose(path)
    figure = _case(record, "dear").outcome["figure"]
    assert record.as_it_is["figure"] < 8.0 < figure
    assert _case(record, "dear").outcome["too_dear"] == {"Plain liqueur": [figure, 8.0]}
    assert "above your 8.00" in run_here("suppose", path).stdout


def test_a_third_more_guests_need_a_third_more(tmp_path: Path) -> None:
    cases = "cases: {more: {demand: +30 %}, sweet: {demand: {sweet: +30 %}}, both: {demand: -50 %}}\n"
    record = suppose(write_bar(tmp_path, cases, about="menu"))
    now = record.as_it_is
    for name, factor in (("more", 1.3), ("sweet", 1.3), ("both", 0.5)):
        then = _case(record, name).outcome
        assert then["goes_g"].keys() == now["goes_g"].keys() > {"vodka-40", "white-sugar"}
        for thing, mass in now["goes_g"].items():
            assert then["goes_g"][thing] == pytest.approx(factor * mass, rel=1e-8), thing
        # By hand: 50 a week for two weeks at 9 EUR.
        assert then["sales_without_tax"] == pytest.approx(factor * 900.0)
    # 40 mL in each of 100 drinks is 4 L, with 20 mL of a bottle that has none: 6 bottles of 70 cl, then 8.
    bought = {name: _case(record, name).outcome["uses"]["vodka-40"] for name in ("more", "both")}
    assert (now["uses"]["vodka-40"], bought) == (60.0, {"more": 80.0, "both": 30.0})


def test_a_menu_case_is_what_menu_says_of_files_changed_by_hand(tmp_path: Path) -> None:
    cases = "cases: {dear: {prices: {vodka-40: 12 EUR, white-sugar: +100 %}, demand: +30 %}}\n"
    record = suppose(write_bar(tmp_path, cases, about="menu"))
    write_bar(
        tmp_path,
        cases,
        shelf=SHELF.replace("10 EUR", "12 EUR").replace("1.15", "2.30"),
        menu=MENU.replace("50 per", "65 per"),
    )
    plan = plan_menu(tmp_path / "menu.yaml")
    assert _case(record, "dear").outcome["total"] == plan.total
    assert _case(record, "dear").outcome["to_pay"] == plan.to_pay


def test_what_is_gone_from_a_menu_is_used_up_first(tmp_path: Path) -> None:
    cases = "cases: {no vodka: {gone: [vodka-40]}}\n"
    short = _case(suppose(write_bar(tmp_path, cases, about="menu")), "no vodka").outcome
    assert (short["status"], short["needed_by"]) == ("no_plan", ["Sweet"])
    # By hand: 4 L of 0.948 kg/L (40 % vol at 20 °C, OIML R 22), nothing of it wasted here.
    assert short["missing"]["vodka-40"] == pytest.approx(4.0 * 948.05, rel=1e-4)
    enough = MENU + "pars: {vodka-40: {on_hand: 6 bottles}}\n"
    there = _case(suppose(write_bar(tmp_path, cases, about="menu", menu=enough)), "no vodka").outcome
    assert there["status"] == "optimal"
    assert "vodka-40" not in there["uses"]


def test_a_case_that_falls_short_leaves_as_menu_does(tmp_path: Path, run_here: RunCommand) -> None:
    # By hand: a jar of 5 L four fifths full gives 4 L in each of the two weeks; 20 mL in each of 50 drinks
    # are 1 L a week, and eightfold 8 L.
    slow = MENU + "house: {plain-liqueur: {vessel: jar, takes: 7 days}}\n"
    cases = "cases: {as planned: {prices: {honey: +1 %}}, full house: {demand: +700 %}}\n"
    path = write_bar(tmp_path, cases, about="menu", menu=slow, shelf=SHELF + "vessels: {jar: 5 L}\n")
    done = run_here("suppose", path)
    assert done.exit_code == 4
    assert "full house: demand +700 %. " in " ".join(done.stdout.split())
    assert "plain-liqueur: 8.00 L cannot be made in time." in " ".join(done.stdout.split())
    full = MENU.replace("50 per", "400 per")
    write_bar(tmp_path, "", menu=slow.replace(MENU, full), shelf=SHELF + "vessels: {jar: 5 L}\n")
    assert run_here("menu", tmp_path / "menu.yaml").exit_code == 4
    cases = "draws: {count: 4, demand: +600 to +800 %}\ncases: {as planned: {prices: {honey: +1 %}}}\n"
    path = write_bar(tmp_path, cases, about="menu", menu=slow, shelf=SHELF + "vessels: {jar: 5 L}\n")
    done = run_here("suppose", path)
    assert done.exit_code == 4
    assert "4 of 4 (100.0 %) leave something that cannot be made in time." in done.stdout
    path.write_text(path.read_text("utf-8").replace("draws: {count: 4, demand: +600 to +800 %}", ""), "utf-8")
    assert run_here("suppose", path).exit_code == 0


def test_a_house_bottle_without_a_recipe_is_named(tmp_path: Path) -> None:
    cases = "cases: {no honey: {gone: [honey]}}\n"
    outcome = _case(suppose(write_bar(tmp_path, cases, about="menu")), "no honey").outcome
    assert (outcome["status"], outcome["bottle"]) == ("no_recipe", "plain-liqueur")
    assert outcome["needed_by"] == ["Sweet"]


@pytest.mark.parametrize(
    ("change", "prices"),
    [
        # A price is that of the cheapest litre: 26 in place of 104/5 = 20.80 is a quarter more, for both.
        ("+25 %", (29.375, 130.0)),
        ("26 EUR/L", (29.375, 130.0)),
        ("-50 %", (11.75, 52.0)),
    ],
)
def test_every_offer_moves_alike(tmp_path: Path, change: str, prices: tuple[float, float]) -> None:
    write_bar(tmp_path, "")
    path = tmp_path / "shelf.yaml"
    pantry = open_pantry(path, load_shelf(path).places)
    moved = repriced(pantry, "neutral-spirit-96", parse_price_change(change)).offers["neutral-spirit-96"]
    assert tuple(offer.price.value for offer in moved) == pytest.approx(prices, rel=1e-9)
    assert [offer.supplier for offer in moved] == ["near", "far"]
    assert [offer.pack for offer in moved] == [offer.pack for offer in pantry.offers("neutral-spirit-96")]


def test_the_price_given_takes_the_place_of_one_that_holds(tmp_path: Path) -> None:
    # Honey was 9.00 EUR for 500 g until May and is 12.00 now; 50 g a litre. Said: 36 EUR/kg in place of 24.
    honey = (
        "honey: [{pack: 500 g, price: 9 EUR, until: 2026-05-01}, {pack: 500 g, price: 12 EUR, supplier: now}]"
    )
    shelf = SHELF.replace("honey: {pack: 500 g, price: 5.40 EUR}", honey)
    cases = "cases: {per kg: {prices: {honey: 36 EUR/kg}}, a pack: {prices: {honey: 18 EUR}}}\n"
    record = suppose(write_bar(tmp_path, cases, shelf=shelf), today=date(2026, 11, 27))
    assert [one.difference for one in record.cases] == pytest.approx([0.05 * 12.0] * 2, abs=1e-7)


SUPPLIES = """\
vessels: {jar: 10 L}
supplies:
  flask: {pack: 6 pieces, price: 4.80 EUR}
  label: [{pack: 10 pieces, price: 2 EUR, supplier: near}, {pack: 50 pieces, price: 6 EUR, supplier: far}]
"""
FILLED = MENU + "house: {plain-liqueur: {vessel: jar, bottled: {size: 50 cl, takes: [flask, label]}}}\n"


def test_supplies_grow_dearer_too(tmp_path: Path, run_here: RunCommand) -> None:
    cases = """\
cases:
  dear glass: {prices: {flask: 6 EUR}}
  dear labels: {prices: {label: +50 %}}
  fewer guests: {demand: -99 %}
draws: {count: 2, prices: {flask: 4 to 8 EUR}}
"""
    path = write_bar(tmp_path, cases, about="menu", shelf=SHELF + SUPPLIES, menu=FILLED)
    record = suppose(path)
    # By hand: 100 drinks of 20 mL are 2 L, four flasks of 50 cl: one pack of
    # 6 flasks and one of 10 labels, 4.80 and 2.00; at 6.00, and at 3.00 (a half more).
    uses = record.as_it_is["uses"]
    assert (uses["flask"], uses["label"]) == (4.80, 2.0)
    for name, dearer in (("dear glass", 1.2), ("dear labels", 1.0)):
        case = _case(record, name)
        assert case.outcome["total"] - record.as_it_is["total"] == pytest.approx(dearer, abs=1e-9)
    draws = [one.outcome["uses"]["flask"] for one in record.cases if one.kind == "draw"]
    assert all(4.0 <= price <= 8.0 for price in draws)
    assert len(set(draws)) == 2
    # What is there already suffices for few guests: that is told as money, not as doing without labels.
    there = (SHELF + SUPPLIES).replace("price: 2 EUR,", "price: 2 EUR, on_hand: 3 pieces,")
    write_bar(tmp_path, cases, about="menu", shelf=there, menu=FILLED)
    told = " ".join(run_here("suppose", path).stdout.split())
    assert "label 2.00 to nothing" in told
    assert "no label" not in told


@pytest.mark.parametrize(
    ("case", "said"),
    [
        ("prices: {flask: 6 EUR/kg}", "flask is bought by the pack, got '6 EUR/kg'. Write e.g. 30 EUR."),
        ("prices: {label: 6 EUR}", "label is offered 2 times, got '6 EUR'. Say by how much, such as"),
        ("prices: {flusk: +5 %}", "no price for 'flusk' on the shelf. Did you mean 'flask'"),
    ],
)
def test_what_cannot_be_supposed_of_a_supply(tmp_path: Path, case: str, said: str) -> None:
    path = write_bar(
        tmp_path, f"cases: {{a: {{{case}}}}}\n", about="menu", shelf=SHELF + SUPPLIES, menu=FILLED
    )
    with pytest.raises(SpecError, match=r"scenarios\.yaml:3:\d+: cases\.a\.") as caught:
        suppose(path)
    assert said in str(caught.value)


def test_a_supply_that_is_gone_is_missed_by_the_piece(tmp_path: Path, run_here: RunCommand) -> None:
    cases = "cases: {no glass: {gone: [flask]}, no labels: {gone: [label], demand: -50 %}}\n"
    there = (SHELF + SUPPLIES).replace("price: 4.80 EUR", "price: 4.80 EUR, on_hand: 2 pieces")
    path = write_bar(tmp_path, cases, about="menu", shelf=there, menu=FILLED)
    record = suppose(path)
    # By hand, as above: four flasks of 50 cl, 2 of them there; of half as much two.
    glass, labels = (_case(record, name).outcome for name in ("no glass", "no labels"))
    assert (glass["status"], glass["missing_pieces"], glass["needed_by"]) == (
        "no_plan",
        {"flask": 2},
        ["Sweet"],
    )
    assert (labels["status"], labels["missing_pieces"]) == ("no_plan", {"label": 2})
    assert "missing" not in glass
    done = run_here("suppose", path)
    assert "No plan: 2 of flask cannot be had (Sweet needs it)." in " ".join(done.stdout.split())
    write_bar(tmp_path, cases, about="menu", shelf=there.replace("on_hand: 2", "on_hand: 5"), menu=FILLED)
    assert _case(suppose(path), "no glass").outcome["status"] == "optimal"
    path = write_bar(tmp_path, "cases: {no glass: {gone: [flask]}}\n", shelf=there)
    with pytest.raises(SpecError, match="flask is a supply, and a bottle file takes none"):
        suppose(path)


def test_drinks_of_one_file_name_are_told_apart_by_their_folders(tmp_path: Path) -> None:
    for folder, dose in (("long", 40), ("short", 20)):
        (tmp_path / folder).mkdir()
        text = DRINK.replace("shelf.yaml", "../shelf.yaml").replace("bottle.yaml", "../bottle.yaml")
        text = text.replace("vodka-40: 40 mL", f"vodka-40: {dose} mL")
        (tmp_path / folder / "sweet.yaml").write_text(text, encoding="utf-8")
    entries = "".join(
        f"  - {{drink: {name}.yaml, sells: 50 per week}}\n"
        for name in ("./long/sweet", "x/../short/sweet", "sweet")
    )
    menu = MENU[: MENU.index("  - {drink")] + entries
    (tmp_path / "x").mkdir()
    cases = "cases: {a: {demand: {short/sweet: +100 %}}, b: {demand: {sweet: +100 %}}}\n"
    record = suppose(write_bar(tmp_path, cases, about="menu", menu=menu))
    # By hand: 100 drinks of 40, 20 and 40 mL are 10 L; twice as many of 20 mL are 12, of the last 14.
    now = record.as_it_is["goes_g"]["vodka-40"]
    for name, litres in (("a", 12.0), ("b", 14.0)):
        assert _case(record, name).outcome["goes_g"]["vodka-40"] == pytest.approx(now * litres / 10.0)
    cases = "cases: {a: {demand: {long/swet: +100 %}}}\n"
    with pytest.raises(SpecError, match="Did you mean 'long/sweet'"):
        suppose(write_bar(tmp_path, cases, about="menu", menu=menu))


def test_what_was_free_takes_the_price_given(tmp_path: Path) -> None:
    shelf = SHELF.replace("price: 5.40 EUR", "price: 0 EUR, meant: true")
    cases = "cases: {per kg: {prices: {honey: 12 EUR/kg}}, a pack: {prices: {honey: 6 EUR}}}\n"
    record = suppose(write_bar(tmp_path, cases, shelf=shelf))
    # By hand: 50 g of honey at 12 EUR/kg, which is 6 EUR for 500 g.
    assert [one.difference for one in record.cases] == pytest.approx([0.6, 0.6], abs=1e-7)


def test_parts_go_with_the_whole_and_a_jar_that_stands_there_stays(bar: Path) -> None:
    path = bar / "scenarios" / "amber.yaml"
    path.write_text(
        "suppose: Amber\nbottle: ../bottles/amber-digestif.yaml\ncases:\n"
        "  no root: {gone: [gentian-root]}\n  no fruit: {gone: [whole-grapefruit]}\n"
    )
    record = suppose(path)
    # 60 cl of tincture stand on the shelf, and a few grams of it are needed: the root is not missed yet.
    assert _case(record, "no root").difference == 0.0
    assert _case(record, "no root").outcome["uses"]["gentian-tincture"] > 1.0
    limits = {one["limit"] for one in _case(record, "no fruit").outcome["clash"]}
    assert limits & {"grapefruit-zest", "grapefruit-juice"}
    shelf = bar / "shelf.yaml"
    shelf.write_text(shelf.read_text("utf-8").replace("2026-10-12, on_hand: 60 cl", "2026-10-12"), "utf-8")
    # Without the jar the bitterness would have to come from the juice, and that brings too much acid.
    outcome = _case(suppose(path), "no root").outcome
    told = {one["limit"]: one["text"] for one in outcome["clash"]}
    assert told["gentian-tincture"] == "gentian-root is gone and 0 g left of gentian-tincture"
    assert told.keys() > {"acid", "bitterness"}


@pytest.mark.parametrize(
    ("cases", "said"),
    [
        ("cases: {a: {prices: {damson: +20 %}}}", r"3:30: cases\.a\.prices\.damson: no price for 'damson'"),
        ("cases: {a: {prices: {honney: +20 %}}}", "Did you mean 'honey'?"),
        ("cases: {a: {prices: {honey: 5 USD/kg}}}", "the shelf counts in EUR, got '5 USD/kg'"),
        ("cases: {a: {prices: {neutral-spirit-96: 30 EUR}}}", "is offered 2 times, got '30 EUR'"),
        ("cases: {a: {gone: [whisky]}}", r"cases\.a\.gone\.0: 'whisky' is not bought here"),
        ("grid: {prices: {honey: [+5 %, 3 USD/kg]}}", r"grid\.prices\.honey\.1: the shelf counts in EUR"),
        ("draws: {count: 3, prices: {gin-40: ±5 %}}", r"draws\.prices\.gin-40: no price for 'gin-40'"),
    ],
)
def test_names_and_prices_are_held_against_the_shelf(tmp_path: Path, cases: str, said: str) -> None:
    with pytest.raises(SpecError, match=said):
        suppose(write_bar(tmp_path, f"{cases}\n"))


def test_a_drink_that_is_not_on_the_menu_is_refused(tmp_path: Path) -> None:
    path = write_bar(tmp_path, "cases: {a: {demand: {sweat: +5 %}}}\n", about="menu")
    with pytest.raises(
        SpecError, match=r"demand\.sweat: no drink of that file on the menu. Did you mean 'sweet'"
    ):
        suppose(path)
    (tmp_path / "menu.yaml").unlink()
    with pytest.raises(SpecError, match=r"scenarios\.yaml:2:7: menu: no file there"):
        suppose(path)


SHARES = st.integers(-90, 300).map(lambda number: PriceChange(share=number / 100.0, text=f"{number:+d} %"))


@given(
    st.dictionaries(st.sampled_from("abcd"), st.lists(SHARES, min_size=1, max_size=3), min_size=1),
    st.lists(st.integers(-50, 50), max_size=3),
)
def test_a_grid_is_each_with_each(prices: dict[str, list[PriceChange]], demand: list[int]) -> None:
    shares = tuple(number / 100.0 for number in demand) or None
    grid = Grid(prices={name: tuple(found) for name, found in prices.items()}, demand=shares)
    cases = cases_of(Scenarios(name="x", menu="m.yaml", grid=grid))
    assert len(cases) == grid.size == np.prod([len(found) for found in prices.values()]) * (len(demand) or 1)
    seen = [
        (tuple(change.share for _, change in case.prices), case.demand[0][1] if case.demand else None)
        for case in cases
    ]
    for number, name in enumerate(prices):
        values = [change.share for change in prices[name]]
        # Every value as often as every other, and in all: sorted counts agree.
        assert sorted(one[0][number] for one in seen) == sorted(values * (len(cases) // len(values)))
    unlike = [len({change.share for change in found}) == len(found) for found in prices.values()]
    if all(unlike) and len(set(demand)) == len(demand):
        assert len({json.dumps(one) for one in seen}) == len(cases)


@given(st.integers(0, 2**40), st.integers(0, 500))
def test_a_draw_depends_on_seed_and_number_alone(seed: int, number: int) -> None:
    prices = {"a": parse_price_range("4.80 ± 0.90 EUR/kg"), "b": parse_price_range("-10 to +30 %")}
    few = Draws(count=1, seed=seed, prices=prices)
    many = Draws(count=1000, seed=seed, prices=prices)
    case = drawn(many, number)
    assert content_of(drawn(few, number)) == content_of(case)
    (_, money), (_, share) = case.prices
    assert money.price is not None
    assert 3.90 - 1e-5 <= money.price.value <= 5.70 + 1e-5
    assert (money.price.currency, money.price.per) == ("EUR", "kg")
    assert -0.1 - 1e-6 <= share.share <= 0.3 + 1e-6
    assert content_of(drawn(many, number + 1)) != content_of(case)
    assert content_of(drawn(Draws(count=1, seed=seed + 1, prices=prices), number)) != content_of(case)


def test_draws_fill_their_range_evenly() -> None:
    # A uniform draw has its mean in the middle and a standard deviation of the width over sqrt(12).
    draws = Draws(count=4000, seed=11, prices={"a": parse_price_range("2 to 8 EUR/kg")})
    values = np.array([drawn(draws, number).prices[0][1].price.value for number in range(4000)])  # type: ignore[union-attr]
    assert values.mean() == pytest.approx(5.0, abs=5 * 6 / np.sqrt(12 * 4000))
    assert values.std() == pytest.approx(6.0 / np.sqrt(12.0), rel=0.03)


def test_a_key_is_made_of_what_changes_alone(tmp_path: Path) -> None:
    cases = """\
cases:
  one: {prices: {honey: +20 %, white-sugar: 2 EUR/kg}}
  two: {prices: {white-sugar: 2 EUR/kg, honey: +20.0 %}}
  three: {prices: {white-sugar: 2 EUR/kg, honey: +21 %}}
  four: {prices: {white-sugar: 2 EUR, honey: +20 %}}
  five: {targets: {sugar: 180 ± 5 g/L}}
  six: {targets: {sugar: 180 ± 6 g/L}}
"""
    one, two, *others = map(key_of, cases_of(load_scenarios(write_bar(tmp_path, cases))))
    assert one == two
    assert len({one, *others}) == 5


@given(
    st.lists(st.tuples(st.integers(-20, 20), st.floats(-1e3, 1e3)), min_size=3, max_size=30).filter(
        lambda rows: len({row[0] for row in rows}) > 1 and len({row[1] for row in rows}) > 1
    )
)
def test_rank_correlation_is_spearmans(rows: list[tuple[int, float]]) -> None:
    one, other = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    assert rank_correlation(one, other) == pytest.approx(float(spearmanr(one, other).statistic), abs=1e-12)


def test_many_are_told_together(tmp_path: Path, run_here: RunCommand) -> None:
    cases = "draws: {count: 40, seed: 5, prices: {honey: ±50 %, white-sugar: ±1 %}}\n"
    path = write_bar(tmp_path, cases)
    record = suppose(path)
    (spread,) = record.spreads
    figures = sorted(one.outcome["figure"] for one in record.cases)
    # By hand: 5 % of 39 steps between 40 figures is 1.95 steps from the lowest.
    low = figures[1] + 0.95 * (figures[2] - figures[1])
    assert spread.low == pytest.approx(low, rel=1e-8)
    assert (spread.least, spread.most, spread.without) == (figures[0], figures[-1], 0)
    assert [one.name for one in spread.telling] == ["honey", "white-sugar"]
    assert spread.telling[0].rank_correlation > 0.99
    document = json.loads(run_here("suppose", path, "--json").stdout)
    assert document["spreads"][0]["p5"] == spread.low
    assert [case["figure"] for case in document["cases"]] == [one.outcome["figure"] for one in record.cases]
    assert "What moves it most: honey (100 %)." in suppose_text(record)
