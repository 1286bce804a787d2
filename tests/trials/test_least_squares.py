"""The fitting engine against NIST's certified nonlinear sets, and with beliefs against Gauss.

Data and certified values: NIST/ITL Statistical Reference Datasets, Nonlinear Regression, typed from memory
(misremembered digits would not meet the certified ones, nor the certified scatter).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from formulate.errors import FormulateError
from formulate.optimise.least_squares import fit_least_squares

FloatArray = NDArray[np.float64]
Model = Callable[[FloatArray, FloatArray], FloatArray]


@dataclass(frozen=True)
class Certified:
    """A set as NIST publishes it: both starting points, values, their standard deviations, residual s.d."""

    model: Model
    x: list[float]
    y: list[float]
    starts: tuple[list[float], list[float]]
    values: list[float]
    standard: list[float]


MISRA_X = [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0]
MISRA_Y = [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78]

ECKERLE_X = [400.0, 405.0, 410.0, 415.0, 420.0, 425.0, 430.0, 435.0]
ECKERLE_X += [436.5 + 1.5 * step for step in range(20)]
ECKERLE_X += [470.0, 475.0, 480.0, 485.0, 490.0, 495.0, 500.0]
ECKERLE_Y = [
    0.0001575,
    0.0001699,
    0.0002350,
    0.0003102,
    0.0004917,
    0.0008710,
    0.0017418,
    0.0046400,
    0.0065895,
]
ECKERLE_Y += [
    0.0097302,
    0.0149002,
    0.0237310,
    0.0401683,
    0.0712559,
    0.1264458,
    0.2073413,
    0.2902366,
    0.3445623,
]
ECKERLE_Y += [
    0.3698049,
    0.3668534,
    0.3106727,
    0.2078154,
    0.1164354,
    0.0616764,
    0.0337200,
    0.0194023,
    0.0117831,
]
ECKERLE_Y += [0.0074357, 0.0022732, 0.0008800, 0.0004579, 0.0002345, 0.0001586, 0.0001143, 0.0000710]

SETS = {
    "Misra1a": Certified(
        lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
        MISRA_X,
        MISRA_Y,
        ([500, 0.0001], [250, 0.0005]),
        [2.3894212918e02, 5.5015643181e-04],
        [2.7070075241e00, 7.2668688436e-06],
    ),
    "Misra1b": Certified(
        lambda b, x: b[0] * (1 - (1 + b[1] * x / 2) ** -2),
        MISRA_X,
        MISRA_Y,
        ([500, 0.0001], [300, 0.0002]),
        [3.3799746163e02, 3.9039091287e-04],
        [3.1643950207e00, 4.2547321834e-06],
    ),
    "Misra1c": Certified(
        lambda b, x: b[0] * (1 - (1 + 2 * b[1] * x) ** -0.5),
        MISRA_X,
        MISRA_Y,
        ([500, 0.0001], [600, 0.0002]),
        [6.3642725809e02, 2.0813627256e-04],
        [4.6638326572e00, 1.7728423155e-06],
    ),
    "Misra1d": Certified(
        lambda b, x: b[0] * b[1] * x / (1 + b[1] * x),
        MISRA_X,
        MISRA_Y,
        ([500, 0.0001], [450, 0.0003]),
        [4.3736970754e02, 3.0227324449e-04],
        [3.6489174345e00, 2.9334354479e-06],
    ),
    "DanWood": Certified(
        lambda b, x: b[0] * x ** b[1],
        [1.309, 1.471, 1.490, 1.565, 1.611, 1.680],
        [2.138, 3.421, 3.597, 4.340, 4.882, 5.660],
        ([1, 5], [0.7, 4]),
        [7.6886226176e-01, 3.8604055871e00],
        [1.8281973860e-02, 5.1726610913e-02],
    ),
    "BoxBOD": Certified(
        lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
        [1, 2, 3, 5, 7, 10],
        [109, 149, 149, 191, 213, 224],
        ([100, 0.75], [100, 0.75]),
        [2.1380940889e02, 5.4723748542e-01],
        [1.2354515176e01, 1.0455993237e-01],
    ),
    "Rat42": Certified(
        lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)),
        [9, 14, 21, 28, 42, 57, 63, 70, 79],
        [8.930, 10.800, 18.590, 22.330, 39.350, 56.110, 61.730, 64.620, 67.080],
        ([100, 1, 0.1], [75, 2.5, 0.07]),
        [7.2462237576e01, 2.6180768402e00, 6.7359200066e-02],
        [1.7340283401e00, 8.8295217536e-02, 3.4465663377e-03],
    ),
    "Eckerle4": Certified(
        lambda b, x: b[0] / b[1] * np.exp(-0.5 * ((x - b[2]) / b[1]) ** 2),
        ECKERLE_X,
        ECKERLE_Y,
        ([1.5, 5, 450], [1.5, 5, 450]),
        [1.5543827178e00, 4.0888321754e00, 4.5154121844e02],
        [1.5408051163e-02, 4.6803020753e-02, 4.6800518816e-02],
    ),
}


@pytest.mark.parametrize("start", [0, 1])
@pytest.mark.parametrize("name", SETS)
def test_certified_values_to_six_digits(name: str, start: int) -> None:
    known = SETS[name]
    x, y = np.array(known.x, dtype=float), np.array(known.y, dtype=float)
    found = fit_least_squares(lambda b: y - known.model(b, x), np.array(known.starts[start], dtype=float))
    assert found.values == pytest.approx(known.values, rel=1e-6)
    assert found.scaled == pytest.approx(known.standard, rel=1e-6)


def test_beliefs_are_joined_as_the_textbook_joins_them() -> None:
    # Gauss: the information of data and belief add up, the mean is weighted by it.
    rng = np.random.default_rng(3)
    slopes, data = rng.normal(size=(5, 3)), rng.normal(size=5)
    believed, doubt = np.array([0.3, -0.2, 1.0]), np.array([0.5, 2.0, 0.1])
    information = slopes.T @ slopes + np.diag(doubt**-2)
    expected = np.linalg.solve(information, slopes.T @ data + believed / doubt**2)
    found = fit_least_squares(lambda b: data - slopes @ b, believed, believed=believed, doubt=doubt)
    assert found.values == pytest.approx(expected, rel=1e-8)
    assert found.covariance == pytest.approx(np.linalg.inv(information), rel=1e-6)


def test_what_nobody_knows_and_no_data_tell_is_refused() -> None:
    with pytest.raises(FormulateError, match="say nothing"):
        fit_least_squares(lambda b: np.array([b[0] - 1.0, 0.0 * b[1]]), np.array([0.0, 0.0]))
