"""A menu on which the solver, left to itself, proves a wrong optimum: what is proved is what is so."""

from __future__ import annotations

import numpy as np
import pytest

from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.stock.plan import plan_stock
from formulate.optimise.stock.played import broken_rule, play
from formulate.optimise.stock.question import Good, Making, StockPlan, StockQuestion

PRICES = (
    (0, 1.0, 1.8667495588890506),
    (0, 2.5, 8.449631147073024),
    (0, 5.0, 5.157105712746781),
    (1, 1.0, 2.853662989528902),
    (1, 2.5, 9.214040885406412),
    (1, 5.0, 18.78283479578498),
    (2, 1.0, 2.229270600399696),
    (2, 2.5, 3.8696934661234423),
    (2, 5.0, 5.7996552413569376),
)
GOODS = (
    Good("b0", (1.0, 1.7, 0.5, 1.0), 0.0, keeps=2),
    Good(
        "b1",
        (0.5, 1.0, 0.5, 0.0),
        2.0,
        keeps=None,
        strength_left=(1.0, 0.8187307530779818, 0.6703200460356393, 0.5488116360940264, 0.44932896411722156),
    ),
    Good("b2", (0.0, 1.7, 1.0, 1.0), 2.0, keeps=2),
    Good("h0", (2.3, 0.5, 0.5, 1.0), 0.0, keeps=2),
    Good("h1", (0.0, 0.5, 0.5, 0.5), 0.0, keeps=None),
)
MAKINGS = (
    Making(3, ((0, 0.8815080613253341), (1, 0.31741400471592907)), 6.0, 0.0, 0, 1.6, 0.0, False),
    Making(3, ((0, 0.2563722798862659), (1, 0.5787156616198704)), 3.0, 0.6, 1, 0.5, 2.0, True),
    Making(4, ((0, 0.3106675295276327), (1, 0.8718333527998742)), None, 0.0, None, 0.0, 0.0, False),
)


def test_no_plan_costs_less_is_said_of_the_cheapest_only() -> None:
    # HiGHS 1.13.0 with all of its presolve proves 34.19 here. A plan of 26.17 is written out below;
    # that it is one is seen by playing it through, which knows nothing of the program.
    packs = tuple(Pack(Thing(False, good), size, price) for good, size, price in PRICES)
    question = StockQuestion(4, GOODS, packs=packs, makings=MAKINGS)
    counts = np.zeros((9, 4))
    counts[0] = [0, 1, 0, 1]
    counts[2, 0] = 1
    counts[3] = [2, 1, 1, 0]
    counts[7, 2] = 1
    made = np.array([[0, 0, 1.5, 0], [2.8, 0, 0, 0], [1.48888619, 0, 0.01111381, 0]])
    batches = np.array([[0, 0, 1, 0], [1, 0, 0, 0], [0, 0, 0, 0]])
    cost = sum(pack.price * count for pack, count in zip(packs, counts.sum(axis=1), strict=True)) + 2.0
    known = StockPlan(counts, made, batches, np.zeros((5, 4)), cost, cost, 0.0, False)
    assert broken_rule(question, known) == ""
    assert play(question, known).missing_kg.max() < 1e-6
    plan = plan_stock(question, gap=1e-7)
    assert plan.proved
    assert plan.cost == pytest.approx(cost, abs=1e-3)
