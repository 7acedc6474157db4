# SPDX-License-Identifier: MIT
"""How many answers a test must have to notice a difference of a given size.

The power of a test is the probability that so large a difference brings the right answers it needs (exact binomial). It does not
rise smoothly: with one more answer, one more may be needed right. The fewest answers are the first number that reaches the power,
as sample sizes for exact tests are commonly stated; a slightly larger number may fall just below it again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from perfumery.binomial import at_least, at_most, exactly
from perfumery.discrimination import beyond_chance, chance_of, needed
from perfumery.distance import dprime as distance_of
from perfumery.distance import share_right
from perfumery.findings import refuse
from perfumery.methods import MOST_ANSWERS, Method, checked_alpha, method_of, shown


@dataclass(frozen=True, slots=True)
class Effort:
    """A test to be made: `n` answers of which `needed` must be right (or agree); `alpha` the true risk of calling chance a
    difference, at most the one asked for; `power` the true probability to notice a difference that gives `share` right answers,
    that is `discriminators` who truly tell, or the distance `dprime`."""

    test: str
    n: int
    needed: int
    alpha: float
    power: float
    share: float
    discriminators: float
    dprime: float


def power(test: str, n: int, share: float, *, alpha: float = 0.05) -> float:
    """The probability (0..1) that n answers are significant when each is right with probability `share` (0..1).

    Raises Refused `share-range` and those of `needed`.
    """
    if not 0 <= share <= 1:
        raise refuse("share-range", share=shown(share))
    least = needed(n, alpha, test)
    if least is None:
        return 0.0
    either = at_most(n - least, n, share) if method_of(test).is_two_sided else 0.0
    return at_least(least, n, share) + either


def trials(
    test: str, *, discriminators: float | None = None, dprime: float | None = None,
    alpha: float = 0.05, power: float = 0.8, block: int = 1,
) -> Effort:  # fmt: skip
    """The fewest answers at which a difference of that size is noticed with the probability `power`.

    The difference is either the share of `discriminators` who truly tell (0..1) or a distance `dprime`; both more than 0. Only
    multiples of `block` are taken, so that every order is served equally often (triangle 6: `len(METHODS[test].orders)`).
    Raises Refused `effect-form`, `effect-range`, `alpha-range`, `power-range`, `kind-unknown`, and `effect-too-small` where more
    than 1000 answers would be needed.
    """
    method = method_of(test)
    checked_alpha(alpha)
    if not 0 < power < 1:
        raise refuse("power-range", power=shown(power))
    share = _share_of(method, discriminators, dprime)
    found = _fewest(method, share, alpha, power, max(block, 1))
    if found is None:
        raise refuse("effect-too-small", most=MOST_ANSWERS)
    n, least, reached = found
    distance = distance_of(test, share) if dprime is None else dprime
    return Effort(test, n, least, chance_of(test, least, n), reached, share, beyond_chance(method, share), distance)


def _share_of(method: Method, discriminators: float | None, dprime: float | None) -> float:
    """The share of right answers that the difference gives."""
    if (discriminators is None) == (dprime is None):
        raise refuse("effect-form")
    chance = float(method.chance)
    if discriminators is not None:
        if not 0 < discriminators <= 1:
            raise refuse("effect-range", effect=shown(discriminators))
        return 1.0 if discriminators == 1 else chance + discriminators * (1 - chance)
    assert dprime is not None
    if not (dprime > 0 and math.isfinite(dprime)):
        raise refuse("effect-range", effect=shown(dprime))
    return share_right(method.name, dprime)


def _fewest(method: Method, share: float, alpha: float, power: float, block: int) -> tuple[int, int, float] | None:
    """(answers, right ones needed, power reached), or None beyond MOST_ANSWERS.

    Goes up one answer at a time and carries both tails along, P(X ≥ c) of n + 1 being P(X ≥ c) + chance P(X = c − 1) of n: the
    guesses in whole numbers, so that the risk stays exact.
    """
    hit, miss = method.chance.numerator, method.chance.denominator - method.chance.numerator
    tail_alpha = alpha / 2 if method.is_two_sided else alpha
    least, ways, guessed, all_ways = 1, 1, 0, 1  # ways of guessing least − 1 of n; of least or more; all of them
    noticed = 0.0
    for n in range(1, MOST_ANSWERS + 1):
        noticed += share * exactly(least - 1, n - 1, share)
        guessed = guessed * (hit + miss) + ways * hit
        all_ways *= hit + miss
        ways = math.comb(n, least - 1) * hit ** (least - 1) * miss ** (n - least + 1)
        while guessed / all_ways > tail_alpha:
            noticed -= exactly(least, n, share)
            ways = math.comb(n, least) * hit**least * miss ** (n - least)
            guessed -= ways
            least += 1
        either = at_most(n - least, n, share) if method.is_two_sided and noticed + tail_alpha >= power else 0.0
        if least <= n and n % block == 0 and noticed + either >= power:
            return n, least, noticed + either
    return None
