"""A second statement of the blend model, for other optimisers: Ipopt through CasADi, and SciPy's SLSQP.

Not a test. Written from the published formulas alone; the only things taken from the package are the
question itself (compositions, prices, limits) and the order of its components. The formulas are
plain arithmetic and work on floats, NumPy scalars and CasADi symbols alike.

Sources
-------
Ethanol-water density: OIML R 22 (1975), general formula at 20 C (all terms in t - 20 vanish).
Sucrose: ICUMSA SPS-4 (Bubnik et al. 1995) at 20 C, water 998.203 by its Kell-type formula.
Glucose, fructose, maltose: quadratics through the columns of the CRC Handbook, 102nd edition; past the
end of each column the sugar's volume rises by as much as sucrose's. The other solutes: constants, as the
package states them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.problem import BlendProblem, Over

FloatArray = NDArray[np.float64]

# kg/m3 by powers of the mass fraction of ethanol.
OIML_R22_20C = (
    998.2012300,
    -192.9769495,
    389.1238958,
    -1668.103923,
    13522.15441,
    -88292.78388,
    306287.4042,
    -613838.1234,
    747017.2998,
    -547846.1354,
    223446.0334,
    -39032.85426,
)
# kg/m3 above water by powers of the mass fraction of sucrose, from the first power.
SPS4_20C = (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890)
# Kell-type water density of SPS-4, by powers of t in C, at 20 C.
_KELL = (999.83952, 16.952577, -7.9905127e-3, -46.241757e-6, 105.84601e-9, -281.03006e-12)
SPS4_WATER = sum(c * 20.0**k for k, c in enumerate(_KELL)) / (1.0 + 16.887236e-3 * 20.0)
# End of the CRC column in mass fraction; apparent specific volume c0 + c1 w + c2 w^2, L/kg.
CRC_SUGARS = {
    "glucose": (0.60, 0.61900, 0.02518, 0.00376),
    "fructose": (0.48, 0.60994, 0.02663, 0.00630),
    "maltose": (0.60, 0.61859, -0.00529, 0.03370),
}
CONSTANTS_L_KG = {
    "citric_acid": 0.597,
    "malic_acid": 0.615,
    "tartaric_acid": 0.556,
    "lactic_acid": 0.785,
    "quinic_acid": 0.62,
    "ascorbic_acid": 0.62,
    "glycerol": 0.769,
    "salt": 0.29076 + 0.36142 * 0.02 - 0.34666 * 0.02**2,
    "other_soluble": 0.62,
}
ORDER = ("water", "ethanol", "sucrose", *CRC_SUGARS, *CONSTANTS_L_KG)
PURE_ETHANOL_KG_M3 = sum(OIML_R22_20C)
LEAST_SHARE = 0.01  # a rule of the question: a step carries at least this share of its liquor over
MOST_DISSOLVED = 0.85  # end of SPS-4
SOLIDS_L_KG = 0.67  # plant solids in a vessel (from memory, as the package states)


def ethanol_water_density_kg_m3(fraction: Any) -> Any:
    """OIML R 22 at 20 C; `fraction` is g ethanol per g of ethanol and water."""
    total = OIML_R22_20C[-1]
    for coefficient in OIML_R22_20C[-2::-1]:
        total = total * fraction + coefficient
    return total


def fraction_from_strength(strength_pct_vol: float) -> float:
    """Mass fraction of ethanol in a plain spirit, by bisection of 100 p rho(p)/rho(1)."""
    low, high = 0.0, 1.0
    for _ in range(200):
        middle = (low + high) / 2.0
        value = 100.0 * middle * ethanol_water_density_kg_m3(middle) / PURE_ETHANOL_KG_M3
        low, high = (middle, high) if value < strength_pct_vol else (low, middle)
    return (low + high) / 2.0


def sucrose_volume_l_kg(dissolved: Any) -> Any:
    """Apparent specific volume of sucrose at an overall dissolved mass fraction.

    rho = W + w Q(w) for sucrose in water alone; its apparent volume is (1/rho - (1 - w)/W)/w, that is
    (W - (1 - w) Q)/(W rho), without a division by w.
    """
    rise = SPS4_20C[-1]
    for coefficient in SPS4_20C[-2::-1]:
        rise = rise * dissolved + coefficient
    return 1000.0 * (SPS4_WATER - (1.0 - dissolved) * rise) / (SPS4_WATER * (SPS4_WATER + dissolved * rise))


def volume_l(liquor: Any, smaller: Any = min) -> Any:
    """Volume at 20 C of component masses in kg, in `ORDER`."""
    masses = dict(zip(ORDER, (liquor[k] for k in range(len(ORDER))), strict=True))
    alcohol = masses["water"] + masses["ethanol"]
    dissolved_mass = sum(masses[name] for name in ORDER[2:])
    dissolved = dissolved_mass / (alcohol + dissolved_mass)
    volume = 1000.0 * alcohol / ethanol_water_density_kg_m3(masses["ethanol"] / alcohol)
    volume += masses["sucrose"] * sucrose_volume_l_kg(dissolved)
    for name, (end, c0, c1, c2) in CRC_SUGARS.items():
        inside = smaller(dissolved, end)
        past = sucrose_volume_l_kg(dissolved) - sucrose_volume_l_kg(inside)
        volume += masses[name] * (c0 + c1 * inside + c2 * inside * inside + past)
    for name, constant in CONSTANTS_L_KG.items():
        volume += masses[name] * constant
    return volume


@dataclass(frozen=True)
class Found:
    """Best recipe an optimiser ended with.

    Attributes
    ----------
    cost_per_l : float
        With what soft limits charge. Infinite when no start ended feasible.
    columns : ndarray
        Masses per litre; empty when none.
    violation : float
        Largest absolute slip of any constraint at the point, kg (or litres) per litre.
    feasible_starts : int
    """

    cost_per_l: float
    columns: FloatArray
    violation: float
    feasible_starts: int


@dataclass(frozen=True)
class Share:
    """What the strength of a step allows of what its plants give, by one table.

    Attributes
    ----------
    position : int
        Of the step.
    points : tuple of (strength_pct_vol, share)
    strength : casadi.SX
        Of the step's ethanol and water, % vol.
    symbol : casadi.SX
        Stands for the share in `Oracle.rows_with_shares`.
    """

    position: int
    points: tuple[tuple[float, float], ...]
    strength: Any
    symbol: Any


class Oracle:
    """One question as a nonlinear program.

    Unknowns: masses per litre, batches per litre when they are free, purchases, per step the gross
    totals and the share of the liquor carried over, tied by equations, and slips of soft limits.
    `reduced` writes the totals and shares out in the masses instead, for SLSQP, whose subproblems fail
    on that many equations.
    """

    def __init__(self, problem: BlendProblem, *, reduced: bool = False) -> None:
        import casadi as ca

        from .oracle_kitchen import Infusion, share_at, strength_pct_vol

        self.problem, self.reduced = problem, reduced
        self.infusions = [Infusion(problem, position) for position in range(len(problem.chain.steps))]
        self.shares: list[Share] = []
        materials = problem.chain.materials
        content = materials.content[problem.place_ingredient]
        retention = materials.retention[problem.place_ingredient]
        solids = materials.solids[problem.place_ingredient]
        many = content.shape[1]
        parts = len(ORDER)
        unknowns, lower, upper = [], [], []
        rows: list[Any] = []
        row_lower: list[float] = []
        row_upper: list[float] = []

        def unknown(name: str, size: int, low: float, high: float) -> Any:
            symbol = ca.SX.sym(name, size)
            unknowns.append(symbol)
            lower.extend([low] * size)
            upper.extend([high] * size)
            return symbol

        def row(expression: Any, low: float, high: float) -> None:
            rows.append(expression)
            row_lower.append(low)
            row_upper.append(high)

        masses = unknown("m", problem.unknowns, 0.0, np.inf)
        if problem.volume_l is None:
            batches = unknown("b", 1, *problem.batch_bounds)
        else:
            batches = ca.SX(1.0 / problem.volume_l)
        cost = ca.DM(problem.price_per_kg[problem.place_ingredient]).T @ masses
        if problem.purchases:
            # Parts are paid for by what is bought whole: their own prices do not count, and no more of a
            # part is weighed in than the purchases yield.
            bought = unknown("q", len(problem.purchases), 0.0, np.inf)
            own = problem.price_per_kg * (self._yields().sum(axis=0) == 0.0)
            cost = ca.DM(own[problem.place_ingredient]).T @ masses
            cost += ca.DM([purchase.price_per_kg for purchase in problem.purchases]).T @ bought
            for part in np.flatnonzero(self._yields().any(axis=0)).tolist():
                used = sum(masses[k] for k in np.flatnonzero(problem.place_ingredient == part).tolist())
                row(ca.DM(self._yields()[:, part]).T @ bought - used, 0.0, np.inf)
        flowing = ca.SX.zeros(many)
        vessel = None
        for position, step in enumerate(problem.chain.steps):
            here = np.flatnonzero(problem.place_step == position)
            added = masses[here.tolist()]
            dissolved = flowing[:parts] + ca.DM(content[here, :parts].T) @ added
            symbols = None if reduced else unknown(f"g{position}", many, 0.0, np.inf)
            solvent = dissolved if symbols is None else symbols
            infusion = self.infusions[position]
            given = ca.DM(infusion.free.T) @ added
            for points, bound in infusion.bound.items():
                strength = strength_pct_vol(solvent[0], solvent[1])
                self.shares.append(Share(position, points, strength, ca.SX.sym("share")))
                given += self.shares[-1].symbol * (ca.DM(bound.T) @ added)
            gross = ca.vertcat(dissolved, ca.DM(infusion.left) * (flowing[parts:] + given))
            if symbols is not None:
                for k in range(many):
                    row(gross[k] - symbols[k], 0.0, 0.0)
                gross = symbols
            liquor = ca.sum1(gross[:parts])
            kept = step.cake_factor * (ca.DM(retention[here]).T @ masses[here.tolist()])
            wetting = 1.0 + step.rinse_kg_per_kg
            loses = bool(retention[here].any()) or step.loss_fraction > 0.0 or step.fixed_loss_kg > 0.0
            if loses:
                leaving = (1.0 - step.loss_fraction) * (liquor - kept / wetting)
                leaving -= step.fixed_loss_kg * batches
                share = leaving / liquor
                if reduced:
                    row(leaving - LEAST_SHARE * liquor, 0.0, np.inf)
                else:
                    share = unknown(f"f{position}", 1, LEAST_SHARE, 1.0)
                    row(share * liquor - leaving, 0.0, 0.0)
            else:
                share = ca.SX(1.0)
            flowing = share * gross
            # Rinsed with r times what the cake keeps, mixed, and pressed to the same hold: of the liquor
            # 1/(1 + r) stays, and the cake gives up r - r/(1 + r) of its hold as water of the rinse.
            flowing[0] += kept * (step.rinse_kg_per_kg - step.rinse_kg_per_kg / wetting)
            if problem.fill is not None and problem.fill.step == position:
                cake = SOLIDS_L_KG * (ca.DM(solids[here]).T @ masses[here.tolist()])
                vessel = volume_l(gross, ca.fmin) + cake
        row(volume_l(flowing, ca.fmin), 1.0, 1.0)
        liquor = ca.sum1(flowing[:parts])
        row((1.0 - MOST_DISSOLVED) * liquor - flowing[0] - flowing[1], -np.inf, 0.0)
        if problem.fill is not None and vessel is not None:
            row(vessel - problem.fill.volume_l * batches, 0.0, 0.0)
        charges = ca.SX(0.0)
        for number, limit in enumerate(problem.limits):
            value = limit.batch_weight * batches + (cost if limit.over is Over.COST else 0.0)
            for index, weight in zip(limit.indices.tolist(), limit.weights.tolist(), strict=True):
                if limit.over is Over.BOTTLE:
                    value = value + weight * flowing[index]
                else:
                    for column in np.flatnonzero(problem.place_ingredient == index).tolist():
                        value = value + weight * masses[column]
            if limit.soft:
                slip = unknown(f"s{number}", 2, 0.0, np.inf)
                value = value + slip[0] - slip[1]
                charges += limit.penalty * (slip[0] + slip[1])
            row(value, limit.lower, limit.upper)
        cost = charges + (cost if problem.money_counts else 0.0)
        self.lower, self.upper = np.array(lower), np.array(upper)
        self.row_lower, self.row_upper = np.array(row_lower), np.array(row_upper)
        self.all_unknowns = ca.vertcat(*unknowns)
        self.cost = cost
        self.rows = self.rows_with_shares = ca.vertcat(*rows)
        if self.shares:
            exact = [share_at(share.points, share.strength, ca.fmax) for share in self.shares]
            symbols = ca.vertcat(*(share.symbol for share in self.shares))
            self.rows = ca.substitute(self.rows, symbols, ca.vertcat(*exact))
        self._evaluate = ca.Function("rows", [self.all_unknowns], [self.cost, self.rows])

    def _yields(self) -> FloatArray:
        """Kilograms of each ingredient from a kilogram of each purchase."""
        yields = np.zeros((len(self.problem.purchases), len(self.problem.price_per_kg)))
        for position, purchase in enumerate(self.problem.purchases):
            for ingredient, share in purchase.parts:
                yields[position, ingredient] += share
        return yields

    def bought(self, masses: FloatArray) -> FloatArray:
        """The cheapest purchases that yield the parts in given masses per litre."""
        from scipy.optimize import linprog

        yields = self._yields()
        used = np.bincount(self.problem.place_ingredient, masses, len(self.problem.price_per_kg))
        parts = yields.any(axis=0)
        prices = [purchase.price_per_kg for purchase in self.problem.purchases]
        result = linprog(prices, A_ub=-yields[:, parts].T, b_ub=-used[parts], method="highs")
        assert result.status == 0, result.message
        return np.asarray(result.x)

    def start(self, rng: np.random.Generator) -> FloatArray:
        """A random start: a few ingredients of a litre, run through the steps."""
        unknowns = self.problem.unknowns
        masses = rng.exponential(1.0, unknowns) * (rng.random(unknowns) < rng.uniform(0.1, 1.0))
        masses[rng.integers(unknowns)] += 0.5
        batches = float(np.sqrt(np.prod(self.problem.batch_bounds)))
        return np.clip(self.values(masses / masses.sum(), batches, least_share=0.2), self.lower, self.upper)

    def values(self, masses: FloatArray, batches: float, *, least_share: float = -np.inf) -> FloatArray:
        """Every unknown of the program for given masses per litre, by plain arithmetic.

        With the default the balances of the steps hold exactly, so `violation` of the result is the
        slip of the recipe itself.
        """
        from .oracle_kitchen import share_at, strength_pct_vol

        problem = self.problem
        content = problem.chain.materials.content[problem.place_ingredient]
        retention = problem.chain.materials.retention[problem.place_ingredient]
        pieces = [masses] if problem.volume_l is not None else [masses, np.array([batches])]
        money = float(masses @ problem.price_per_kg[problem.place_ingredient])
        if problem.purchases:
            own = problem.price_per_kg * (self._yields().sum(axis=0) == 0.0)
            pieces.append(self.bought(masses))
            prices = np.array([purchase.price_per_kg for purchase in problem.purchases])
            money = float(masses @ own[problem.place_ingredient] + prices @ pieces[-1])
        flowing = np.zeros(content.shape[1])
        for position, step in enumerate(problem.chain.steps):
            here = problem.place_step == position
            gross = flowing + masses[here] @ content[here]
            infusion = self.infusions[position]
            given = masses[here] @ infusion.free
            strength = strength_pct_vol(*np.maximum(gross[:2], 1e-12))
            for points, bound in infusion.bound.items():
                given = given + share_at(points, strength) * (masses[here] @ bound)
            gross[len(ORDER) :] = infusion.left * (flowing[len(ORDER) :] + given)
            if not self.reduced:
                pieces.append(gross)
            if not (retention[here].any() or step.loss_fraction or step.fixed_loss_kg):
                flowing = gross
                continue
            liquor = max(gross[: len(ORDER)].sum(), 1e-9)
            kept = step.cake_factor * float(masses[here] @ retention[here])
            wetting = 1.0 + step.rinse_kg_per_kg
            leaving = (1.0 - step.loss_fraction) * (liquor - kept / wetting)
            share = max((leaving - step.fixed_loss_kg * batches) / liquor, least_share)
            if not self.reduced:
                pieces.append(np.array([share]))
            flowing = share * gross
            flowing[0] += kept * (step.rinse_kg_per_kg - step.rinse_kg_per_kg / wetting)
        used = np.bincount(problem.place_ingredient, masses, len(problem.price_per_kg))
        for limit in problem.limits:
            if limit.soft:
                amounts = flowing if limit.over is Over.BOTTLE else used
                value = limit.weights @ amounts[limit.indices] + limit.batch_weight * batches
                value += money if limit.over is Over.COST else 0.0
                pieces.append(np.array([max(limit.lower - value, 0.0), max(value - limit.upper, 0.0)]))
        return np.concatenate(pieces)

    def objective(self, values: FloatArray) -> float:
        """Money and charges per litre."""
        return float(self._evaluate(values)[0])

    def violation(self, values: FloatArray) -> float:
        """Largest absolute slip of any row or bound."""
        rows = np.asarray(self._evaluate(values)[1]).ravel()
        slips = [self.row_lower - rows, rows - self.row_upper, self.lower - values, values - self.upper]
        return float(max(slip.max() for slip in slips))

    def ipopt(self, starts: int, seed: int = 0, seconds: float = 20.0) -> Found:
        """Solve from several starts with Ipopt, told not to relax a bound.

        `bound_relax_factor` is 0 and `constr_viol_tol` 1e-11: with Ipopt's own defaults its answers
        look about 1e-5 cheaper than they are, by slipping every bound.
        """
        solver = self.solver(self.rows, seconds)
        rng = np.random.default_rng(seed)
        best = Found(np.inf, np.zeros(0), np.inf, 0)
        feasible = 0
        for _ in range(starts):
            values, success = self.run(solver, self.start(rng))
            if not success:
                continue
            violation = self.violation(values)
            if violation > 1e-9:
                continue
            feasible += 1
            cost = self.objective(values)
            if cost < best.cost_per_l:
                best = Found(cost, values[: self.problem.unknowns], violation, 0)
        return Found(best.cost_per_l, best.columns, best.violation, feasible)

    def solver(self, rows: Any, seconds: float, parameters: Any = None, most_iterations: int = 1000) -> Any:
        """Ipopt on the cost and some rows, told not to relax a bound."""
        import casadi as ca

        program = {"x": self.all_unknowns, "f": self.cost, "g": rows}
        if parameters is not None:
            program["p"] = parameters
        options = {
            "print_time": False,
            "error_on_fail": False,
            "ipopt": {
                "print_level": 0,
                "sb": "yes",
                "tol": 1e-10,
                "constr_viol_tol": 1e-11,
                "dual_inf_tol": 1e-8,
                "compl_inf_tol": 1e-10,
                "bound_relax_factor": 0.0,
                "acceptable_iter": 0,
                "max_iter": most_iterations,
                "max_wall_time": seconds,
            },
        }
        return ca.nlpsol("oracle", "ipopt", program, options)

    def run(
        self,
        solver: Any,
        start: FloatArray,
        more_lower: FloatArray | None = None,
        more_upper: FloatArray | None = None,
        parameters: FloatArray | None = None,
    ) -> tuple[FloatArray, bool]:
        """Run a `solver`; its further rows, if it has any, come with their limits."""
        nothing = np.zeros(0)
        result = solver(
            x0=start,
            lbx=self.lower,
            ubx=self.upper,
            lbg=np.concatenate([self.row_lower, nothing if more_lower is None else more_lower]),
            ubg=np.concatenate([self.row_upper, nothing if more_upper is None else more_upper]),
            **({} if parameters is None else {"p": parameters}),
        )
        return np.asarray(result["x"]).ravel(), bool(solver.stats()["success"])

    def slsqp(self, starts: int, seed: int = 0, most_iterations: int = 500) -> Found:
        """Solve with SciPy's SLSQP and exact derivatives; for small shelves, and a `reduced` program."""
        import casadi as ca
        from scipy.optimize import minimize

        x = self.all_unknowns
        equal = np.flatnonzero(self.row_lower == self.row_upper).tolist()
        above = [k for k in np.flatnonzero(np.isfinite(self.row_lower)).tolist() if k not in equal]
        below = [k for k in np.flatnonzero(np.isfinite(self.row_upper)).tolist() if k not in equal]
        same = self.rows[equal] - ca.DM(self.row_lower[equal])
        inside = ca.vertcat(
            self.rows[above] - ca.DM(self.row_lower[above]), ca.DM(self.row_upper[below]) - self.rows[below]
        )
        names = {"cost": self.cost, "same": same, "inside": inside}
        values = {name: ca.Function(name, [x], [e]) for name, e in names.items()}
        slopes = {name: ca.Function(name, [x], [ca.jacobian(e, x)]) for name, e in names.items()}

        def flat(function: Any) -> Any:
            return lambda point: np.asarray(function(point)).ravel()

        def matrix(function: Any) -> Any:
            return lambda point: np.asarray(function(point).full())

        constraints = [
            {"type": "eq", "fun": flat(values["same"]), "jac": matrix(slopes["same"])},
            {"type": "ineq", "fun": flat(values["inside"]), "jac": matrix(slopes["inside"])},
        ]
        rng = np.random.default_rng(seed)
        best = Found(np.inf, np.zeros(0), np.inf, 0)
        feasible = 0
        for _ in range(starts):
            result = minimize(
                lambda point: float(values["cost"](point)),
                self.start(rng),
                jac=flat(slopes["cost"]),
                bounds=list(zip(self.lower, self.upper, strict=True)),
                constraints=constraints,
                method="SLSQP",
                options={"maxiter": most_iterations, "ftol": 1e-12},
            )
            violation = self.violation(np.asarray(result.x))
            # It often ends with "positive directional derivative", at its answer but short of ftol: where it
            # stands counts if it is a recipe.
            if violation > 1e-9:
                continue
            feasible += 1
            if result.fun < best.cost_per_l:
                best = Found(float(result.fun), np.asarray(result.x)[: self.problem.unknowns], violation, 0)
        return Found(best.cost_per_l, best.columns, best.violation, feasible)
