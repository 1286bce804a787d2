"""Polynomials in exact fractions: what the rounding of floats cannot touch."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from fractions import Fraction
from math import comb

Exact = list[Fraction]


def exact(coefficients: Sequence[float]) -> Exact:
    return [Fraction(c) for c in coefficients]


def add(a: Exact, b: Exact, factor: int = 1) -> Exact:
    length = max(len(a), len(b))
    padded_a, padded_b = a + [Fraction(0)] * (length - len(a)), b + [Fraction(0)] * (length - len(b))
    return [x + factor * y for x, y in zip(padded_a, padded_b, strict=True)]


def multiply(a: Exact, b: Exact) -> Exact:
    product = [Fraction(0)] * (len(a) + len(b) - 1)
    for i, x in enumerate(a):
        for j, y in enumerate(b):
            product[i + j] += x * y
    return product


def slope(a: Exact) -> Exact:
    return [power * c for power, c in enumerate(a)][1:]


def value(a: Exact, x: Fraction) -> Fraction:
    result = Fraction(0)
    for c in reversed(a):
        result = result * x + c
    return result


def least_over(a: Exact, lower: Fraction, upper: Fraction) -> Fraction:
    """A bound from below over an interval: the centre's value less every other Taylor term's size."""
    centre, half = (lower + upper) / 2, (upper - lower) / 2
    terms = [
        sum(comb(power, order) * a[power] * centre ** (power - order) for power in range(order, len(a)))
        for order in range(len(a))
    ]
    return terms[0] - sum((abs(t) * half**order for order, t in enumerate(terms[1:], start=1)), Fraction(0))


def positive_on(a: Exact, lower: Fraction, upper: Fraction, cells: int) -> bool:
    """Whether the polynomial is proved above zero on every one of the cells."""
    edges = [lower + (upper - lower) * i / cells for i in range(cells + 1)]
    return all(least_over(a, left, right) > 0 for left, right in itertools.pairwise(edges))
