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
# Mass fractions that stocks are usually made at, the strongest first.
USUAL_STRENGTHS = (0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 0.0005, 0.0001)


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


@dataclass(frozen=True, slots=True)
class Remedy:
    """What would lift a line over the least weight. `kind` one of the three below; `amount_g` of the whole and `mass_g` of the
    line with it; `extra_cost` of a larger amount, None where no price is known; `strength` of a weaker dilution, `factor` times
    weaker than what stands there; `balance` another one."""

    kind: str
    amount_g: float
    mass_g: float
    extra_cost: float | None = None
    factor: float = 1.0
    strength: float | None = None
    balance: Balance | None = None


LARGER, WEAKER, OTHER = "larger amount", "weaker dilution", "another balance"


def remedies(
    mass_g: float, share: float, amount_g: float, strength: float, balance: Balance, others: Iterable[Balance],
    tolerance: float, price_per_g: float | None = None,
) -> tuple[Remedy, ...]:  # fmt: skip
    """What can be done about a line under the least weight: a line of `mass_g`, `share` (0..1) of `amount_g`, from a stock of
    `strength`; nothing for one that is not under it.

    A larger amount always helps, unless the balance cannot carry it. A dilution so much weaker, rounded down to a usual strength,
    is left out where its line would be more than the whole. Another balance is the first of those given, not retired, that
    weighs so little and carries the amount. Raises Refused `mass-not-positive` or `strength-range`.
    """
    if not (mass_g > 0 and share > 0 and amount_g > 0):
        raise refuse("mass-not-positive", mass_g=min(mass_g, share, amount_g))
    if not 0 < strength <= 1:
        raise refuse("strength-range", percent=strength * 100)
    least = least_weight(balance, tolerance)
    if _reaches(mass_g, least):
        return ()
    found = []
    larger = least / share
    if _carries(balance, larger):
        cost = None if price_per_g is None else price_per_g * (larger - amount_g)
        found.append(Remedy(LARGER, larger, least, cost))
    usual = next((each for each in USUAL_STRENGTHS if _reaches(mass_g * strength / each, least)), None)
    if usual is not None and mass_g * strength / usual <= amount_g:
        found.append(Remedy(WEAKER, amount_g, mass_g * strength / usual, factor=strength / usual, strength=usual))
    fits = (
        each for each in others
        if each.retired_on is None and _reaches(mass_g, least_weight(each, tolerance)) and _carries(each, amount_g)
    )  # fmt: skip
    other = next(fits, None)
    if other is not None:
        found.append(Remedy(OTHER, amount_g, mass_g, balance=other))
    return tuple(found)


def _reaches(mass_g: float, least_g: float) -> bool:
    """Whether a mass is at the least weight; a hair of a float does not count."""
    return mass_g >= least_g * (1 - 1e-9)


def _carries(balance: Balance, mass_g: float) -> bool:
    return balance.max_g is None or mass_g <= balance.max_g


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
