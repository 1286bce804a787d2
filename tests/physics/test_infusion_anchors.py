"""What practice and the old books say of infusing, beside what the model says: one table.

The anchors do not agree to better than a factor of two in time: rasped quassia and boiled gentian want a
large wash, days in the fridge a small one. The model stands between them, and `DOUBT_FACTOR` says so.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import pytest

from formulate.physics.extraction import approach, class_kinetics
from formulate.physics.kinetics import harsh_share

from .kitchen_rows import rate_per_h


def drawn(plant: str, hours: float, celsius: float, cut: str | None = None) -> float:
    return float(approach(hours, celsius, class_kinetics(plant, cut=cut)))


class Anchor(NamedTuple):
    """What is said, where, and the range that says the same."""

    name: str
    source: str
    low: float
    high: float
    model: Callable[[], float]


ANCHORS = [
    Anchor(
        "an hour at 50 °C over a day in the fridge",
        "common practice: about alike",
        0.9, 1.15, lambda: drawn("root", 1.0, 50.0) / drawn("root", 24.0, 4.0),
    ),
    Anchor(
        "an hour at 50 °C over two days in the fridge",
        "common practice: about alike",
        0.85, 1.05, lambda: drawn("root", 1.0, 50.0) / drawn("root", 48.0, 4.0),
    ),
    Anchor("an hour at 50 °C, of a long soak", "common practice: most of it", 0.75, 1.0,
           lambda: drawn("root", 1.0, 50.0)),
    Anchor("two days in the fridge, of a long soak", "common practice: most of it", 0.75, 1.0,
           lambda: drawn("root", 48.0, 4.0)),
    Anchor("leaves: an hour at 50 °C over a day in the fridge", "common practice: about alike", 0.9, 1.15,
           lambda: drawn("leaf", 1.0, 50.0) / drawn("leaf", 24.0, 4.0)),
    Anchor("muddled pith: an hour at 50 °C over two days in the fridge", "common practice: about alike",
           0.85, 1.05, lambda: drawn("pith", 1.0, 50.0) / drawn("pith", 48.0, 4.0)),
    Anchor("fine root, 24 h at 20 °C in spirit", "common practice: macerations are done in 24 h to 7 days",
           0.85, 1.0, lambda: drawn("root", 24.0, 20.0)),
    Anchor("coarse root, 7 days at 20 °C", "pharmacopoeial macerations, 7 days: complete",
           0.97, 1.0, lambda: drawn("root", 168.0, 20.0, "coarse")),
    Anchor("whole root, 7 days at 20 °C", "pharmacopoeial macerations, 7 days: complete",
           0.9, 1.0, lambda: drawn("root", 168.0, 20.0, "whole")),
    Anchor("rasped quassia, 15 min in cold water",
           "BPC 1911: infusion of 10 g/L rasped, 15 min cold, as bitter as an exhausted 6.25 g/L",
           0.55, 0.7, lambda: drawn("bark", 0.25, 15.0, "powder")),
    Anchor("cut gentian, 15 min with boiling water", "BP, compound infusion: a usable bitter",
           0.7, 1.0, lambda: drawn("root", 0.25, 90.0)),
    Anchor("time of muddled fruit over grape marc at 60 °C",
           "Sant'Anna et al. 2013, k = 0.157/min: milled, stirred, in fifty times its volume, so quicker",
           1.0, 5.0, lambda: 9.42 / float(rate_per_h(class_kinetics("crushed_fruit"), 60.0))),
    Anchor("coarse after 7 days at 20 °C", "pharmacopoeial macerations: not coarse", 0.0, 0.05,
           lambda: float(harsh_share(168.0, 20.0))),
    Anchor("coarse after 14 days at 20 °C", "103 recipes of 1817 to 1923 steep a median of 12 to 14 days",
           0.0, 0.06, lambda: float(harsh_share(336.0, 20.0))),
    Anchor("coarse after two days in the fridge", "common practice: not at all", 0.0, 0.01,
           lambda: float(harsh_share(48.0, 4.0))),
    Anchor("coarse after an hour at 50 °C", "common practice: no", 0.0, 0.05,
           lambda: float(harsh_share(1.0, 50.0))),
    Anchor("coarse after an hour at 77 °C", "common practice: 75 to 80 °C draws coarse bitterness sooner",
           0.1, 0.3, lambda: float(harsh_share(1.0, 77.0))),
]  # fmt: skip


@pytest.mark.parametrize("anchor", ANCHORS, ids=lambda anchor: anchor.name)
def test_the_model_says_what_practice_says(anchor: Anchor) -> None:
    assert anchor.low <= anchor.model() <= anchor.high, f"{anchor.name} [{anchor.source}]"


@pytest.mark.parametrize("plant", ["root", "bark", "leaf", "flower", "seed", "dried_peel", "zest", "pith"])
@pytest.mark.parametrize("hours", [0.5, 1.0, 6.0, 24.0, 48.0])
def test_cold_never_beats_hot_at_its_own_time(plant: str, hours: float) -> None:
    by_warmth = [drawn(plant, hours, celsius) for celsius in (4.0, 20.0, 40.0, 50.0, 65.0, 80.0)]
    assert by_warmth == sorted(by_warmth)
