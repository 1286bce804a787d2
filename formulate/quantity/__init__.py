"""Text such as ``22 ± 0.3 % vol`` to plain floats in one unit per dimension, and back.

Units live at the rim: a file or a screen says ``70 cl``, everything inside holds ``0.7`` litres.
The list of units is closed and belongs to the dimension asked for, so that ``30 g/kg`` is never
taken for ``30 g/L``, and ``%`` alone never for a strength. Numbers are read as exact fractions and
rounded to a float once, so ``1234.5 g`` is exactly the float ``1.2345``.

US customary units are meant where ``oz``, ``lb``, ``fl oz`` and ``gal`` are written: avoirdupois
ounce and pound, US liquid ounce and gallon (NIST Handbook 44, Appendix C).

The room may import `formulate.errors` only, and is the one door to the units library.
"""

from formulate.quantity.amounts import (
    Amount,
    AmountBand,
    AmountBasis,
    Money,
    MoneyBand,
    parse_amount,
    parse_amount_band,
    parse_money,
    parse_money_band,
    parse_pack,
)
from formulate.quantity.bands import Band, format_quantity, parse_band, parse_quantity
from formulate.quantity.units import LARGEST_KG_OR_L, Dimension, accepted_units

__all__ = [
    "LARGEST_KG_OR_L",
    "Amount",
    "AmountBand",
    "AmountBasis",
    "Band",
    "Dimension",
    "Money",
    "MoneyBand",
    "accepted_units",
    "format_quantity",
    "parse_amount",
    "parse_amount_band",
    "parse_band",
    "parse_money",
    "parse_money_band",
    "parse_pack",
    "parse_quantity",
]
