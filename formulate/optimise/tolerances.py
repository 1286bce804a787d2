"""Every tolerance of the optimiser and of those who read its answers, by size and with its reason.

They hang together. The engine meets a row to `FEASIBILITY_KG_PER_L`; the loop ends at `CONVERGED` where it
settles of itself and at `ACCEPTED` where a trust region had to end it; verification recomputes the recipe
and allows ten times that, `VERIFIED_SLACK`; a value is said to stand at a bound at ten times that again,
`AT_BOUND`. Relative ones are shares of a limit's size (`problem.Limit.scale`), of a cost or of a count.
Time limits and counts of tries are no tolerances and stand where they are used.
"""

from __future__ import annotations

TINY = 1e-12
"""Kept under a divisor that may be nothing, and beside a slack of nothing: below it is rounding of floats."""

ROUNDING = 1e-9
"""Relative: what a few sums of floats lose. A count is made this much smaller before it is rounded up."""

# The linear program

FEASIBILITY_KG_PER_L = 1e-9
"""Largest amount by which the engine may miss a row it calls met, kg per litre bottled."""

INTEGER_FEASIBILITY = 1e-6
"""What a mixed-integer answer may miss a row or a whole number by: HiGHS's own tolerance for whole numbers.
In shares, pieces or kilograms alike; what a plan is short of by less is not missing."""

NOTHING_BOUGHT_KG = 1e-6
"""A milligram: less of a thing need not be bought."""

PACK_SLACK = 1e-7
"""Part of a pack, relative to what is used, that is not missed: masses are settled to `VERIFIED_SLACK`."""

# The loop (successive linear programming)

CONVERGED = 1e-10
"""Largest relative violation at which the loop is done.

A linearisation is off by the square of the step, so a recipe this close was priced with a gradient right to
five digits, and is within the square of that of the local optimum."""

ACCEPTED = 1e-8
"""Largest relative violation with which the trust region may end; verification allows ten times that."""

NEARLY_FEASIBLE = 1e-3
"""Violation at which the shares carried over need no longer be frozen."""

STATIONARY = 3e-8
"""A linear program at a recipe may promise this much, relative, before it counts as cheaper."""

IN_PLAY_KG_PER_L = 1e-9
"""An ingredient with more than this at a vertex is among the few that the refinement moves."""

SMALLEST_RADIUS = 1e-11
"""A trust region narrower than this, kg per litre, has nowhere left to go."""

DIFFERENCE_STEP = 1e-6
"""Half the distance of central differences, kg per litre: their errors are near 1e-11."""

SLSQP_PRECISION = 1e-14
"""Precision asked of SLSQP between vertices: it ends by its own line search long before."""

SMALL_PROGRAM_PRECISION = 1e-8
SMALL_PROGRAM_SLACK = 1e-6
"""Of a small program whose caller rounds the answer to what a clock or a scale shows and checks it again."""

# The answer

VERIFIED_SLACK = 1e-7
"""Largest relative violation of a limit that the recomputation of a recipe lets pass."""

AT_BOUND = 1e-6
"""A value this near a bound, relative, stands at it: ten times what verification lets pass."""

INSIDE_FIRM = 1e-6
"""How far inside a limit of the law, or of published figures, a recipe is asked for, relative: ten times
`VERIFIED_SLACK`, so that no rounding carries it over."""

HELD_TO = 1e-6
"""How far a target may drift, relative, while the cheapest of the nearest recipes is looked for."""

USED_KG_PER_L = 1e-6
"""Less than a milligram per litre is not using a thing."""

SAME_COST = 1e-6
"""Recipes whose cost per litre differs by less than this share cost the same to a person."""

TIE_ALLOWANCE = 1e-7
"""Cost that may be spent on breaking ties in the order of the file, per litre, in typical kilogram prices."""

EQUAL_COST = 1e-7
"""Recipes whose cost differs by less than this, relative, are equally cheap: the first one is kept."""

# Gaps at which a proof stops

GAP_ONE_STEP = 5e-7
GAP_SEVERAL_STEPS = 5e-5
"""The recipe is then called the cheapest: half of what is promised (1e-6 and 1e-4)."""

GAP_INTEGER = 1e-4
"""The same in whole packs, with choices, and of a plan over weeks."""

GAP_INNER_PROGRAM = 2e-5
"""Gap of each mixed-integer program on the way to `GAP_INTEGER`."""

RESOLVE_ALLOWANCE = 1e-6
"""Part of `GAP_INTEGER` left for a recipe solved a second time, which may come out a hair dearer."""

GAP_WEIGHED = 1e-6
"""Gap of the program in weighing steps: cost is all but equal there, only the targets matter."""

GAP_ANY_RECIPE = 1.0
"""A proof with this gap stops with the first recipe it meets."""

GAP_NEAREST = 1e-4
"""How closely the nearest value of a limit is found when there is no recipe."""

GAP_REACH = 1e-3
"""What a target could be on its own is told beside a clash: rounded, and never waited for."""

ABOVE_NOTHING = 1e-6
"""A proof that nothing smaller exists counts from zero: it shows that nothing lies below this share."""

# The tree

NO_VIOLATION = 1e-11
"""An answer of a relaxation that violates no relation by more than this is a recipe."""

NARROWEST_INTERVAL = 1e-9
"""Intervals are not branched on below this width."""

WORTH_A_LOOP = 1e-5
"""The loop is started from a node whose bound is this much below the incumbent, relative."""

SUM_ERROR = 1e-8
"""What a sum in a linear answer may be off by, kg per litre: ten times `FEASIBILITY_KG_PER_L`."""

RATIO_CONVERGED = 1e-9
"""A ratio is at its bound when no more than this, kg per litre, is to be gained over it."""

LEAST_DENOMINATOR = 1e-5
"""Nothing is said of a ratio to less than this, kg per litre: `SUM_ERROR` would drown it."""

# Why there is no recipe, and what limits cost

MOVED_ROOM = 5e-4
"""A moved limit is solved with so much more room, relative: about what it is rounded outward by when told."""

AT_THE_END = 1e-3
"""A target that comes this near to what it is pushed against, relative, has no bound there."""

PRICE_STEP = 1e-4
"""How far a bound is moved for its price, relative: the loop's own error is a millionth of that."""

ONE_PRICE = 1e-3
"""Prices to either side that differ by less, relative, are one price."""

PRICE_HOLDS = 0.02
"""A price holds as far as the cost keeps to it within this share."""

NO_PRICE = 1e-9
"""A price smaller than this is none."""

ENTRY_MARGIN = 1e-3
"""An entry price is confirmed by this share below it and above it."""

FREE_TO_ENTER = 1e-5
"""A candidate for a tie costs less than this to bring in, as a share of its price and of a litre's cost."""

NUDGE = 1e-4
"""A candidate for a tie is made this much cheaper, to show whose place it takes."""

# Whole numbers

OVERFILL = 1e-3
"""How much larger than asked a weighed batch may come out."""

AIMED_INSIDE = 2e-7
"""How far inside its band, relative, a weighed target is aimed at; grows where the blend model disagrees."""

TIDY = 1e-5
"""What is used of packs already paid for counts this share of its price, beside what is still paid."""

LEAST_USED_KG_PER_L = 1e-5
"""A hundredth of a gram per litre: a thing that must be used is used by at least so much."""

# Plans over weeks

FEWER_BATCHES = 1e-7
"""A batch, or a second choice, costs this share of the dearest pack: of equal plans that with fewer wins."""

REST_SHARE_LOST = 1e-3
"""A rest is worth this much less than what it was bought for: nothing is bought only to be left."""

GAP_LOT_SIZING = 1e-6
"""Gap of the small program of one thing that does not keep: it ends up in a row of the large one."""

GAP_PART = 5e-4
"""Gap of each small program when a plan is bettered part by part."""

BETTER_PLAN = 1e-6
"""A plan must be cheaper by this share to take the place of another."""

NEW_LINE = 1e-4
"""A further line under what packs cost must lie this much lower, relative, to be worth looking beyond."""
