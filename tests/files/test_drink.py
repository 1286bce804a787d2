"""Drink and menu files, and what the shelf says of service and taxes: models, schema, money."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jsonschema
import pytest
from conftest import ROOT

from formulate.bar.prices import split_price
from formulate.errors import SpecError
from formulate.files.drink import Drink, load_drink
from formulate.files.listed_shelf import load_shelf
from formulate.files.loading import load_any
from formulate.files.located import load_document
from formulate.files.schema import json_schema
from formulate.files.service import Tax
from formulate.quantity.pours import Pour, PourUnit

FILES = [
    (kind, path) for kind in ("drink", "menu") for path in sorted((ROOT / f"examples/{kind}s").glob("*.yaml"))
]
BAD_FILES = ROOT / "tests/files/bad_files"


def test_a_line_may_be_short_or_long() -> None:
    drink = load_drink(ROOT / "examples/drinks/orchard-fizz.yaml")
    assert [line.amount for line in drink.ingredients] == [
        Pour(4.0, PourUnit.PARTS),
        Pour(1.0, PourUnit.PARTS),
        Pour(0.06, PourUnit.VOLUME),
    ]
    assert [line.after for line in drink.ingredients] == [False, False, True]
    assert drink.house_path("damson-aperitif").name == "damson-aperitif.yaml"
    assert isinstance(load_any(drink.path or ""), Drink)


@pytest.mark.parametrize(("kind", "path"), FILES, ids=lambda value: getattr(value, "stem", value))
def test_the_schema_takes_the_examples(kind: Any, path: Path) -> None:
    schema = json_schema(kind)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert jsonschema.Draft202012Validator(schema).is_valid(load_document(path).data)


@pytest.mark.parametrize("name", ["drink-method", "drink-without-amount", "drink-key", "menu-sells"])
def test_the_schema_refuses_what_has_the_wrong_shape(name: str) -> None:
    data = load_document(BAD_FILES / f"{name}.yaml").data
    kind: Any = "menu" if "menu" in data else "drink"
    assert not jsonschema.Draft202012Validator(json_schema(kind)).is_valid(data)


def test_every_key_is_described() -> None:
    for kind in ("drink", "menu"):
        schema = json_schema(kind)  # type: ignore[arg-type]
        for definition in [schema, *schema["$defs"].values()]:
            for key, field in definition.get("properties", {}).items():
                assert "description" in field, key


def test_tax_by_hand() -> None:
    # 12.00 with 20 % is 10.00 without and 2.00 tax; 12.00 without pays 2.40
    tax = Tax(buying_share=0.2, offers="with", reclaimed=False)
    price = split_price(12.0, tax, deposit=0.25)
    assert (price.net, price.tax, price.deposit, price.cost) == pytest.approx((10.0, 2.0, 0.25, 12.0))
    assert split_price(12.0, tax, tax_in="without").net == 12.0
    assert split_price(12.0, tax, tax_in="without").cost == pytest.approx(14.4)
    assert split_price(12.0, tax, tax_in="without", tax_share=0.05).cost == pytest.approx(12.6)
    comes_back = Tax(buying_share=0.2, offers="with", reclaimed=True)
    assert split_price(12.0, comes_back).cost == pytest.approx(10.0)
    assert split_price(12.0, Tax()).cost == 12.0


def test_a_case_of_six_is_billed_by_hand() -> None:
    # 6 at 1.99 with 20 % in it are 11.94: 1.99 of that is tax (11.94 / 6), 9.95 is net; deposits 1.50
    price = split_price(1.99, Tax(buying_share=0.2, offers="with", reclaimed=True), deposit=0.25)
    billed = price.billed(6)
    assert (billed.net, billed.tax, billed.deposit, billed.cost) == (9.95, 1.99, 1.5, 9.95)
    # a litre of it out of a bottle of 0.5 L costs twice as much, and the deposit is on the bottle
    per_litre = price.divided_by(0.5)
    assert (per_litre.net, per_litre.tax, per_litre.deposit) == pytest.approx(
        (2 * 1.99 / 1.2, 1.99 / 3, 0.25)
    )


def test_a_deposit_is_in_the_money_of_the_shelf(tmp_path: Path) -> None:
    path = tmp_path / "shelf.yaml"
    path.write_text("currency: EUR\noffers:\n  gin-40: {pack: 70 cl, price: 12 EUR, deposit: 0.2 USD}\n")
    with pytest.raises(SpecError, match=r"gin-40.deposit: not the currency of this shelf, got 0.2 USD"):
        load_shelf(path)
