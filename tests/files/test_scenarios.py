"""Scenarios files: what they become, their schema, and how changes and ranges are read."""

from __future__ import annotations

import jsonschema
import pytest
from conftest import ROOT
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import UnitError
from formulate.files.located import load_document
from formulate.files.scenarios import ALL_DRINKS, load_scenarios
from formulate.files.schema import json_schema
from formulate.quantity.changes import (
    parse_change,
    parse_change_range,
    parse_price_change,
    parse_price_range,
)

EXAMPLES = sorted((ROOT / "examples/scenarios").glob("*.yaml"))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_schema_takes_the_examples_and_refuses_another_key(path) -> None:  # type: ignore[no-untyped-def]
    schema = json_schema("scenarios")
    jsonschema.Draft202012Validator.check_schema(schema)
    checks = jsonschema.Draft202012Validator(schema)
    data = load_document(path).data
    assert checks.is_valid(data)
    assert not checks.is_valid({**data, "whatever": "x"})
    assert not checks.is_valid({**data, "cases": {"a": {"price": {"damson": "+20 %"}}}})


def test_a_file_becomes_what_it_says() -> None:
    year = load_scenarios(ROOT / "examples/scenarios/damson-year.yaml")
    assert year.subject_path.name == "damson-aperitif.yaml"
    price = year.cases["a bad harvest"].prices["damson"].price
    assert price is not None
    assert (price.value, price.currency, price.per) == (6.90, "EUR", "kg")
    assert year.grid is not None
    assert year.grid.size == 4
    assert year.draws is not None
    assert year.draws.prices["damson"].lower == pytest.approx(3.90)
    autumn = load_scenarios(ROOT / "examples/scenarios/dear-autumn.yaml")
    assert dict(autumn.cases["a third more guests"].demand) == {ALL_DRINKS: 0.33}
    assert dict(autumn.cases["the fizz takes off"].demand) == {"orchard-fizz": 0.80}


@given(st.integers(-999, 9999))
def test_a_change_is_its_number_over_a_hundred(tenths: int) -> None:
    assert parse_change(f"{tenths / 10:+.1f} %") == tenths / 1000


@given(st.integers(1, 999), st.integers(1, 500))
def test_a_range_has_the_ends_it_names(low: int, width: int) -> None:
    high = low + width
    for text in (f"-{low / 10} to +{high / 10} %", f"-{low / 10} % to +{high / 10} %"):
        found = parse_change_range(text)
        assert (found.lower, found.upper) == (-low / 1000, high / 1000)
    both = parse_price_range(f"±{low / 10} %")
    assert (both.lower, both.upper, both.currency) == (-low / 1000, low / 1000, "")
    prices = parse_price_range(f"{low} to {high} EUR/kg")
    assert (prices.lower, prices.upper, prices.currency, prices.per) == (low, high, "EUR", "kg")


@pytest.mark.parametrize(
    ("parse", "text", "said"),
    [
        (parse_change, "20 %", r"more or less is not said, got 20 %\. Write e\.g\. \+20 % or -20 %"),
        (parse_change, "-100 %", "nothing can fall by all of itself"),
        (parse_change, "+20001 %", "more than a hundred times as much"),
        (parse_change, "+20", r"said in %, got \+20\."),
        (parse_change, 20, "the unit is missing"),
        (parse_change, "+5 to +10 %", r"said in %, got \+5 to \+10 %"),
        (parse_price_change, "6", "the currency is missing"),
        (parse_price_change, "-6 EUR/kg", "must not be negative"),
        (parse_change_range, "+20 %", "a range has two ends"),
        (parse_change_range, "-150 to +10 %", "nothing can fall by all of itself"),
        (parse_price_range, "4 ± 5 USD", None),
        (parse_price_range, "at least 4 EUR/kg", "a range has two ends"),
        (parse_price_range, "4 EUR/kg to 5 EUR/L", "both ends need the same currency and unit"),
    ],
)
def test_what_is_said_of_changes_that_cannot_be_read(parse, text, said) -> None:  # type: ignore[no-untyped-def]
    if said is None:
        # A band that would go below nothing ends there.
        assert (parse(text).lower, parse(text).upper) == (0.0, 9.0)
        return
    with pytest.raises(UnitError, match=said):
        parse(text)
