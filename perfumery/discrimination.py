# SPDX-License-Identifier: MIT
"""Whether two smells can be told apart: triangle, duo-trio and paired tests, with exact probabilities.

p is the probability that mere guessing gives as many right answers or more (ISO 4120 triangle, ISO 10399 duo-trio, ISO 5495
paired, one-sided: binomial at 1/3 or 1/2); in a two-sided paired test, that guessing parts the answers as unevenly or more, to
either side. The standards themselves were not read; tables made by these rules and worked examples were.
"""

from __future__ import annotations

from dataclasses import dataclass

from perfumery.binomial import at_least, bounds, least_right
from perfumery.distance import dprime, dprime_u
from perfumery.findings import refuse
from perfumery.methods import (
    DUO_TRIO,
    PAIRED,
    PAIRED_ONE_SIDED,
    THREE_AFC,
    TRIANGLE,
    Method,
    checked_alpha,
    checked_count,
    method_of,
)


@dataclass(frozen=True, slots=True)
class Discrimination:
    """What one test says. Every figure is a number without unit.

    `test` its method, `right` of `n` answers (two-sided paired: those that chose the one asked about), `alpha` the risk taken.
    `p` exact; `needed` the fewest right answers for p ≤ alpha, None where even n of n would not do (two-sided: the fewest that
    must agree). `share` right / n with its bounds `share_low`, `share_high`; `discriminators` the share that truly told, guesses
    taken off, with bounds. `dprime` with its bounds `low`, `high` and by the delta method its standard uncertainty `u`; infinite
    where it cannot be known. Bounds are exact, at the `level` that fits the test: 1 − 2 alpha, two-sided 1 − alpha. So a low
    bound of d′ above 0 and p < alpha say the same. In a two-sided test d′ and discriminators are below 0 where the other one was
    chosen more often.
    """

    test: str
    right: int
    n: int
    alpha: float
    p: float
    needed: int | None
    share: float
    share_low: float
    share_high: float
    discriminators: float
    discriminators_low: float
    discriminators_high: float
    dprime: float
    low: float
    high: float
    u: float
    level: float

    @property
    def is_significant(self) -> bool:
        """Whether they can be told apart, at the risk alpha."""
        return self.p <= self.alpha


def triangle(right: int, n: int, *, alpha: float = 0.05) -> Discrimination:
    """`right` answers of n triangles (1..1000); always one-sided, guessing is right 1 in 3 times.

    Raises Refused `answers-range`, `right-range`, `alpha-range` (alpha must be more than 0 and less than 0.5).
    """
    return discriminate(TRIANGLE, right, n, alpha=alpha)


def duo_trio(right: int, n: int, *, alpha: float = 0.05) -> Discrimination:
    """`right` answers of n duo-trio tests; always one-sided, guessing is right every second time. Raises as `triangle`."""
    return discriminate(DUO_TRIO, right, n, alpha=alpha)


def paired(chosen: int, n: int, *, alpha: float = 0.05, two_sided: bool = True) -> Discrimination:
    """How often one of two was chosen in n pairs.

    Two-sided (usual): nobody knew beforehand which one it would be, so p counts partings to either side. One-sided: only this
    one could be the right answer, and that was fixed before the first strip; `chosen` counts those. Raises as `triangle`.
    """
    return discriminate(PAIRED if two_sided else PAIRED_ONE_SIDED, chosen, n, alpha=alpha)


def three_afc(right: int, n: int, *, alpha: float = 0.05) -> Discrimination:
    """`right` answers of n times naming the strongest of three; one-sided, guessed as a triangle. Raises as `triangle`."""
    return discriminate(THREE_AFC, right, n, alpha=alpha)


def discriminate(test: str, right: int, n: int, *, alpha: float = 0.05) -> Discrimination:
    """The test of that name (a key of `methods.METHODS`). Raises as `triangle`, and Refused `kind-unknown`."""
    method = method_of(test)
    checked_alpha(alpha)
    if not 0 <= right <= checked_count(n):
        raise refuse("right-range", right=right, n=n)
    share, tail = right / n, alpha / 2 if method.is_two_sided else alpha
    low, high = bounds(right, n, tail)
    return Discrimination(
        test, right, n, alpha, p=chance_of(test, right, n), needed=needed(n, alpha, test),
        share=share, share_low=low, share_high=high,
        discriminators=beyond_chance(method, share),
        discriminators_low=beyond_chance(method, low), discriminators_high=beyond_chance(method, high),
        dprime=dprime(test, share), low=dprime(test, low), high=dprime(test, high), u=dprime_u(test, share, n),
        level=1 - 2 * tail,
    )  # fmt: skip


def chance_of(test: str, right: int, n: int) -> float:
    """The exact probability p that guessing does as well: one tail, or both in a two-sided test."""
    method = method_of(test)
    if method.is_two_sided:
        return min(1.0, 2 * at_least(max(right, n - right), n, method.chance))
    return at_least(right, n, method.chance)


def needed(n: int, alpha: float, test: str) -> int | None:
    """The fewest right answers of n for p ≤ alpha (two-sided: the fewest that agree); None where n of n is not enough.

    `test` is "triangle", "duo-trio", "paired" (two-sided), "paired one-sided" or "3-AFC". Raises Refused `kind-unknown`,
    `answers-range`, `alpha-range`.
    """
    method = method_of(test)
    checked_alpha(alpha)
    return least_right(checked_count(n), alpha / 2 if method.is_two_sided else alpha, method.chance)


def beyond_chance(method: Method, share: float) -> float:
    """The share that truly told, guesses taken off (Abbott's formula, from memory): (share − chance) / (1 − chance), at least
    0; with its sign in a two-sided test."""
    chance = float(method.chance)
    told = (share - chance) / (1 - chance)
    return told if method.is_two_sided else max(told, 0.0)
