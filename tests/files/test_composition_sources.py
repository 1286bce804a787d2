"""The library against four food tables: what is outside them says why, and ranges hold the lots.

`published/composition_differs.csv` lists every figure that stood outside all of USDA SR27, CIQUAL 2020, MEXT
2020 and IFCT 2017, or differed from most, with the lowest and highest of those tables in % w/w (`fibre`
stands beside what stays in the cake).
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Literal

import pytest

from formulate.blend.lots import content_range
from formulate.files.library import Library
from tests.files.library_files import FAMILY, LIBRARY, SUGARS, composition_of, sugar_of

PATH = Path(__file__).parent / "published" / "composition_differs.csv"
DIFFERS = list(csv.DictReader(PATH.read_text(encoding="utf-8").splitlines()))


def figure(name: str, field: str) -> float:
    parts = {key: float(value) for key, value in composition_of(name).items()}
    if field == "sugars":
        return sugar_of(name)
    if field == "acid":
        return sum(share for key, share in parts.items() if key.endswith("_acid"))
    if field == "fibre":
        return parts["pectin"] + parts["insoluble"]
    return parts[field]


@pytest.mark.parametrize("line", DIFFERS, ids=lambda line: f"{line['id']} {line['field']}")
def test_a_figure_beside_the_tables_is_mended_or_says_why(line: dict[str, str]) -> None:
    value, low, high = figure(line["id"], line["field"]), float(line["lowest"]), float(line["highest"])
    assert value == pytest.approx(float(line["library"]), abs=0.011)
    assert line["reason"]
    if line["standing"] == "mended":
        assert low - 0.011 <= value <= high + 0.011
    else:
        assert line["standing"] == "defended"


def test_all_that_differ_are_there() -> None:
    """24 stood outside every table and 14 differed from most."""
    assert len({(line["id"], line["field"]) for line in DIFFERS}) == 38


@pytest.mark.parametrize(
    "line",
    [
        one
        for one in DIFFERS
        if one["field"] in ("water", "sugars") and FAMILY[one["id"]] in ("fruit", "citrus")
    ],
    ids=lambda line: f"{line['id']} {line['field']}",
)
def test_the_range_of_a_defended_fruit_holds_the_tables(line: dict[str, str]) -> None:
    band = Library.built_in().get(line["id"]).ranges[line["field"]]
    assert band.lower is not None
    assert band.upper is not None
    assert 100.0 * band.lower <= float(line["lowest"]) + 0.051
    assert 100.0 * band.upper >= float(line["highest"]) - 0.051


def test_every_range_holds_the_librarys_own_figure_and_names_its_tables() -> None:
    ranged = [one for one in Library.built_in().all() if one.ranges]
    assert len(ranged) >= 36
    for one in ranged:
        own = {"water": one.composition.get("water", 0.0), "sugars": one.sugar_share, "acid": one.acid_share}
        for name, band in one.ranges.items():
            assert band.lower is not None
            assert band.upper is not None
            assert band.lower - 1e-9 <= own[name] <= band.upper + 1e-9, (one.id, name)
        (source,) = [source for source in one.sources if source.figures == ("range",)]
        assert source.confidence == "published"


def test_lots_vary_by_the_range_and_nothing_else_does() -> None:
    library = Library.built_in()
    for one in (item for item in library.all() if item.ranges):
        held: tuple[tuple[Literal["sugars", "acid"], float], ...]
        held = (("sugars", one.sugar_share), ("acid", one.acid_share))
        for name, usual in held:
            factors = content_range(one, name)
            if name not in one.ranges or not usual:
                assert factors is None
                continue
            assert factors is not None
            assert factors[0] <= 1.0 + 1e-9
            assert factors[1] >= 1.0 - 1e-9
            band = one.ranges[name]
            assert [factors[0] * usual, factors[1] * usual] == pytest.approx([band.lower, band.upper])
    assert content_range(library.get("sloe"), "sugars") is None, "in none of the tables"


def test_every_fruit_that_the_tables_hold_has_a_range() -> None:
    """Of the fruit there was when the tables were read, sloe, elderberry and aronia are in none of them."""
    before = {
        *("cranberry", "raspberry", "strawberry", "blackberry", "blueberry", "blackcurrant", "redcurrant"),
        *("sour-cherry", "sweet-cherry", "plum", "damson", "apricot", "peach", "apple", "pear", "quince"),
        *("pineapple", "pomegranate-arils", "rhubarb-stalk", "red-grape"),
    }
    library = Library.built_in()
    assert [name for name in sorted(before) if not library.get(name).ranges] == []


# ---- what bars use ------------------------------------------------------------------------------------

# Our own list of what a hundred house liqueurs, cordials, amari and aperitifs are made of (common practice).
BARS_USE = (PATH.parent / "bars_use.txt").read_text(encoding="utf-8").split()


def test_what_bars_use_is_there_with_its_sources() -> None:
    assert len(BARS_USE) >= 60
    assert [name for name in BARS_USE if name not in LIBRARY] == []


@pytest.mark.parametrize(
    "name", [one for one in BARS_USE if one in LIBRARY and "composition" in LIBRARY[one]]
)
def test_what_was_added_says_what_it_rests_on(name: str) -> None:
    """From memory of USDA SR Legacy, or by class of plant part: none claims a table that was not open."""
    (source,) = [one for one in LIBRARY[name]["sources"] if "composition" in one["figures"]]
    assert source["confidence"] == "from memory"
    parts = composition_of(name)
    assert float(parts["water"]) + sum(float(parts.get(key, 0)) for key in SUGARS) <= 100.0


# USDA SR Legacy, from memory: water and sugars in all, % w/w.
REMEMBERED = {
    "fig": (79.11, 16.26),
    "mango": (83.46, 13.66),
    "kiwi": (83.07, 8.99),
    "banana": (74.91, 12.23),
    "lychee": (81.76, 15.23),
    "melon": (90.15, 7.86),
    "guava": (80.80, 8.92),
    "mulberry": (87.68, 8.10),
    "nectarine": (87.59, 7.89),
    "tamarind-pulp": (31.40, 38.80),
    "date": (20.53, 63.35),
    "prune": (30.92, 38.13),
    "apricot-dried": (30.89, 53.44),
    "fig-dried": (30.05, 47.92),
    "mandarin-flesh": (85.17, 10.58),
    "celery-stalk": (95.43, 1.34),
    "fennel-bulb": (90.21, 3.93),
    "apple-juice": (88.24, 9.62),
    "pineapple-juice": (86.37, 9.98),
    "pomegranate-juice": (85.95, 12.65),
    "grape-juice": (84.51, 14.20),
}


@pytest.mark.parametrize("name", REMEMBERED)
def test_water_and_sugars_are_near_the_table_remembered(name: str) -> None:
    """Sugars by kind do not always add up to the total of the table: within 0.6, or 4 % of it."""
    water, sugars = REMEMBERED[name]
    assert float(composition_of(name)["water"]) == pytest.approx(water, abs=0.01)
    assert sugar_of(name) == pytest.approx(sugars, abs=max(0.6, 0.04 * sugars))
