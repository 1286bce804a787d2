"""Usual doses against printed formulas and the table they were taken from.

`doses.csv` is the table worked out from 103 published formulas of 1817 to 1923, household recipes and memory
(which of them, it says); `formulas.csv` holds those formulas in g per litre finished. Neither was made by the
program.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from formulate.errors import SpecError
from formulate.files.ingredient import Ingredient
from formulate.files.library import Library
from formulate.files.located import load_document
from formulate.files.problems import read_model
from formulate.files.shelf import Shelf
from formulate.physics.ageing import fresh_to_dried_ratio

HERE = Path(__file__).parent
FAMILIES = {"bark", "citrus", "flower", "fruit", "herb", "root", "spice", "vegetable"}
"""Every family of plants and fruit; of `other` what is steeped too."""
STEEPED = {
    *("coffee-roasted", "coffee-robusta-roasted", "black-tea", "green-tea", "guarana-seed"),
    *("mate-leaf", "rooibos"),
    *("cacao-nib", "oak-chips", "salt"),
}
NOT_BY_THE_GLASS = {
    "rhubarb-root": "the wine of 100 g/L is a medicine of 4 to 15 mL a dose, by its own note",
    "cassia-bark": "39.6 g/L is a stomach elixir, which the table calls medicinal",
    "orange-peel-dried": "118.8 g/L is the same elixir",
}


def _rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _amounts(kind: str) -> dict[str, list[float]]:
    found: dict[str, list[float]] = {}
    for row in _rows("formulas.csv"):
        if row["taken"] == kind:
            for part in row["ingredients_g_per_l"].split("; "):
                name, _, grams = part.rpartition(":")
                found.setdefault(name, []).append(float(grams))
    return found


DOSES = {row["id"]: row for row in _rows("doses.csv")}
BY_THE_GLASS = _amounts("by the glass")
LIBRARY = {one.id: one for one in Library.built_in().all()}
DOSED = {name: one for name, one in LIBRARY.items() if one.dose is not None}


def test_every_plant_and_fruit_has_a_dose_and_nothing_else() -> None:
    wanted = {name for name, one in LIBRARY.items() if one.family in FAMILIES} | STEEPED
    assert set(DOSED) == wanted
    assert len(wanted) == 157


@pytest.mark.parametrize("name", sorted(set(DOSED) - set(DOSES)))
def test_dose_that_is_in_no_table_is_from_memory(name: str) -> None:
    dose = DOSED[name].dose
    assert dose is not None
    assert dose.low_g_l < dose.usual_g_l < dose.high_g_l
    assert (dose.printed_g_l, dose.concentrate) == (None, None)
    said = {source.confidence for source in DOSED[name].sources if "dose" in source.figures}
    assert said == {"from memory"}


@pytest.mark.parametrize("name", [name for name in DOSED if name in DOSES])
def test_dose_is_that_of_the_table_and_says_how_far_to_trust_it(name: str) -> None:
    item, row = DOSED[name], DOSES[name]
    dose = item.dose
    assert dose is not None
    figures = [float(row[f"{key}_g_per_l"]) for key in ("low", "usual", "high")]
    assert [dose.low_g_l, dose.usual_g_l, dose.high_g_l] == figures == sorted(figures)
    concentrate = [row[f"concentrate_{key}_g_per_l"] for key in ("low", "usual", "high")]
    if dose.concentrate is None:
        assert concentrate == ["", "", ""]
    else:
        given = dose.concentrate
        assert [given.low_g_l, given.usual_g_l, given.high_g_l] == [float(figure) for figure in concentrate]
    said = {source.confidence for source in item.sources if "dose" in source.figures}
    cited = bool(row["citations"])
    assert said & {"published", "common practice"} if cited else "from memory" in said


@pytest.mark.parametrize("name", sorted(set(BY_THE_GLASS) & set(DOSED)))
def test_printed_is_the_most_in_the_formulas(name: str) -> None:
    dose = DOSED[name].dose
    assert dose is not None
    assert dose.printed_g_l is not None
    most = max(BY_THE_GLASS[name])
    if name in NOT_BY_THE_GLASS:
        assert dose.printed_g_l < most
        assert dose.printed_g_l in BY_THE_GLASS[name]
    else:
        # The table was made with some formulas that are kept for checks nobody has seen.
        assert dose.printed_g_l >= most


def test_most_printed_amounts_lie_within_the_range() -> None:
    """Ranges are of drinks a bar serves today: one printed amount in eight or so was stronger or weaker."""
    inside = outside = 0
    for name in set(BY_THE_GLASS) & set(DOSED):
        dose = DOSED[name].dose
        assert dose is not None
        least = min(dose.low_g_l, dose.accent_g_l or dose.low_g_l)
        for grams in BY_THE_GLASS[name]:
            if least <= grams <= dose.high_g_l:
                inside += 1
            else:
                outside += 1
    assert inside + outside > 150
    assert outside / (inside + outside) < 0.15


@pytest.mark.parametrize("name", [name for name in DOSED if name.endswith("-dried")])
def test_dried_and_fresh_agree(name: str) -> None:
    """By dry matter, to a factor of two: drying costs aroma, and fresh peel holds some pith."""
    stem = name.removesuffix("-dried")
    fresh = next((DOSED[one] for one in (stem, f"{stem}-fresh") if one in DOSED), None)
    if fresh is None:
        assert name in {"seville-orange-peel-dried", "chilli-dried"}, "never bought fresh here"
        return
    dried = DOSED[name]
    assert fresh.dose is not None
    assert dried.dose is not None
    solid = [1.0 - one.composition["water"] for one in (fresh, dried)]
    ratio = float(fresh_to_dried_ratio(*solid))
    assert 0.5 < fresh.dose.usual_g_l / dried.dose.usual_g_l / ratio < 2.0


@pytest.mark.parametrize("name", [name for name, one in DOSED.items() if one.dose and one.dose.accent_g_l])
def test_accent_of_what_its_range_is_led_by(name: str) -> None:
    """From memory: fresh fruit from 30 g/L beside other fruit, dried and all else from a tenth of usual."""
    item = DOSED[name]
    assert item.dose is not None
    fresh = item.family == "fruit" and item.composition["water"] > 0.5
    expected = 30.0 if fresh else 0.1 * item.dose.usual_g_l
    assert item.dose.accent_g_l == pytest.approx(expected, rel=1e-12)
    assert "from memory" in {source.confidence for source in item.sources if "dose" in source.figures}


def test_every_fruit_may_be_an_accent() -> None:
    assert all(one.dose is None or one.dose.accent_g_l for one in LIBRARY.values() if one.family == "fruit")


def _own(entry: str) -> Shelf:
    return read_model(Shelf, load_document(f"currency: EUR\ningredients:\n{entry}", "shelf.yaml"))


def test_a_bar_gives_its_own_dose_or_takes_the_one_of_the_library() -> None:
    shelf = _own(
        "  wild-gentian: {based_on: gentian-root, name: Wild gentian}\n"
        "  gentian-root: {based_on: gentian-root, dose: {low: 1 g/L, usual: 2 g/L, high: 12 g/L}}\n"
    )
    base = LIBRARY["gentian-root"]
    assert shelf.ingredients["wild-gentian"].resolve("wild-gentian", base).dose == base.dose
    own: Ingredient = shelf.ingredients["gentian-root"].resolve("gentian-root", base)
    assert own.dose is not None
    assert (own.dose.low_g_l, own.dose.high_g_l, own.dose.concentrate) == (1.0, 12.0, None)
    assert own.overrides == ("dose",)


@pytest.mark.parametrize(
    ("dose", "said"),
    [
        ("{low: 3 g/L, usual: 2 g/L, high: 5 g/L}", "low: must not be above the usual 2 g/L, got 3 g/L"),
        ("{low: 1 g/L, usual: 2 g/L, high: 1.5 g/L}", "high: must not be below the usual 2 g/L, got 1.5 g/L"),
        ("{low: 1 g/L, usual: 2 g/L, high: 5 g/L, accent: 2 g/L}", "accent: must not be above the low 1 g/L"),
        ("{low: 0 g/L, usual: 2 g/L, high: 5 g/L}", "low"),
        ("{low: 1, usual: 2 g/L, high: 5 g/L}", "low"),
    ],
)
def test_a_wrong_dose_is_refused_where_it_stands(dose: str, said: str) -> None:
    with pytest.raises(SpecError) as caught:
        _own(f"  gentian-root: {{based_on: gentian-root, dose: {dose}}}\n")
    assert len(caught.value.problems) == 1
    problem = caught.value.problems[0]
    assert said in str(problem)
    assert problem.location is not None
    assert (problem.location.file, problem.location.line) == ("shelf.yaml", 3)
