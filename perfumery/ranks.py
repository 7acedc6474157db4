# SPDX-License-Identifier: MIT
"""Whether several samples, put in order by several noses or on several days, differ: ranking after ISO 8587.

Friedman's F = 12 / (J P (P + 1)) Σ R² − 3 J (P + 1) for J answers and P samples with rank sums R, divided by
1 − Σ(t³ − t) / (J P (P² − 1)) for ties of t (read in reproductions of ISO 8587 and held to published values). Two samples differ
when their rank sums are least z √(J P (P + 1) / 6) apart, z the two-sided normal quantile, 1.96 at 5 %; asked only where F is
significant (that an equal difference counts is from memory). Page's test for an order that was expected beforehand, a series of
doses, has L = Σ j R with j the expected rank; a normal approximation.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from statistics import NormalDist

from perfumery.binomial import rising
from perfumery.findings import refuse
from perfumery.methods import checked_alpha

# Ranks that an exact distribution may add up: about 0.05 s. Beyond, the chi-square stands in.
_STEPS = 200_000

Ranks = Sequence[Sequence[float]]


@dataclass(frozen=True, slots=True)
class Ranking:
    """What a ranking says. `sums` the rank sum of each sample as given (ties share their mean rank), `answers` how many ranked,
    `statistic` F corrected for ties, `p` the probability of an F as large when there is no difference: exact where `is_exact`,
    else by chi-square with P − 1 degrees of freedom. `needed` the smallest F with p ≤ alpha (None where complete agreement would
    not be enough), `least_difference` of two rank sums, and `apart` the pairs of samples (places from 0) at least so far apart,
    the lower rank sum first; empty unless p ≤ alpha."""

    sums: tuple[float, ...]
    answers: int
    alpha: float
    statistic: float
    p: float
    is_exact: bool
    needed: float | None
    least_difference: float
    apart: tuple[tuple[int, int], ...]

    @property
    def is_significant(self) -> bool:
        """Whether the samples differ at all, at the risk alpha."""
        return self.p <= self.alpha


@dataclass(frozen=True, slots=True)
class Trend:
    """Page's test: `value` is L, `needed` the L from which on the expected order is shown at the risk alpha, `p` the probability
    of an L as large without any order (normal approximation, one-sided)."""

    value: float
    needed: float
    p: float
    alpha: float


def ranking(ranks: Ranks, *, alpha: float = 0.05) -> Ranking:
    """Friedman's test of answers × samples: one row per answer, one figure per sample, the lowest first.

    Only the order within a row counts; equal figures are a tie and share their mean rank, however the tie was written. Exact
    over all orders of each row where that is few enough. Raises Refused `ranks-few` (no row, or fewer than two samples),
    `ranks-missing` (a row of another length, or a figure that is none), `ranks-tied` (a row that ties everything: it says
    nothing), `alpha-range`.
    """
    doubled = _doubled(ranks)
    checked_alpha(alpha)
    answers, samples = len(doubled), len(doubled[0])
    sums = tuple(math.fsum(column) / 2 for column in zip(*doubled, strict=True))
    value = friedman(sums, answers, ties(doubled))
    spread = _spread([int(2 * each) for each in sums])
    counts = _distribution(doubled)
    if counts is None:
        p = chi_square_tail(value, samples - 1)
        needed: float | None = chi_square_limit(alpha, samples - 1)
    else:
        total = sum(counts.values())
        p = sum(ways for each, ways in counts.items() if each >= spread) / total
        least = _least(counts, total, alpha)
        # F is zero where all rank sums are equal and rises straight with the sum of squares
        even = answers * answers * samples * (samples + 1) ** 2
        slope = 3 / (answers * samples * (samples + 1)) / _untied(answers, samples, ties(doubled))
        needed = None if least is None else slope * (least - even)
    reach = least_difference(answers, samples, alpha)
    apart = tuple((i, j) for i, j in _by_sum(sums) if p <= alpha and sums[j] - sums[i] >= reach)
    return Ranking(sums, answers, alpha, value, p, counts is not None, needed, reach, apart)


def trend(ranks: Ranks, *, alpha: float = 0.05) -> Trend:
    """Page's test that the samples stand in the order given, the lowest ranks first. Raises as `ranking`."""
    doubled = _doubled(ranks)
    checked_alpha(alpha)
    answers, samples = len(doubled), len(doubled[0])
    value = math.fsum(place * each / 2 for row in doubled for place, each in enumerate(row, 1))
    mean = answers * samples * (samples + 1) ** 2 / 4
    # the variance over all orders of each row: with ties it is smaller
    own = math.fsum((each / 2 - (samples + 1) / 2) ** 2 for row in doubled for each in row)
    deviation = math.sqrt(own * samples * (samples + 1) / 12)
    normal = NormalDist()
    return Trend(value, mean + normal.inv_cdf(1 - alpha) * deviation, normal.cdf((mean - value) / deviation), alpha)


def friedman(sums: Sequence[float], answers: int, tied: int = 0) -> float:
    """Friedman's F from rank sums; `tied` is Σ(t³ − t) over all ties of all rows."""
    samples = len(sums)
    even = answers * (samples + 1) / 2
    plain = 12 / (answers * samples * (samples + 1)) * math.fsum((each - even) ** 2 for each in sums)
    return plain / _untied(answers, samples, tied)


def ties(rows: Ranks) -> int:
    """Σ(t³ − t) over all groups of t equal figures of each row."""
    return sum(count**3 - count for row in rows for count in Counter(row).values())


def least_difference(answers: int, samples: int, alpha: float = 0.05) -> float:
    """The difference of two rank sums from which on two samples differ: z √(J P (P + 1) / 6)."""
    return NormalDist().inv_cdf(1 - checked_alpha(alpha) / 2) * math.sqrt(answers * samples * (samples + 1) / 6)


def chi_square_tail(value: float, df: int) -> float:
    """Probability of a chi-square of df degrees of freedom at least this large, by its finite sum for whole df."""
    half = value / 2
    if half <= 0:
        return 1.0
    if df % 2 == 0:
        return math.fsum(math.exp(-half + i * math.log(half) - math.lgamma(i + 1)) for i in range(df // 2))
    more = (math.exp(-half + (i - 0.5) * math.log(half) - math.lgamma(i + 0.5)) for i in range(1, (df + 1) // 2))
    return math.erfc(math.sqrt(half)) + math.fsum(more)


def chi_square_limit(alpha: float, df: int) -> float:
    """The chi-square that is reached with probability alpha."""
    density = lambda x: math.exp((df / 2 - 1) * math.log(x) - x / 2 - math.lgamma(df / 2) - df / 2 * math.log(2))
    return rising(lambda x: -chi_square_tail(x, df), density, -alpha, 0.0, 20.0 * df + 1500.0)


def _untied(answers: int, samples: int, tied: int) -> float:
    return 1 - tied / (answers * samples * (samples * samples - 1))


def _doubled(ranks: Ranks) -> list[tuple[int, ...]]:
    """Every row as twice its ranks, whole numbers even where ties share a half."""
    samples = max((len(row) for row in ranks), default=0)
    if samples < 2:
        raise refuse("ranks-few")
    rows = []
    for number, row in enumerate(ranks, 1):
        readable = sum(math.isfinite(each) for each in row)
        if readable < samples:
            raise refuse("ranks-missing", row=number, count=readable, samples=samples)
        if len(set(row)) == 1:
            raise refuse("ranks-tied", row=number)
        rows.append(tuple(2 * sum(other < each for other in row) + sum(other == each for other in row) + 1 for each in row))
    return rows


def _by_sum(sums: Sequence[float]) -> Iterator[tuple[int, int]]:
    """Every pair of places, the one with the lower sum first."""
    return combinations(sorted(range(len(sums)), key=lambda place: sums[place]), 2)


def _spread(doubled_sums: Sequence[int]) -> int:
    return sum(each * each for each in doubled_sums)


def _least(counts: Counter[int], total: int, alpha: float) -> int | None:
    """The smallest sum of squares that chance reaches with probability alpha at most."""
    ways, least = 0, None
    for each in sorted(counts, reverse=True):
        ways += counts[each]
        if ways / total > alpha:
            break
        least = each
    return least


def _orders(row: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Every order of a row once, however much of it is tied."""
    if not row:
        yield ()
    for place, each in enumerate(row):
        if each not in row[:place]:
            yield from ((each, *others) for others in _orders((*row[:place], *row[place + 1 :])))


def _distribution(rows: Sequence[tuple[int, ...]]) -> Counter[int] | None:
    """{Σ(2R)²: ways} over all orders of each row but the first, which may stand still; None where that takes too long.

    Samples are alike when there is no difference, so rank sums are carried along sorted: that keeps them few.
    """
    orders = [math.factorial(len(row)) // math.prod(map(math.factorial, Counter(row).values())) for row in rows]
    # in an order of their own, so that the same answers in another order take the same steps
    (_, first), *rest = sorted(zip(orders, (tuple(sorted(row)) for row in rows), strict=True), reverse=True)
    states, steps = Counter({first: 1}), 0
    for each, row in rest:
        steps += len(states) * each * len(row)
        if steps > _STEPS:
            return None
        ways = tuple(_orders(row))
        following: Counter[tuple[int, ...]] = Counter()
        for state, count in states.items():
            for way in ways:
                following[tuple(sorted(map(int.__add__, state, way)))] += count
        states = following
    spreads: Counter[int] = Counter()
    for state, count in states.items():
        spreads[_spread(state)] += count
    return spreads
