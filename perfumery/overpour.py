# SPDX-License-Identifier: MIT
"""What can be done about a figure that is off, over or under: leave it, bring the others to it, complete it, add to as few as
will do, or throw it away.

Each answer says what it costs in grams, money and further weighings, how many of those are below what the balance can weigh, and
how far the worst share stays off. The fewest additions come from a small mixed-integer programme (scipy's HiGHS).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from perfumery.findings import refuse
from perfumery.values import Balance
from perfumery.weighing import least_weight

KEEP, COMPLETE, SCALE, TOP_UP, DISCARD = "keep", "complete", "scale", "top up", "discard"
# A share this much nearer to its limit than the limit is inside it: sums of floats are not the perfumer's fault.
_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Cure:
    """One answer. `additions` {place of the line: g to add} over what is in, or over what is still to come, of which less comes
    where negative; `weighings` further ones that this takes, `too_small` of them below the least weight; `extra_g` and
    `extra_cost` over what was meant, `worst` the largest relative deviation of a share that stays. `is_worth` is False for a
    cure worse than the fault: weighings that are too small, or every other line that is in weighed once more."""

    kind: str
    total_g: float
    additions: Mapping[int, float] = field(default_factory=dict)
    weighings: int = 0
    too_small: int = 0
    extra_g: float = 0.0
    extra_cost: float | None = None
    worst: float = 0.0
    is_worth: bool = True


def cures(
    targets_g: Sequence[float], in_vessel_g: Sequence[float], place: int, balance: Balance, tolerance: float,
    prices: Sequence[float | None] | None = None, *, to_come_g: Sequence[float] | None = None, search: bool = True,
) -> tuple[Cure, ...]:  # fmt: skip
    """The answers to the figure at `place`: targets and what is in the vessel by line, g. `to_come_g` is what will be weighed
    anyway; without it the target of every line of which nothing is in.

    `tolerance` is the relative deviation of a share that is allowed; `prices` are per g by line. Keep and discard always stand.
    Complete adds what the line lacks. Scale brings all to the figure: up where more than its target is in; down where less is,
    and only where nothing else is in above its target scaled down. Top up stands only where additions that can be weighed bring
    every share within the tolerance, and where it is searched for (the first search imports scipy, which takes a moment). Raises
    Refused `mass-not-positive` for targets that are none.
    """
    if not all(target > 0 for target in targets_g):
        raise refuse("mass-not-positive", mass_g=min(targets_g, default=0.0))
    meant = math.fsum(targets_g)
    shares = [target / meant for target in targets_g]
    coming = to_come_g or [0.0 if held > 0 else target for held, target in zip(in_vessel_g, targets_g, strict=True)]
    base = [held + more for held, more in zip(in_vessel_g, coming, strict=True)]
    least = least_weight(balance, tolerance)

    def answer(kind: str, additions: Mapping[int, float]) -> Cure:
        final = [mass + additions.get(at, 0.0) for at, mass in enumerate(base)]
        total = math.fsum(final)
        again = [added for at, added in additions.items() if not coming[at] > 0]
        worst = max(abs(mass / total / share - 1) for mass, share in zip(final, shares, strict=True)) if total else 1.0
        small = sum(mass < least * (1 - _SLACK) for mass in again)
        # who weighs every other line once more might as well begin again
        over_again = kind == TOP_UP and len(again) > 1 and len(again) >= sum(held > 0 for held in in_vessel_g) - 1
        return Cure(
            kind, total, dict(additions), len(again), small, math.fsum(additions.values()), _cost(additions, prices), worst,
            is_worth=small == 0 and not over_again,
        )  # fmt: skip

    kept = answer(KEEP, {})
    found = [kept]
    lacking = targets_g[place] - base[place]
    if lacking > _SLACK * meant:
        found.append(answer(COMPLETE, {place: lacking}))
    factor = base[place] / targets_g[place]
    wanted = {at: target * factor - base[at] for at, target in enumerate(targets_g) if at != place}
    # what is in cannot be taken out again, what is still to come can be less
    fits = all(added >= -coming[at] - _SLACK * meant for at, added in wanted.items())
    if factor > 1 + _SLACK or (0 < factor < 1 - _SLACK and fits):
        kept_over = {at: max(added, -coming[at]) for at, added in wanted.items()}
        found.append(answer(SCALE, {at: added for at, added in kept_over.items() if abs(added) > _SLACK * meant}))
    if search and kept.worst > tolerance * (1 + _SLACK):
        fewest = _fewest(base, coming, shares, tolerance, least, prices)
        if fewest is not None:
            found.append(answer(TOP_UP, fewest))
    wasted = dict(enumerate(in_vessel_g))
    thrown = replace(kept, kind=DISCARD, extra_g=math.fsum(in_vessel_g), extra_cost=_cost(wasted, prices))
    return (*found, thrown)


def _cost(masses: Mapping[int, float], prices: Sequence[float | None] | None) -> float | None:
    """What these cost; None where a price that counts is not known."""
    if prices is None:
        return None
    each = [(mass, prices[at]) for at, mass in masses.items() if mass]
    known = [mass * price for mass, price in each if price is not None]
    return math.fsum(known) if len(known) == len(each) else None


def _fewest(
    base: Sequence[float], coming: Sequence[float], shares: Sequence[float], tolerance: float, least: float,
    prices: Sequence[float | None] | None,
) -> dict[int, float] | None:  # fmt: skip
    """{line: g} of the fewest additions, then the cheapest of those, that bring every share within the tolerance; None where
    there are none. A line still to come takes more at no further weighing; any other needs a weighing of its own."""
    import numpy as np  # only who asks for it pays for reading it
    from scipy.optimize import Bounds, LinearConstraint, milp  # type: ignore[import-untyped]

    n = len(base)
    mass, share = np.asarray(base), np.asarray(shares)
    again = np.asarray([not more > 0 for more in coming])
    most = 10 * float(mass.sum())
    # unknowns: g added to each line, and whether a line that is in is weighed again
    within = np.eye(n) - np.outer((1 + tolerance) * share, np.ones(n))
    beyond = np.outer((1 - tolerance) * share, np.ones(n)) - np.eye(n)
    rows = [
        LinearConstraint(np.hstack([within, np.zeros((n, n))]), ub=-(within @ mass)),
        LinearConstraint(np.hstack([beyond, np.zeros((n, n))]), ub=-(beyond @ mass)),
        LinearConstraint(np.hstack([np.eye(n), -most * np.eye(n)]), ub=np.where(again, 0.0, most)),
        LinearConstraint(np.hstack([np.eye(n), -least * np.eye(n)]), lb=np.zeros(n)),
    ]
    bounds = Bounds(np.zeros(2 * n), np.concatenate([np.full(n, most), np.where(again, 1.0, 0.0)]))
    whole = np.concatenate([np.zeros(n), np.ones(n)])
    count = np.concatenate([np.zeros(n), np.ones(n)])
    first = milp(count, constraints=rows, bounds=bounds, integrality=whole)
    if first.x is None:
        return None
    rows.append(LinearConstraint(count[None, :], ub=[round(float(first.fun)) + 0.5]))
    each = [1.0 if prices is None or price is None else max(price, 1e-6) for price in (prices or [None] * n)]
    cheapest = milp(np.concatenate([each, np.zeros(n)]), constraints=rows, bounds=bounds, integrality=whole)
    added = first.x if cheapest.x is None else cheapest.x
    return {at: float(round(added[at], 9)) for at in range(n) if added[at] > 1e-7}
