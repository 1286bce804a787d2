"""What suppliers ask, split once into net price, tax and deposit: every cost and every bill reads this."""

from __future__ import annotations

from dataclasses import dataclass, replace

from formulate.files.service import Tax, TaxIn
from formulate.files.shelf import Offer
from formulate.files.stock import Whole
from formulate.quantity.amounts import to_cents

__all__ = ["BilledLine", "UnitPrice", "offer_price", "split_price", "untaxed", "whole_price_per_kg"]


@dataclass(frozen=True, slots=True)
class BilledLine:
    """A line of a supplier's bill, in whole cents.

    Attributes
    ----------
    net, tax, deposit : float
        What is to pay is the sum of the three.
    cost : float
        What it costs the bar in the end: with tax unless it comes back, and without the deposit.
    """

    net: float
    tax: float
    deposit: float
    cost: float


@dataclass(frozen=True, slots=True)
class UnitPrice:
    """The price of one pack, kilogram or litre.

    Attributes
    ----------
    net : float
        Without tax.
    deposit : float
        Paid back for the empty one.
    cost : float
        What it costs the bar in the end: with tax unless it comes back, and without the deposit.
    tax_share : float
        `tax` of `net`, as the shelf says it.
    asked_with_tax : bool
        Whether it is the sum with tax that is whole cents on the bill.
    reclaimed : bool
        Whether the bar gets the tax back.
    """

    net: float
    tax: float
    deposit: float
    cost: float
    tax_share: float = 0.0
    asked_with_tax: bool = False
    reclaimed: bool = True

    def times(self, factor: float) -> UnitPrice:
        """Return the price of so much; the deposit stays, it is on the pack and not on what is in it."""
        return replace(self, net=self.net * factor, tax=self.tax * factor, cost=self.cost * factor)

    def divided_by(self, content: float) -> UnitPrice:
        """Return the price of one of what this is the price of so many of; the deposit stays."""
        return replace(self, net=self.net / content, tax=self.tax / content, cost=self.cost / content)

    def billed(self, count: float) -> BilledLine:
        """Return the line of a bill for so many, each sum rounded to the cent."""
        tax = to_cents(self.tax * count)
        net = to_cents(self.net * count)
        if self.asked_with_tax:
            net = round(to_cents((self.net + self.tax) * count) - tax, 2)
        cost = net if self.reclaimed else round(net + tax, 2)
        return BilledLine(net, tax, to_cents(self.deposit * count), cost)


def split_price(
    asked: float,
    tax: Tax,
    *,
    tax_in: TaxIn | None = None,
    tax_share: float | None = None,
    deposit: float = 0.0,
) -> UnitPrice:
    """Split what a supplier asks.

    Parameters
    ----------
    tax : Tax
        Of the shelf.
    tax_in, tax_share : optional
        Where the offer says otherwise than the shelf.
    """
    share = tax.buying_share if tax_share is None else tax_share
    with_tax = (tax_in or tax.offers) == "with"
    net = asked / (1.0 + share) if with_tax else asked
    on_top = share * net
    return UnitPrice(
        net=net,
        tax=on_top,
        deposit=deposit,
        cost=net if tax.reclaimed else net + on_top,
        tax_share=share,
        asked_with_tax=with_tax,
        reclaimed=tax.reclaimed,
    )


def offer_price(offer: Offer, tax: Tax) -> UnitPrice:
    """Split the price of an offer, per kg, L or pack as the offer says."""
    deposit = 0.0 if offer.deposit is None else offer.deposit.value
    return split_price(offer.price.value, tax, tax_in=offer.tax, tax_share=offer.tax_rate, deposit=deposit)


def whole_price_per_kg(whole: Whole, tax: Tax) -> UnitPrice:
    """Split the price of a kilogram of a whole thing."""
    return split_price(whole.price_per_kg, tax, tax_in=whole.tax, tax_share=whole.tax_rate)


def untaxed(price: float) -> UnitPrice:
    """Return the price of what no supplier bills: made here, or counted as it costs."""
    return UnitPrice(net=price, tax=0.0, deposit=0.0, cost=price)
