# SPDX-License-Identifier: MIT
"""Exact binomial sums: how likely so many right answers are, how many are needed, and which shares fit what was found.

A chance given as a Fraction is summed in whole numbers and rounded once, at the end; a share given as a float is summed over
logarithms, good to about 1e-13 relative. Bounds of a share are those of Clopper & Pearson (1934), from memory: the shares at
which what was found, or more (or less), has just the probability of the tail.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction


def at_least(right: int, n: int, share: Fraction | float) -> float:
    """Probability of `right` or more right answers of n, when each is right with probability `share` (0..1)."""
    if isinstance(share, Fraction):
        return _whole(max(right, 0), n + 1, n, share)
    return math.fsum(exactly(k, n, share) for k in range(max(right, 0), n + 1))


def at_most(right: int, n: int, share: Fraction | float) -> float:
    """Probability of `right` or fewer right answers of n."""
    if isinstance(share, Fraction):
        return _whole(0, min(right, n) + 1, n, share)
    return math.fsum(exactly(k, n, share) for k in range(min(right, n) + 1))


def exactly(right: int, n: int, share: float) -> float:
    """Probability of just `right` right answers of n; 0 outside 0..n."""
    if not 0 <= right <= n:
        return 0.0
    if share in (0, 1):
        return float(right == n * share)
    ways = math.lgamma(n + 1) - math.lgamma(right + 1) - math.lgamma(n - right + 1) if n > 60 else math.log(math.comb(n, right))
    return math.exp(ways + right * math.log(share) + (n - right) * math.log1p(-share))


def _whole(start: int, stop: int, n: int, share: Fraction) -> float:
    hit, miss = share.numerator, share.denominator - share.numerator
    ways = sum(math.comb(n, k) * hit**k * miss ** (n - k) for k in range(start, stop))
    return float(ways / share.denominator**n)


def least_right(n: int, alpha: float, chance: Fraction) -> int | None:
    """The fewest right answers of n that guessing reaches with probability alpha at most; None where n of n is not enough."""
    hit, miss, all_ways = chance.numerator, chance.denominator - chance.numerator, chance.denominator**n
    tail, fewest = 0, None
    for right in range(n, -1, -1):
        tail += math.comb(n, right) * hit**right * miss ** (n - right)
        if tail / all_ways > alpha:
            break
        fewest = right
    return fewest


def bounds(right: int, n: int, tail: float) -> tuple[float, float]:
    """(lowest, highest) share that fits `right` of n with `tail` (0..0.5) left out on either side."""
    low = 0.0 if right == 0 else _share_reaching(right, n, tail)
    high = 1.0 if right == n else 1.0 - _share_reaching(n - right, n, tail)
    return low, high


def _share_reaching(right: int, n: int, tail: float) -> float:
    """The share at which `right` or more of n have the probability `tail`; its slope in the share is n P(right − 1 of n − 1)."""
    return rising(lambda p: at_least(right, n, p), lambda p: n * exactly(right - 1, n - 1, p), tail, 0.0, 1.0)


def rising(value: Callable[[float], float], slope: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """Where a rising function is `wanted` between low and high: Newton's steps, halving where one would leave the bracket."""
    at = (low + high) / 2
    for _ in range(200):
        off = value(at) - wanted
        low, high = (low, at) if off > 0 else (at, high)
        steep = slope(at)
        step = at - off / steep if steep > 0 else math.nan
        following = step if low < step < high else (low + high) / 2
        if off == 0 or abs(following - at) <= 1e-15 * max(abs(at), 1e-3):
            break
        at = following
    return at
