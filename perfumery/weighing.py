# SPDX-License-Identifier: MIT
"""What a balance can tell apart.

Standard uncertainty of a net mass: max(s, 0.41 d), s the repeatability of net weighings, 0.41 d the floor of USP <41>
(d ÷ √6 ≈ 0.41 d: two readings, each rounded to d); with a stated accuracy a also √(u² + a²/3).
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from perfumery.findings import Finding, refuse
from perfumery.values import Balance

FLOOR_OF_D = 0.41
K = 2
LEAST_READINGS = 5


def net_u(balance: Balance) -> float:
    """Standard uncertainty of one net weighing, g."""
    u = max(balance.s_g or 0.0, FLOOR_OF_D * balance.d_g)
    return u if balance.accuracy_g is None else math.hypot(u, balance.accuracy_g / math.sqrt(3))


def found_u(balance: Balance) -> float:
    """Standard uncertainty of a net mass from a gross weighing now and a tare from another day, g: √2 of one weighing's."""
    return math.sqrt(2) * net_u(balance)


def readable(mass_g: float, balance: Balance | None) -> list[Finding]:
    """Says of a mass that it is less than the balance's smallest step."""
    if balance is None or mass_g == 0 or mass_g >= balance.d_g:
        return []
    return [Finding("below-readability", {"mass_g": mass_g, "d_g": balance.d_g})]


@dataclass(frozen=True, slots=True)
class LineError:
    """What a balance leaves open of one mass: standard and expanded (k = 2) uncertainty in g, and that relative to the mass."""

    u_g: float
    expanded_g: float
    relative: float


def repeatability(readings_g: Sequence[float]) -> float:
    """Sample standard deviation (n − 1) of readings of one weight, each zeroed before it, g.

    Raises Refused `too-few-readings` for less than five: so few say nothing of a spread.
    """
    if len(readings_g) < LEAST_READINGS:
        raise refuse("too-few-readings", count=len(readings_g), least=LEAST_READINGS)
    return statistics.stdev(readings_g)


def line_error(mass_g: float, balance: Balance) -> LineError:
    """The error of one net mass on a balance. Raises Refused `mass-not-positive`."""
    if not mass_g > 0:
        raise refuse("mass-not-positive", mass_g=mass_g)
    u = net_u(balance)
    return LineError(u, K * u, K * u / mass_g)


def least_weight(balance: Balance, tolerance: float) -> float:
    """g from which on a net mass is right within a relative tolerance at k = 2: 2·u ÷ tolerance (USP <41> takes 0.10 %)."""
    return K * net_u(balance) / tolerance


def smallest_amount(shares: Iterable[float], balance: Balance, tolerance: float) -> float | None:
    """g of a formula whose smallest share (0..1) reaches the least weight; None where there is none."""
    smallest = min((share for share in shares if share > 0), default=None)
    return None if smallest is None else least_weight(balance, tolerance) / smallest


def largest_amount(needs: Iterable[tuple[int, float, float]], d_g: float, reserve_g: float = 0.0) -> tuple[float, int] | None:
    """(g of a formula that what is on hand gives at most, rounded down to d; the bottle that holds it back) from (bottle, g left,
    share drawn from it) of every line; shares of one bottle are added. None where nothing is drawn from a known bottle."""
    drawn: dict[int, tuple[float, list[float]]] = {}
    for bottle, left_g, share in needs:
        drawn.setdefault(bottle, (left_g, []))[1].append(share)
    most = {
        bottle: max(left_g - reserve_g, 0.0) / math.fsum(shares)
        for bottle, (left_g, shares) in drawn.items()
        if math.fsum(shares) > 0
    }
    if not most:
        return None
    limiting = min(most, key=lambda bottle: most[bottle])
    # a hair of a float must not take a whole step away
    return math.floor(most[limiting] / d_g + 1e-9) * d_g, limiting


def stop_at(in_vessel_g: float, target_g: float) -> float:
    """What a balance that runs on shows when a line is in: what is in already, not the sum of targets, plus the target."""
    return in_vessel_g + target_g


def missed_tare(shown_g: float, target_g: float, in_vessel_g: float, tolerance: float) -> float | None:
    """The mass of a line, if the balance was not tared before it: what it showed less what was in the vessel. None where the
    figure is within the relative tolerance of its target as it stands, or is not with that taken off either."""
    less = round(shown_g - in_vessel_g, 9)
    open_g = tolerance * target_g + 1e-12
    return less if abs(shown_g - target_g) > open_g >= abs(less - target_g) else None


def share_errors(masses_g: Sequence[float], u_g: float | Sequence[float], *, running_total: bool = False) -> tuple[float, ...]:
    """Expanded uncertainty (k = 2) of every share p = m ÷ M of a trial, from the uncertainty of each net mass.

    Tared before each line the masses are independent: u(p)² = ((1 − p)²·u² + p²·Σ others' u²) ÷ M². With a running total
    neighbouring lines share a reading, one taking from the other what it gives it: cov(mᵢ, mᵢ₊₁) = −u(reading)², u(mass)² being
    twice that; the total is the last reading less the first.
    """
    n = len(masses_g)
    u = [float(u_g)] * n if isinstance(u_g, (int, float)) else [float(each) for each in u_g]
    total = math.fsum(masses_g)
    found = []
    for place, mass in enumerate(masses_g):
        share = mass / total
        slopes = [((1.0 if other == place else 0.0) - share) / total for other in range(n)]
        if not running_total:
            variance = math.fsum((slope * each) ** 2 for slope, each in zip(slopes, u, strict=True))
        else:
            # reading j stands at the end of line j and at the beginning of line j + 1
            readings = [each / math.sqrt(2) for each in (u[0], *u)]
            by_reading = [(slopes[j - 1] if j > 0 else 0.0) - (slopes[j] if j < n else 0.0) for j in range(n + 1)]
            variance = math.fsum((slope * each) ** 2 for slope, each in zip(by_reading, readings, strict=True))
        found.append(K * math.sqrt(variance))
    return tuple(found)
