# SPDX-License-Identifier: MIT
"""The ways a difference is put to the nose, and what each gives to pure guessing.

- triangle: three coded strips, two of them alike; which is the odd one? (ISO 4120)
- duo-trio: a reference and two coded strips; which is the same as the reference? (ISO 10399)
- paired: two coded strips; which has more of a named quality? (ISO 5495) Two-sided when either may be the one, one-sided when the
  right answer was fixed beforehand.
- 3-AFC: three coded strips, two of them alike; which has most of a named quality? Guessed as often as a triangle, but the nose
  decides by another rule: the same share of right answers means a smaller difference.

The tasks are as commonly described; the standards themselves were not read.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from perfumery.findings import refuse

TRIANGLE, DUO_TRIO, PAIRED, PAIRED_ONE_SIDED, THREE_AFC = "triangle", "duo-trio", "paired", "paired one-sided", "3-AFC"
# Answers to one test, and answers a plan may ask for: more is no bench's work, and the sums stay within a frame or two.
MOST_ANSWERS = 1000


@dataclass(frozen=True, slots=True)
class Method:
    """One way of asking. `chance` of a right answer by guessing; `is_two_sided` where either answer may be the one; `orders` in
    which the strips are served, each equally often in a balanced test. In duo-trio the first letter is the reference."""

    name: str
    chance: Fraction
    orders: tuple[str, ...]
    is_two_sided: bool = False


# The six orders of a triangle stand in ISO 4120 (7.1, each once in a group of six); which six, and the others, from memory.
METHODS: Mapping[str, Method] = MappingProxyType(
    {
        method.name: method
        for method in (
            Method(TRIANGLE, Fraction(1, 3), ("AAB", "ABA", "BAA", "BBA", "BAB", "ABB")),
            Method(DUO_TRIO, Fraction(1, 2), ("AAB", "ABA", "BAB", "BBA")),
            Method(PAIRED, Fraction(1, 2), ("AB", "BA"), is_two_sided=True),
            Method(PAIRED_ONE_SIDED, Fraction(1, 2), ("AB", "BA")),
            Method(THREE_AFC, Fraction(1, 3), ("AAB", "ABA", "BAA")),
        )
    }
)


def method_of(test: str) -> Method:
    """The method of a name. Raises Refused `kind-unknown`."""
    if test not in METHODS:
        raise refuse("kind-unknown", kind=test, known=tuple(METHODS))
    return METHODS[test]


def shown(value: float) -> float | None:
    """A figure for the sentence of a refusal; None, which reads as not known, for what is no number."""
    return value if math.isfinite(value) else None


def checked_alpha(alpha: float) -> float:
    """The risk of calling chance a difference, back as it came. Raises Refused `alpha-range` unless it is more than 0 and less
    than one half: a test that may be wrong every second time is none, and its interval would have no inside."""
    if not 0 < alpha < 0.5:
        raise refuse("alpha-range", alpha=shown(alpha))
    return alpha


def checked_count(n: int) -> int:
    """A number of answers, back as it came. Raises Refused `answers-range` unless it is 1…MOST_ANSWERS."""
    if not 1 <= n <= MOST_ANSWERS:
        raise refuse("answers-range", n=n, most=MOST_ANSWERS)
    return n
