"""Shares of all cases as counts of a Dirichlet distribution: opinions pooled, closed cases added.

An opinion of strength s is worth s closed cases, shared out as it says. Counts of several opinions
and of cases add up; the mean share of a kind is its count over all counts, and its marginal is a
beta distribution, from which the interval comes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

LEVEL = 0.95  # of a told interval, as tables have it
_TINY = 1e-300  # stands for a 0 that Lentz's way would divide by
_MOST_TERMS = 500  # counts up to tens of thousands settle in a hundred or two
_HALVINGS = 60  # of [0, 1]: to 1e-18


@dataclass(frozen=True, slots=True)
class Opinion:
    """What share of the cases each kind has, to its knowledge, and how many cases that is worth.

    Shares need not sum to 1; only their ratios count.
    """

    shares: Mapping[str, float]
    strength: float


def pooled(
    opinions: Iterable[Opinion], cases: Mapping[str, float] | None = None
) -> dict[str, float]:
    """Counts by kind. The opinion that speaks of most kinds, the first of equals, is the broadest.

    One that is silent about some kinds leaves those as the broadest has them: it only moves shares
    among the kinds it speaks of. Closed `cases` add as they were counted.
    """
    several = tuple(opinions)
    broadest = max(several, key=lambda opinion: len(opinion.shares), default=Opinion({}, 0.0))
    usual = _normalised(broadest.shares)
    counts = dict.fromkeys((*usual, *(kind for one in several for kind in one.shares)), 0.0)
    for opinion in several:
        own = _normalised(opinion.shares)
        reach = math.fsum(usual.get(kind, 0.0) for kind in own) or 1.0
        for kind in counts:
            share = own[kind] * reach if kind in own else usual.get(kind, 0.0)
            counts[kind] += opinion.strength * share
    for kind, number in (cases or {}).items():
        counts[kind] = counts.get(kind, 0.0) + number
    return counts


def interval(count: float, total: float, level: float = LEVEL) -> tuple[float, float]:
    """Between which shares a kind of this count lies with odds `level`, as much left out below as
    above; `total` is the count of all kinds. A kind that is all there is has the share 1.
    """
    if not 0 <= count <= total or total <= 0:
        raise ValueError(f"{count:g} of {total:g} cases")
    if count == 0 or count == total:
        return (count / total, count / total)
    outside = (1 - level) / 2
    return quantile(outside, count, total - count), quantile(1 - outside, count, total - count)


def quantile(odds: float, a: float, b: float) -> float:
    """The x that a beta-distributed share with counts a and b stays under with these odds."""
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if cumulated(middle, a, b) < odds else (low, middle)
    return (low + high) / 2


def cumulated(x: float, a: float, b: float) -> float:
    """The odds that a beta-distributed share with counts a and b stays under x: the regularised
    incomplete beta function, by its continued fraction (DLMF 8.17.22) in Lentz's way."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):  # there the fraction of the other end converges
        return 1 - cumulated(1 - x, b, a)
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
        + a * math.log(x) + b * math.log1p(-x)
    )  # fmt: skip
    c, d = 1.0, 1 / _away_from_nothing(1 - (a + b) * x / (a + 1))
    fraction = d
    for m in range(1, _MOST_TERMS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1 / _away_from_nothing(1 + term * d)
            c = _away_from_nothing(1 + term / c)
            fraction *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return front * fraction / a


def _away_from_nothing(number: float) -> float:
    return number if abs(number) > _TINY else _TINY


def _normalised(shares: Mapping[str, float]) -> dict[str, float]:
    whole = math.fsum(shares.values()) or 1.0
    return {kind: share / whole for kind, share in shares.items()}
