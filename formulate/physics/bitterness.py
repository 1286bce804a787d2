"""Bitterness on the scale of Ph. Eur. 2.8.15.

The bitterness value is the dilution, in millilitres per gram, at which one gram just tastes bitter;
quinine hydrochloride is set at 200 000. Bitterness values of a drink's parts add as activity, which
is a convention of the scale and no promise that tongues add so: bitter taste saturates and people differ.
The scale has no upper end: pure amarogentin and quassin lie above quinine. That 200 000 is the most these
functions take is our own limit, as no drink and no plant reaches it.
"""

from __future__ import annotations

import numpy as np

from formulate.physics.numerics import Number, as_given, checked

__all__ = ["QUININE_HYDROCHLORIDE_BITTERNESS_VALUE", "gentian_equivalent_g_l"]

QUININE_HYDROCHLORIDE_BITTERNESS_VALUE = 200_000
# The scale itself has no end (amarogentin and quassin lie above quinine): no drink or plant is more bitter.
SOURCE = "our limit for drinks and plants (quinine hydrochloride's own value)"


def _bitterness(function: str, bitterness_value: object) -> np.typing.NDArray[np.float64]:
    highest = float(QUININE_HYDROCHLORIDE_BITTERNESS_VALUE)
    return checked(bitterness_value, 0.0, highest, f"{function}: bitterness_value", "", SOURCE)


def gentian_equivalent_g_l(
    bitterness_value: Number, root_value: float = 20_000.0, extracted: float = 0.9
) -> Number:
    """Dried gentian root that would make a drink this bitter.

    Parameters
    ----------
    bitterness_value : float or ndarray
        Of the drink, Ph. Eur. scale.
    root_value : float, default 20000
        Bitterness value of the root; the pharmacopoeia asks for at least 10 000, lots reach twice the
        default (from memory).
    extracted : float, default 0.9
        Share that leaves the root, above 0 to 1; a working figure.

    Returns
    -------
    float or ndarray
        g of root per litre of drink.

    Raises
    ------
    RangeError
        Below 0, above 200 000, or NaN.
    """
    value = _bitterness("gentian_equivalent_g_l", bitterness_value)
    highest = float(QUININE_HYDROCHLORIDE_BITTERNESS_VALUE)
    root = float(checked(root_value, 1.0, highest, "gentian_equivalent_g_l: root_value", "", SOURCE))
    share = float(checked(extracted, 1e-6, 1.0, "gentian_equivalent_g_l: extracted", "", "a share"))
    return as_given(value * (1000.0 / (root * share)), bitterness_value)
