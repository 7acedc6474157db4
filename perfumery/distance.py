# SPDX-License-Identifier: MIT
"""d′: how far two smells lie apart on one scale for all methods, from the share of right answers.

d′ is a distance in standard deviations of what one nose perceives of one smell from strip to strip (Thurstone). Which share of
right answers it gives depends on the rule by which a method is answered; the psychometric functions are those of Ennis (1993,
J. Sensory Studies 8) and Bi (2006, Sensory Discrimination Tests and Measurements), written from memory and held by tests to
their published values:

- paired (2-AFC, the stronger of two): Φ(d/√2)
- duo-trio (the one nearer to the reference): 1 − Φ(d/√2) − Φ(d/√6) + 2 Φ(d/√2) Φ(d/√6)
- 3-AFC (the strongest of three): ∫ φ(z − d) Φ(z)² dz
- triangle (the two nearest are the pair): 2 ∫₀^∞ [Φ(−z√3 + d√(2/3)) + Φ(−z√3 − d√(2/3))] φ(z) dz. Its slope in d is
  exp(−d²/12) erf(d/2) / √(3π), so it is 1 − (2/π) ∫₀^{π/3} exp(−d²/(12 cos²θ)) dθ (our own rearrangement; a test holds both
  forms together), which needs no cut-off.
"""

from __future__ import annotations

import math

from perfumery.binomial import rising
from perfumery.findings import refuse
from perfumery.methods import DUO_TRIO, THREE_AFC, TRIANGLE, checked_count, method_of, shown

# At this distance every method's share is 1 in floats.
_FARTHEST = 60.0
# Slices of the triangle's angle, a multiple of four, and their weights: within 1e-13 at any distance. The steps of 3-AFC, so many
# to either side: within 1e-15.
_SLICES = 256
_WEIGHTS = (14, 32, 12, 32)
_STEP, _REACH = 0.25, 40


def share_right(test: str, dprime: float) -> float:
    """Share of right answers (0..1) that a method gives at a distance d′: its psychometric function.

    d′ is 0 or more; in a two-sided paired test it has a sign. Raises Refused `dprime-range`, `kind-unknown`.
    """
    method = method_of(test)
    if math.isnan(dprime) or (dprime < 0 and not method.is_two_sided):
        raise refuse("dprime-range", dprime=shown(dprime))
    if dprime == 0:
        return float(method.chance)
    if test == TRIANGLE:
        return _triangle(dprime)
    if test == THREE_AFC:
        return _three_afc(dprime)
    half, sixth = _normal(dprime / math.sqrt(2)), _normal(dprime / math.sqrt(6))
    return 1 - half - sixth + 2 * half * sixth if test == DUO_TRIO else half


def slope(test: str, dprime: float) -> float:
    """How fast the share of right answers rises with d′ there, per unit of d′."""
    a, b = dprime / math.sqrt(2), dprime / math.sqrt(6)
    if test == TRIANGLE:
        return math.exp(-dprime * dprime / 12) * math.erf(dprime / 2) / math.sqrt(3 * math.pi)
    if test == THREE_AFC:
        return math.sqrt(2) * _density(a) * _normal(b)
    if test == DUO_TRIO:
        return _density(a) / math.sqrt(2) * (2 * _normal(b) - 1) + _density(b) / math.sqrt(6) * (2 * _normal(a) - 1)
    return _density(a) / math.sqrt(2)


def dprime(test: str, share: float) -> float:
    """The distance d′ at which a method gives this share of right answers (0..1); infinite where all are right.

    A share no better than guessing gives 0; in a two-sided paired test a share below one half gives a distance below zero: the
    other one has more. Raises Refused `share-range`, `kind-unknown`.
    """
    method = method_of(test)
    if not 0 <= share <= 1:
        raise refuse("share-range", share=shown(share))
    if method.is_two_sided and share < 0.5:
        return -dprime(test, 1 - share)
    if share <= method.chance:
        return 0.0
    if share == 1:
        return math.inf
    return rising(lambda d: share_right(test, d), lambda d: slope(test, d), share, 0.0, _FARTHEST)


def dprime_u(test: str, share: float, n: int) -> float:
    """Standard uncertainty of d′ from n answers, by the delta method: √(share (1 − share) / n) over the slope.

    Infinite where the share is 0 or 1, or the slope is nothing: there only the bounds say how far d′ is known.
    """
    distance = dprime(test, share)
    spread = math.sqrt(share * (1 - share) / checked_count(n))
    steep = slope(test, distance) if math.isfinite(distance) else 0.0
    return spread / steep if steep > 0 and spread > 0 else math.inf


def _triangle(d: float) -> float:
    """By Boole's rule over the angle; the missing share is summed, so it stays exact where nearly all are right."""
    width = math.pi / 3 / _SLICES
    pieces = (
        (7 if place in (0, _SLICES) else _WEIGHTS[place % 4]) * math.exp(-d * d / (12 * math.cos(place * width) ** 2))
        for place in range(_SLICES + 1)
    )
    return 1 - 2 / math.pi * 2 * width / 45 * math.fsum(pieces)


def _three_afc(d: float) -> float:
    """By equal steps over the whole line, which are exact for so smooth a hump; of what is missing to 1."""
    places = (_STEP * step for step in range(-_REACH, _REACH + 1))
    if math.isinf(d):
        return 1.0
    return 1 - _STEP * math.fsum(_density(z) * _normal(-z - d) * (1 + _normal(z + d)) for z in places)


def _normal(z: float) -> float:
    return math.erfc(-z / math.sqrt(2)) / 2


def _density(z: float) -> float:
    return math.exp(-z * z / 2) / math.sqrt(2 * math.pi)
