"""What the cake, the bag and the filter keep, and what a rinse brings back.

What is kept has the composition of the whole liquor: it costs alcohol and sugar in proportion, not water
only. Retentions are kg of liquor per kg of insoluble (for fruit) or dry (for dried plants) solid. No study
of pressed botanicals was found; one weighing of your own cake beats every figure here.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from formulate.errors import FormulateError, RangeError
from formulate.physics.figures import Figure
from formulate.physics.ranges import Array, Number, as_given, checked

__all__ = [
    "ENZYME_YIELD_GAIN",
    "HOLD_UP",
    "JUICE_YIELDS",
    "RETENTION",
    "juice_yield_share",
    "retained_per_bought",
    "retained_per_solid",
    "retention",
    "retention_from_yield",
    "rinse_recovery_share",
]

BAR = "bar practice"
HIGHEST_RETENTION = 100.0


def _kept(low: float, high: float, source: str = BAR, confidence: str = "common practice") -> Figure:
    return Figure(low, high, "kg/kg", source, confidence)


def _between(low: float, high: float) -> Figure:
    return _kept(low, high, "between drained and pressed; no figure found", "assumption")


# By class of plant, then by tool. kg of liquor per kg of insoluble solid (fruit) or of dry plant (the rest).
RETENTION: dict[str, dict[str, Figure]] = {
    "fruit": {
        # 1 kg of thawed cranberry with 3.3 % insoluble solids gives 0.66 to 0.70 kg of juice (published):
        # (1 - 0.70)/0.033 - 1 = 8.1 to (1 - 0.66)/0.033 - 1 = 9.3. Far above the bar figures below it.
        "untreated_press": _kept(8.1, 9.3, "from the published cranberry juice yield", "derived"),
        "drained": _kept(8.0, 12.0, "no figure found; not less than an untreated pressing", "assumption"),
        "hand_bag": _kept(3.0, 5.0),
        "hand_bag_enzyme": _kept(2.0, 3.0),
        "small_press": _kept(1.5, 2.3, "bar practice, small hydraulic or bladder press"),
    },
    "root": {
        "drained": _kept(2.0, 3.0),
        "hand_bag": _between(1.8, 2.0),
        "small_press": _kept(1.0, 1.8),
    },
    "leaf": {
        "drained": _kept(4.0, 7.0),
        "hand_bag": _between(3.5, 4.0),
        "small_press": _kept(2.5, 3.5),
    },
    "dried_peel": {
        "drained": _kept(3.0, 4.0),
        "hand_bag": _between(2.5, 3.0),
        "small_press": _kept(2.0, 2.5),
    },
    "coffee": {
        "drip": _kept(2.0, 2.5, "a barista training site, drip: about 2, at most 2.5", "published"),
        "drained": _kept(3.0, 3.2, "the same, steeped and decanted: about 3, measured 3.2", "published"),
        "small_press": _kept(2.1, 2.1, "the same, measured after pressing", "published"),
    },
}
# The source names these together.
SAME_AS = {"bark": "root", "flower": "leaf", "crushed_fruit": "fruit", "whole_fruit": "fruit"}
# Nobody gives figures for these; the nearest class stands in, and the answer says so.
STAND_IN = {"seed": "root", "zest": "dried_peel", "pith": "dried_peel"}

# Share of the weight of the fruit that comes out as juice.
JUICE_YIELDS: dict[str, Figure] = {
    "cranberry, thawed": Figure(0.66, 0.70, "kg/kg", "published press yields, thawed fruit", "published"),
    "orange": Figure(0.5, 0.5, "kg/kg", "published: about half of the fruit's weight", "published"),
    "grapefruit": Figure(0.5, 0.5, "kg/kg", "published: about half of the fruit's weight", "published"),
    "mayhaw, pressed cold": Figure(0.31, 0.31, "kg/kg", "published", "published"),
    "mayhaw, heated first": Figure(0.64, 0.64, "kg/kg", "published", "published"),
}
# White grape gains 15 % of juice by pectinase (published).
ENZYME_YIELD_GAIN = 0.15

# What else stays behind.
HOLD_UP: dict[str, Figure] = {
    "cloth": Figure(0.005, 0.01, "share of the batch", BAR, "common practice"),
    "paper": Figure(10.0, 20.0, "mL per filter", BAR, "common practice"),
    "fining_lees": Figure(0.02, 0.05, "share of the batch", BAR, "common practice"),
    "evaporation_warm_open": Figure(0.005, 0.02, "share of the alcohol", BAR, "common practice"),
}


def retention(plant_class: str, tool: str) -> Figure:
    """Liquor kept per kg of solid, by class and tool.

    Parameters
    ----------
    plant_class : str
        A key of `RETENTION`, or bark (as root), flower (as leaf), crushed_fruit or whole_fruit (as fruit);
        seed (as root), zest and pith (as dried_peel) are stand-ins and marked as assumption.
    tool : str
        A tool of that class.

    Returns
    -------
    Figure
        kg/kg with its origin.

    Raises
    ------
    FormulateError
        An unknown class or tool.
    """
    stand_in = STAND_IN.get(plant_class)
    tools = RETENTION.get(stand_in or SAME_AS.get(plant_class, plant_class))
    if tools is None:
        known = ", ".join([*RETENTION, *SAME_AS, *STAND_IN])
        raise FormulateError(f"retention: unknown plant class {plant_class!r}. Known: {known}.")
    if tool not in tools:
        known = ", ".join(tools)
        raise FormulateError(f"retention: no figure for {plant_class} by {tool!r}. Known: {known}.")
    if stand_in:
        source = f"no figure found; taken as {stand_in}: {tools[tool].source}"
        return replace(tools[tool], source=source, confidence="assumption")
    return tools[tool]


def retained_per_solid(moisture_share: Number, liquor_volatile_share: Number | float = 1.0) -> Number:
    """Liquor in a press cake per kg of its insoluble solid, from the cake's loss on drying.

    Parameters
    ----------
    moisture_share : float or ndarray
        What the cake loses on drying, 0 to below `liquor_volatile_share`.
    liquor_volatile_share : float or ndarray, default 1
        Water and alcohol in the liquor, above 0 to 1. With 1 this is the trade's m/(1 - m), right for a
        liquor without sugar. A juice of 12 % solids has 0.88: its sugar dries on to the solids and hides.

    Returns
    -------
    float or ndarray
        kg of liquor per kg of solid: m/(volatile - m).

    Raises
    ------
    RangeError
        Outside the ranges, a cake as wet as the liquor itself, or NaN.
    """
    name = "retained_per_solid"
    volatile = checked(liquor_volatile_share, 1e-3, 1.0, f"{name}: liquor_volatile_share", "", "a share")
    most = (1.0 - 1e-6) * volatile
    moisture = _up_to(moisture_share, most, f"{name}: moisture_share", "moistures below the liquor's own")
    return as_given(moisture / (volatile - moisture), moisture_share)


def _up_to(value: Number, most: Array, name: str, source: str) -> Array:
    """Return `value` as an array, or refuse it where it is outside 0 to its own element of `most`."""
    array = np.asarray(value, dtype=np.float64)
    excess = np.maximum(-array, array - most)
    excess = np.where(np.isnan(excess), np.inf, excess)
    if excess.size and excess.max() > 0.0:
        place = int(np.argmax(excess))
        values, ends = (np.broadcast_to(one, excess.shape).ravel() for one in (array, most))
        raise RangeError(name, float(values[place]), 0.0, float(ends[place]), "", source)
    return array


def retained_per_bought(retained_kg_kg: Number, solids_share: Number | float) -> Number:
    """Liquor kept per kg as bought.

    Parameters
    ----------
    retained_kg_kg : float or ndarray
        Per kg of solid, 0 to 100.
    solids_share : float or ndarray
        Insoluble (fruit) or dry (dried plant) solids as bought, 0 to 1.

    Returns
    -------
    float or ndarray
        kg/kg.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "retained_per_bought"
    kept = checked(retained_kg_kg, 0.0, HIGHEST_RETENTION, f"{name}: retained_kg_kg", "kg/kg", "retentions")
    solids = checked(solids_share, 0.0, 1.0, f"{name}: solids_share", "", "a share")
    return as_given(kept * solids, retained_kg_kg)


def juice_yield_share(insoluble_share: Number, retained_kg_kg: Number | float) -> Number:
    """Juice pressed from a kg of fruit.

    Parameters
    ----------
    insoluble_share : float or ndarray
        Insoluble solids of the fruit, 0 to 1.
    retained_kg_kg : float or ndarray
        Juice kept per kg of them, 0 to 100.

    Returns
    -------
    float or ndarray
        kg/kg, 1 - solids (1 + retained), never below 0.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "juice_yield_share"
    solids = checked(insoluble_share, 0.0, 1.0, f"{name}: insoluble_share", "", "a share")
    kept = checked(retained_kg_kg, 0.0, HIGHEST_RETENTION, f"{name}: retained_kg_kg", "kg/kg", "retentions")
    return as_given(np.maximum(1.0 - solids * (1.0 + kept), 0.0), insoluble_share)


def retention_from_yield(yield_share: Number, insoluble_share: Number | float) -> Number:
    """Juice kept per kg of insoluble solid, from a weighed yield: the calibration of a press.

    Parameters
    ----------
    yield_share : float or ndarray
        Juice over fruit, by weight, 0 to 1 - `insoluble_share`.
    insoluble_share : float or ndarray
        Insoluble solids of the fruit, 0.001 to 1.

    Returns
    -------
    float or ndarray
        kg/kg: (1 - yield)/solids - 1.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "retention_from_yield"
    solids = checked(insoluble_share, 1e-3, 1.0, f"{name}: insoluble_share", "", "a share")
    juice = _up_to(yield_share, 1.0 - solids, f"{name}: yield_share", "yields without the solids")
    return as_given((1.0 - juice) / solids - 1.0, yield_share)


def rinse_recovery_share(retained_kg: Number, rinse_kg: Number | float) -> Number:
    """Share of what the cake holds that one rinse brings back, pressed to the same retention.

    Parameters
    ----------
    retained_kg : float or ndarray
        Liquor in the cake, 0 to 1e6 kg.
    rinse_kg : float or ndarray
        Water or spirit added and mixed in, 0 to 1e6 kg.

    Returns
    -------
    float or ndarray
        rinse/(rinse + retained), 0 to 1: perfect mixing; real rinses mix less. 0 where both are 0.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "rinse_recovery_share"
    held = checked(retained_kg, 0.0, 1e6, f"{name}: retained_kg", "kg", "batches")
    rinse = checked(rinse_kg, 0.0, 1e6, f"{name}: rinse_kg", "kg", "batches")
    total = held + rinse
    share = np.divide(rinse, total, out=np.zeros(np.shape(total)), where=total > 0.0)
    return as_given(share, retained_kg)
