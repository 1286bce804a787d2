"""What a drink costs, what it sells for, and what it leaves: beverage cost the way a bar counts it.

Cost per drink over its price without tax is its cost percentage; the price for a target is the cost
over the target, with the tax guests pay put on top where menus show prices with tax (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass, field

from formulate.files.service import Service, Tax
from formulate.quantity.document import HIDDEN

__all__ = ["PriceRecord", "price_of_drink"]


def _without_selling_tax(price: float, tax: Tax) -> float:
    """Return what the bar keeps of a price as its menu writes it."""
    return price / (1.0 + tax.selling_share) if tax.menu_prices == "with" else price


def _price_for_target(cost: float, target_share: float, tax: Tax) -> float:
    """Return the price, as the menu writes it, at which a cost is a given share of the price without tax."""
    without = cost / target_share
    return without * (1.0 + tax.selling_share) if tax.menu_prices == "with" else without


def price_of_drink(
    ingredients: float,
    garnish: float,
    waste: float,
    price: float | None,
    service: Service,
    tax: Tax,
    currency: str,
) -> PriceRecord:
    """Work out what a drink costs and brings.

    Parameters
    ----------
    ingredients, garnish, waste : float
        What is used for one, and what is spilt and sent back of it.
    price : float or None
        As the menu writes it.
    service : Service
        The target.
    """
    cost = ingredients + garnish + waste
    net = None if price is None else _without_selling_tax(price, tax)
    target = service.target_cost_share
    return PriceRecord(
        ingredients=ingredients,
        garnish=garnish,
        waste=waste,
        cost=cost,
        price=price,
        price_without_tax=net,
        cost_share=None if net is None else cost / net,
        contribution=None if net is None else net - cost,
        target_share=target,
        price_for_target=None if target is None else _price_for_target(cost, target, tax),
        prices_with_tax=tax.menu_prices == "with" and tax.selling_share > 0.0,
        currency=currency,
        waste_share=waste / (ingredients + garnish) if ingredients + garnish > 0.0 else service.waste_share,
        selling_tax_share=tax.selling_share if tax.menu_prices == "with" else 0.0,
    )


@dataclass(frozen=True, slots=True)
class PriceRecord:
    """What a drink costs and brings.

    Attributes
    ----------
    ingredients, garnish, waste : float
        Per drink; `waste` is what is spilt and sent back of both.
    cost : float
        Their sum.
    price, price_without_tax : float or None
        On the menu, as the bar writes it, and what is left after tax.
    cost_share : float or None
        Cost of the price without tax.
    contribution : float or None
        What one drink leaves for everything else.
    price_for_target : float or None
        As the bar writes prices, with or without tax.
    waste_share : float
        Of ingredients and garnish.
    selling_tax_share : float
        Tax that the menu's price holds, of the price without it; 0 where it holds none.
    """

    ingredients: float
    garnish: float
    waste: float
    cost: float
    price: float | None
    price_without_tax: float | None
    cost_share: float | None
    contribution: float | None
    target_share: float | None
    price_for_target: float | None
    prices_with_tax: bool
    currency: str
    waste_share: float = field(default=0.0, metadata=HIDDEN)
    selling_tax_share: float = field(default=0.0, metadata=HIDDEN)
