# SPDX-License-Identifier: MIT
"""Samples put before the nose fairly: in which order, and under which three-digit codes.

Place and predecessor both colour what is smelled, so orders are balanced for both: Williams (1949), "Experimental designs
balanced for the estimation of residual effects of treatments", Australian Journal of Scientific Research A 2; used for tasting
and smelling since MacFie et al. (1989), Journal of Sensory Studies 4. Neither paper was read: both are named from memory; the
orders equal those of a published algorithm, and their balance is checked.
"""

from __future__ import annotations

from collections.abc import Iterable
from random import Random

from perfumery.findings import refuse

FEWEST_SAMPLES, MOST_SAMPLES = 2, 8


def williams(samples: int) -> tuple[tuple[int, ...], ...]:
    """Balanced orders of so many samples (2..8), numbered from 0: one row for each sitting or nose.

    Over all rows every sample stands equally often in every place and is followed equally often by each other one. An even
    number of samples takes as many rows, an odd one twice as many. Raises Refused `serving-range`.
    """
    if not FEWEST_SAMPLES <= samples <= MOST_SAMPLES:
        raise refuse("serving-range", samples=samples, fewest=FEWEST_SAMPLES, most=MOST_SAMPLES)
    # 0, 1, n−1, 2, n−2, …: neighbours differ by each step once, so that shifting the row meets every pair
    first = [(place + 1) // 2 if place % 2 else -(place // 2) for place in range(samples)]
    rows = tuple(tuple((sample + shift) % samples for sample in first) for shift in range(samples))
    return rows if samples % 2 == 0 else rows + tuple(row[::-1] for row in rows)


def blind_codes(count: int, rng: Random, taken: Iterable[str] = ()) -> tuple[str, ...]:
    """So many three-digit codes, all different and none of those `taken` lately; the same ones for the same `rng`.

    Raises Refused `blind-codes-short` where too many are taken.
    """
    used = set(taken)
    free = [code for code in _codes() if code not in used]
    if count > len(free):
        raise refuse("blind-codes-short", count=count, left=len(free))
    return tuple(rng.sample(free, max(count, 0)))


def _codes() -> list[str]:
    """100..999 without what catches the eye and so hints: a digit twice (100, 111, 242), a run (123, 321). Our own choice."""
    codes = (str(number) for number in range(100, 1000))
    return [code for code in codes if len(set(code)) == 3 and not _is_run(code)]


def _is_run(code: str) -> bool:
    first, second, third = map(int, code)
    return second - first == third - second and abs(second - first) == 1
