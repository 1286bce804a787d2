"""What a drink costs, what it sells for, and what it leaves: beverage cost the way a bar counts it.

Cost per drink over its price without tax is its cost percentage; the price for a target is the cost
over the target, with the tax guests pay put on top where menus show prices with tax (common practice).
"""

from __future__ import annotations

from formulate.describe.pour_record import PriceRecord
from formulate.files.service import Service, Tax

__all__ = ["price_for_target", "price_of_drink", "without_selling_tax"]


def without_selling_tax(price: float, tax: Tax) -> float:
    """Return what the bar keeps of a price as its menu writes it."""
    return price / (1.0 + tax.selling_share) if tax.menu_prices == "with" else price


def price_for_target(cost: float, target_share: float, tax: Tax) -> float:
    """Return the price, as the menu writes it, at which a cost is a given share of the price without tax."""
    without = cost / target_share
    return without * (1.0 + tax.selling_share) if tax.menu_prices == "with" else without


def price_of_drink(
    ingredients: float, garnish: float, price: float | None, service: Service, tax: Tax, currency: str
) -> PriceRecord:
    """Work out what a drink costs and brings.

    Parameters
    ----------
    ingredients, garnish : float
        What is used for one.
    price : float or None
        As the menu writes it.
    service : Service
        Waste and target.
    tax : Tax
    currency : str
    """
    waste = service.waste_share * (ingredients + garnish)
    cost = ingredients + garnish + waste
    kept = None if price is None else without_selling_tax(price, tax)
    target = service.target_cost_share
    return PriceRecord(
        ingredients=ingredients,
        garnish=garnish,
        waste=waste,
        cost=cost,
        price=price,
        price_without_tax=kept,
        cost_share=None if kept is None else cost / kept,
        contribution=None if kept is None else kept - cost,
        target_share=target,
        price_for_target=None if target is None else price_for_target(cost, target, tax),
        prices_with_tax=tax.menu_prices == "with" and tax.selling_share > 0.0,
        currency=currency,
        waste_share=service.waste_share,
        selling_tax_share=tax.selling_share if tax.menu_prices == "with" else 0.0,
    )
