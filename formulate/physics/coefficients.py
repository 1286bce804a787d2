"""The published coefficients of OIML R 22 and ICUMSA SPS-4, with their ranges and sources."""

from __future__ import annotations

from formulate.physics.numerics import derivative

__all__ = [
    "OIML",
    "OIML_A",
    "OIML_A_SLOPE",
    "OIML_B",
    "OIML_BY_POWER",
    "OIML_C",
    "OIML_COLDEST_C",
    "OIML_WARMEST_C",
    "SPS4",
    "SPS4_BY_POWER",
    "SPS4_COLDEST_C",
    "SPS4_EXCESS",
    "SPS4_HIGHEST_MASS_FRACTION",
    "SPS4_WARMEST_C",
    "WATER_DENOMINATOR",
    "WATER_NUMERATOR",
]

OIML = "OIML R 22 (1975)"
OIML_COLDEST_C, OIML_WARMEST_C = -20.0, 40.0
SPS4 = "ICUMSA SPS-4 (1995)"
SPS4_HIGHEST_MASS_FRACTION = 0.85
SPS4_COLDEST_C, SPS4_WARMEST_C = 0.0, 80.0

# A1 to A12 multiply p**0 to p**11: the density at 20 degrees Celsius.
OIML_A = (
    9.982012300e2,
    -1.929769495e2,
    3.891238958e2,
    -1.668103923e3,
    1.352215441e4,
    -8.829278388e4,
    3.062874042e5,
    -6.138381234e5,
    7.470172998e5,
    -5.478461354e5,
    2.234460334e5,
    -3.903285426e4,
)
# B1 to B6 multiply (t - 20)**1 to (t - 20)**6.
OIML_B = (-2.0618513e-1, -5.2682542e-3, 3.6130013e-5, -3.8957702e-7, 7.1693540e-9, -9.9739231e-11)
# C[i - 1][k - 1] multiplies p**k (t - 20)**i.
OIML_C = (
    (
        1.693443461530087e-1,
        -1.046914743455169e1,
        7.196353469546523e1,
        -7.047478054272792e2,
        3.924090430035045e3,
        -1.210164659068747e4,
        2.248646550400788e4,
        -2.605562982188164e4,
        1.852373922069467e4,
        -7.420201433430137e3,
        1.285617841998974e3,
    ),
    (
        -1.193013005057010e-2,
        2.517399633803461e-1,
        -2.170575700536993,
        1.353034988843029e1,
        -5.029988758547014e1,
        1.096355666577570e2,
        -1.422753946421155e2,
        1.080435942856230e2,
        -4.414153236817392e1,
        7.442971530188783,
    ),
    (
        -6.802995733503803e-4,
        1.876837790289664e-2,
        -2.002561813734156e-1,
        1.022992966719220,
        -2.895696483903638,
        4.810060584300675,
        -4.672147440794683,
        2.458043105903461,
        -5.411227621436812e-1,
    ),
    (4.075376675622027e-6, -8.763058573471110e-6, 6.515031360099368e-6, -1.515784836987210e-6),
    (-2.788074354782409e-8, 1.345612883493354e-8),
)
# The same numbers read the other way: for each power of p, a polynomial in t - 20.
OIML_BY_POWER: tuple[tuple[float, ...], ...] = (
    (OIML_A[0], *OIML_B),
    *(
        (OIML_A[power], *(row[power - 1] for row in OIML_C if len(row) >= power))
        for power in range(1, len(OIML_A))
    ),
)
OIML_A_SLOPE = derivative(OIML_A)

# SPS-4: density of water plus tau**i times w times these (ascending in w), tau = (t - 20)/100.
SPS4_EXCESS = (
    (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890),
    (-46.2720, -7.1720, 1.1597, 5.1126, 17.5254),
    (59.7712, 7.2491, 12.3630, -35.4791),
    (-47.2207, -21.6977, 27.6301),
    (18.3184, 12.3081),
)
SPS4_BY_POWER: tuple[tuple[float, ...], ...] = tuple(
    tuple(row[power] for row in SPS4_EXCESS if len(row) > power) for power in range(6)
)
WATER_NUMERATOR = (999.83952, 16.952577, -7.9905127e-3, -46.241757e-6, 105.84601e-9, -281.03006e-12)
WATER_DENOMINATOR = (1.0, 16.887236e-3)
