"""The shelf: what this bar can buy, has on hand and works with."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    ValidationInfo,
    create_model,
    field_validator,
    model_validator,
)

from formulate.errors import SpecError, SpecProblem
from formulate.files.days import Supplier, supplier_issues
from formulate.files.fields import (
    AmountText,
    ConcentrationGL,
    Currency,
    Day,
    FrozenDict,
    MassKg,
    Meant,
    PackText,
    Price,
    Share,
    StrengthPctVol,
    Text,
    Tuple,
    VesselL,
    Wage,
    did_you_mean,
    from_file,
    shown,
)
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.ingredient import Ingredient, OwnIngredient
from formulate.files.issues import Issue, IssuesError
from formulate.files.library import Library
from formulate.files.measures import MEASURES
from formulate.files.models import FileModel
from formulate.files.price_list import PriceList
from formulate.files.service import METHODS, Duty, Service, Tax, TaxIn
from formulate.files.standards import Jurisdiction
from formulate.files.stock import HouseMade, Stock, Whole
from formulate.quantity import AmountBasis, Dimension, Money

__all__ = ["Balance", "Offer", "Shelf", "Tolerances"]


FINEST_STEP_KG = 1e-8
_PACKED = (AmountBasis.MASS, AmountBasis.VOLUME, AmountBasis.PIECES)


_TOLERANCES: dict[Dimension | None, Any] = {
    Dimension.STRENGTH: StrengthPctVol,
    Dimension.MASS_CONCENTRATION: ConcentrationGL,
}

if TYPE_CHECKING:

    class Tolerances(Frozen):
        """What a plain target value may be off by."""

else:
    Tolerances = create_model(
        "Tolerances",
        __base__=Frozen,
        __doc__="What a plain target value is allowed to be off by; sensible kitchen figures, "
        "common practice.",
        **{
            measure.name: (
                Annotated[Share if measure.is_relative else _TOLERANCES[measure.dimension], Field(gt=0)],
                Field(default=measure.usual_tolerance, description=measure.on_tolerance),
            )
            for measure in MEASURES.values()
            if measure.usual_tolerance is not None
        },
    )


class Balance(Frozen):
    """A balance: the smallest step it shows and the most it carries."""

    name: Text = Field(description="Name in the kitchen.", examples=["bench"])
    step_kg: Annotated[MassKg, Field(gt=0)] = Field(
        validation_alias="step", description="Step shown.", examples=["1 g"]
    )
    up_to_kg: Annotated[MassKg, Field(gt=0)] = Field(
        validation_alias="up_to", description="Largest load.", examples=["5 kg"]
    )

    @model_validator(mode="after")
    def _weighs_something(self) -> Self:
        issues = []
        if self.step_kg < FINEST_STEP_KG:
            message = f"finer than any balance, got {self.step_kg * 1000:.6g} g. Write e.g. 0.1 g."
            issues.append(Issue(("step",), message))
        if self.step_kg >= self.up_to_kg:
            message = (
                f"must be more than the step {self.step_kg * 1000:.6g} g, got {self.up_to_kg * 1000:.6g} g. "
                "The step is the smallest it shows, up_to the most it carries."
            )
            issues.append(Issue(("up_to",), message))
        if issues:
            raise IssuesError(issues)
        return self


class Offer(Frozen):
    """One way to buy an ingredient."""

    pack: PackText | None = Field(
        default=None,
        description="Size of a pack: 70 cl, 1 kg or 6 pieces; of a case 6 x 70 cl.",
        examples=["70 cl"],
    )
    price: Price = Field(description="Per pack, per kg or per L.", examples=["11.20 EUR"])
    supplier: Text | None = Field(default=None, description="Who sells it.")
    on_hand: AmountText | None = Field(default=None, description="What is left: g, L, bottles or pieces.")
    tax: TaxIn | None = Field(
        default=None, description="Whether this price is with or without tax, if not as the shelf says."
    )
    tax_rate: Share | None = Field(default=None, description="Tax on it, if not as the shelf says.")
    deposit: Price | None = Field(
        default=None, description="Paid on a pack and paid back for the empty one.", examples=["0.25 EUR"]
    )
    from_packs: Annotated[int, Field(ge=2)] | None = Field(
        default=None,
        description="How many packs an order must hold for this price; any number if not given.",
        examples=["12"],
    )
    seen: Day | None = Field(default=None, description="Day the price was seen.", examples=["2026-11-02"])
    until: Day | None = Field(
        default=None,
        description="Last day it holds; then it counts only where there is no other.",
        examples=["2026-12-31"],
    )

    meant: Meant = False

    def is_past(self, day: date) -> bool:
        """Whether the price has run out by then."""
        return self.until is not None and self.until < day

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        if self.seen is not None and self.until is not None and self.until < self.seen:
            message = f"before the day it was seen, {self.seen}, got {self.until}. Check the two dates."
            issues.append(Issue(("until",), message))
        if self.pack is None and self.price.per is None:
            issues.append(
                Issue(
                    ("price",),
                    f"a price per pack needs the pack, got {shown(self.price.text)}. Add `pack: 70 cl`, "
                    "or price it per kg or per L.",
                )
            )
        if self.pack is not None:
            got = shown(self.pack.text)
            if self.pack.basis not in _PACKED:
                message = f"not the size of a pack, got {got}. Write e.g. 70 cl, 1 kg or 6 pieces."
                issues.append(Issue(("pack",), message))
            elif self.pack.value == 0:
                issues.append(Issue(("pack",), f"must be above zero, got {got}. Write e.g. 70 cl."))
        if self.on_hand is not None and self.on_hand.basis not in (*_PACKED, AmountBasis.BOTTLES):
            got = shown(self.on_hand.text)
            message = f"not an amount on a shelf, got {got}. Write e.g. 500 g, 70 cl or 2 bottles."
            issues.append(Issue(("on_hand",), message))
        if self.deposit is not None and (self.pack is None or self.deposit.per is not None):
            message = f"a deposit is money on a pack, got {shown(self.deposit.text)}. Write e.g. 0.25 EUR."
            issues.append(Issue(("deposit",), message))
        if issues:
            raise IssuesError(issues)
        return self


def _one_or_more(value: object, info: ValidationInfo) -> object:
    if from_file(info) and not isinstance(value, (dict, list)):
        raise ValueError(
            f"must be an offer, got {shown(value)}. Write e.g. {{pack: 70 cl, price: 11.20 EUR}}."
        )
    return (value,) if isinstance(value, (dict, Offer)) else value


def _not_empty(value: tuple[Offer, ...]) -> tuple[Offer, ...]:
    if not value:
        raise ValueError("an empty list of offers. Write one offer or delete the line.")
    return value


Offers = Annotated[Tuple[Offer], AfterValidator(_not_empty), BeforeValidator(_one_or_more)]


class Shelf(FileModel):
    """A bar's shelf."""

    name: Text = Field(default="shelf", description="Name of the shelf.")
    currency: Currency = Field(description="Label of every price in this file.", examples=["EUR"])
    jurisdiction: Jurisdiction | None = Field(
        default=None,
        description="Whose law this bar keeps: EU, US or UK; else the strictest of all counts.",
        examples=["EU"],
    )
    usual_tolerance: Tolerances = Field(
        default_factory=Tolerances, description="Tolerance of plain target values."
    )
    vessels: FrozenDict[VesselL] = Field(
        default_factory=FrozenMap, description="Vessels by name, filled to the brim."
    )
    balances: Tuple[Balance] = Field(default=(), description="Balances, for rounding what is weighed.")
    offers: FrozenDict[Offers] = Field(
        default_factory=FrozenMap, description="Ingredient id to one offer or a list of offers."
    )
    ingredients: FrozenDict[OwnIngredient] = Field(
        default_factory=FrozenMap,
        description="Own values: whole ingredients, or what differs from the library.",
    )
    whole: FrozenDict[Whole] = Field(
        default_factory=FrozenMap, description="Whole things that are bought and taken apart, by name."
    )
    house_made: FrozenDict[HouseMade] = Field(
        default_factory=FrozenMap, description="Ingredient id to what the bar makes itself from a recipe."
    )
    stock: FrozenDict[Stock] = Field(
        default_factory=FrozenMap, description="Ingredient id to how old the dried plant on the shelf is."
    )
    least_order: FrozenDict[Price] = Field(
        default_factory=FrozenMap,
        description="Supplier to the least money an order there must come to.",
        examples=["{north cellar: 60 EUR}"],
    )
    suppliers: FrozenDict[Supplier] = Field(
        default_factory=FrozenMap,
        description="Supplier to when orders are taken and brought, and what that costs.",
        examples=["{north cellar: {orders_on: Tuesday, delivers_on: Thursday}}"],
    )
    price_lists: Tuple[PriceList] = Field(
        default=(), description="Files with prices and stock as suppliers send them."
    )
    supplies: FrozenDict[Offers] = Field(
        default_factory=FrozenMap,
        description="What is counted by the piece and not drunk, by name: bottles, corks, labels, straws.",
        examples=["{label: {pack: 250 pieces, price: 37.50 EUR}}"],
    )
    house_on_hand: FrozenDict[AmountText] = Field(
        default_factory=FrozenMap,
        description="House bottle of a menu to what is there of it; lists may count it too.",
        examples=["{damson-aperitif: 2.3 L}"],
    )
    wage: Wage | None = Field(default=None, description="What an hour of work costs.", examples=["18 EUR/h"])
    service: Service = Field(default_factory=Service, description="How drinks are poured here.")
    tax: Tax = Field(default_factory=Tax, description="Taxes in prices, and who pays them in the end.")
    duty: Duty | None = Field(
        default=None, description="Duty where this bar is; told beside what is made, in no price."
    )

    @field_validator(
        "vessels", "offers", "ingredients", "whole", "house_made", "stock", "supplies", mode="after"
    )
    @classmethod
    def _ids(cls, value: FrozenMap[str, Any]) -> FrozenMap[str, Any]:
        issues = [
            Issue(
                (key,),
                f"a name is small letters, digits and single hyphens, got {shown(key)}. Rename it.",
                at_key=True,
            )
            for key in value
            if not re.fullmatch(r"[a-z0-9]+(?:-[a-z0-9]+)*", key)
        ]
        if issues:
            raise IssuesError(issues)
        return value

    @field_validator("supplies", mode="after")
    @classmethod
    def _by_the_piece(cls, supplies: FrozenMap[str, tuple[Offer, ...]]) -> FrozenMap[str, Any]:
        issues = []
        for name, offers in supplies.items():
            for index, offer in enumerate(offers):
                if offer.price.per is not None or offer.pack is None:
                    got = shown(offer.price.text)
                    message = f"is bought by the pack, got {got}. Write {{pack: 24 pieces, price: 18 EUR}}."
                    issues.append(Issue((name, index, "price"), message))
                for key, amount in (("pack", offer.pack), ("on_hand", offer.on_hand)):
                    if amount is not None and amount.basis is not AmountBasis.PIECES:
                        message = f"is counted in pieces, got {shown(amount.text)}. Write e.g. 24 pieces."
                        issues.append(Issue((name, index, key), message))
        if issues:
            raise IssuesError(issues)
        return supplies

    @field_validator("offers", "supplies", mode="after")
    @classmethod
    def _one_currency(
        cls, offers: FrozenMap[str, tuple[Offer, ...]], info: ValidationInfo
    ) -> FrozenMap[str, Any]:
        currency = info.data.get("currency")
        issues = [
            Issue(
                (key, index, what),
                f"not the currency of this shelf, got {shown(money.text)}. Write {currency}.",
            )
            for key, choices in offers.items()
            for index, offer in enumerate(choices)
            for what, money in (("price", offer.price), ("deposit", offer.deposit))
            if currency is not None and money is not None and money.currency != currency
        ]
        if issues:
            raise IssuesError(issues)
        return offers

    @field_validator("whole", "house_made", mode="after")
    @classmethod
    def _same_currency(cls, things: FrozenMap[str, Any], info: ValidationInfo) -> FrozenMap[str, Any]:
        currency = info.data.get("currency")
        priced = [
            (name, key, price)
            for name, thing in things.items()
            for key in ("price", "labour")
            if isinstance(price := getattr(thing, key, None), Money)
        ]
        issues = [
            Issue((name, key), f"not the currency of this shelf, got {shown(price.text)}. Write {currency}.")
            for name, key, price in priced
            if currency is not None and price.currency != currency
        ]
        if issues:
            raise IssuesError(issues)
        return things

    @model_validator(mode="after")
    def _orders_somewhere(self) -> Self:
        bought = [*self.offers.values(), *self.supplies.values()]
        sold = [offer.supplier for offers in bought for offer in offers]
        sold += [given.supplier for given in self.price_lists if given.columns.price is not None]
        suppliers = {name for name in [*sold, *(whole.supplier for whole in self.whole.values())] if name}
        issues = supplier_issues(self.suppliers, suppliers, self.currency)
        for name, least in self.least_order.items():
            got = shown(least.text)
            if name not in suppliers:
                hint = did_you_mean(name, suppliers)
                message = f"nothing is bought from '{name}'. {hint}".rstrip()
                issues.append(Issue(("least_order", name), message, at_key=True))
            elif least.per is not None or least.value <= 0.0:
                message = f"the least an order comes to is money above zero, got {got}. Write e.g. 60 EUR."
                issues.append(Issue(("least_order", name), message))
            elif least.currency != self.currency:
                message = f"not the currency of this shelf, got {got}. Write {self.currency}."
                issues.append(Issue(("least_order", name), message))
        if issues:
            raise IssuesError(issues)
        return self

    @field_validator("price_lists", mode="after")
    @classmethod
    def _lists_in_one_currency(
        cls, lists: tuple[PriceList, ...], info: ValidationInfo
    ) -> tuple[PriceList, ...]:
        currency = info.data.get("currency")
        issues = [
            Issue(
                (number, "currency"),
                f"not the currency of this shelf, got {given.currency}. Ask for a list in {currency}.",
            )
            for number, given in enumerate(lists)
            if currency is not None and given.currency not in (None, currency)
        ]
        if issues:
            raise IssuesError(issues)
        return lists

    @model_validator(mode="after")
    def _one_name_one_thing(self) -> Self:
        parts = {part for whole in self.whole.values() for part in whole.parts}
        issues = [
            Issue(
                ("whole", name),
                f"'{name}' is among the offers too. Call the whole thing by a name of its own, "
                f"such as whole-{name}.",
                at_key=True,
            )
            for name in self.whole
            if name in self.offers
        ]
        for name in self.supplies:
            there = [
                key for key in ("offers", "ingredients", "whole", "house_made") if name in getattr(self, key)
            ]
            if there:
                message = f"'{name}' is under {there[0]} too. Supplies are not drunk: keep one."
                issues.append(Issue(("supplies", name), message, at_key=True))
        for name in self.house_made:
            others = {"offers": self.offers, "ingredients": self.ingredients, "whole": self.whole}
            there = [key for key, things in others.items() if name in things]
            there += ["the parts of a whole thing"] if name in parts else []
            if there:
                message = f"'{name}' is under {there[0]} too. Keep one, or give this a name of its own."
                issues.append(Issue(("house_made", name), message, at_key=True))
        if issues:
            raise IssuesError(issues)
        return self

    @model_validator(mode="after")
    def _work_has_a_wage(self) -> Self:
        issues = []
        if self.wage is not None and self.wage.currency != self.currency:
            message = f"not the currency of this shelf, got {shown(self.wage.text)}. Write {self.currency}."
            issues.append(Issue(("wage",), message))
        if self.wage is None:
            message = "work in minutes needs a wage. Add `wage: 18 EUR/h` to this shelf, or give money."
            issues += [
                Issue(("house_made", name, "labour"), message)
                for name, one in self.house_made.items()
                if isinstance(one.labour, float)
            ]
        if issues:
            raise IssuesError(issues)
        return self

    @model_validator(mode="after")
    def _melts_by_method(self) -> Self:
        issues = [
            Issue(
                ("service", "melt", name),
                f"unknown method. {did_you_mean(name, METHODS)}".rstrip(),
                at_key=True,
            )
            for name in self.service.melt
            if name not in METHODS or name == "batched"
        ]
        if issues:
            raise IssuesError(issues)
        return self

    def ingredient(self, ingredient_id: str, library: Library) -> Ingredient:
        """Give an ingredient: the bar's own values over the library's.

        Parameters
        ----------
        ingredient_id : str
            Id as used in the files.
        library : Library
            Where missing values come from.

        Raises
        ------
        SpecError
            If neither knows the id, or the two do not hang together.
        """
        own = self.ingredients.get(ingredient_id)
        if own is None:
            if ingredient_id in library:
                return library.get(ingredient_id)
            if ingredient_id in self.whole:
                parts = ", ".join(self.whole[ingredient_id].parts)
                message = f"'{ingredient_id}' is bought whole and used in parts. Name a part: {parts}."
                raise SpecError([SpecProblem(None, "", message)])
            if ingredient_id in self.supplies:
                message = (
                    f"'{ingredient_id}' is a supply and is not drunk. Put it under `garnish:`, in pieces."
                )
                raise SpecError([SpecProblem(None, "", message)])
            hint = did_you_mean(ingredient_id, {*library.ids(), *self.ingredients, *self.house_made})
            message = (
                f"no ingredient called '{ingredient_id}' on the shelf or in the library. {hint}".rstrip()
            )
            raise SpecError([SpecProblem(None, "", message)])
        base = None
        if own.based_on is not None:
            path = ("ingredients", ingredient_id, "based_on")
            if own.based_on not in library:
                hint = did_you_mean(own.based_on, library.ids())
                message = f"no library ingredient called '{own.based_on}'. {hint}".rstrip()
                raise SpecError([self.places.problem(path, message)])
            base = library.get(own.based_on)
        return own.resolve(ingredient_id, base)
