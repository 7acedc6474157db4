# SPDX-License-Identifier: MIT
"""What was noticed of a plan before the first drop: what the shelf holds of it, and what is too small for the balance."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import ROUND_CEILING, Decimal

from db import Book, BottleRow
from desktop.language import tr
from desktop.models.plan_basis import Basis
from desktop.models.weigh import Plan, PlanRow, plan_of
from perfumery import Balance, Finding, largest_amount, least_weight, line_error
from perfumery.weaker import Weaker, weaker_stock
from perfumery.weighing import net_u, smallest_amount

WHOLE, OPENED = "whole", "opened"
SUGGESTED, LAST, WRITTEN, OWN = "suggested", "as last time", "as written", "own"
ORDERS = {SUGGESTED: tr("suggested"), LAST: tr("as last time"), WRITTEN: tr("as written"), OWN: tr("own")}


@dataclass(frozen=True, slots=True)
class Ways:
    """What was chosen by hand for a plan: other bottles {line: bottle}, accord lines opened or kept closed, an own order."""

    chosen: Mapping[int, int] = field(default_factory=dict)
    opened: frozenset[int] = frozenset()
    closed: frozenset[int] = frozenset()
    order: tuple[int, ...] = ()

    def with_bottle(self, lines: Iterable[int], bottle: int) -> Ways:
        """These lines from this bottle."""
        return replace(self, chosen={**self.chosen, **dict.fromkeys(lines, bottle)})

    def with_accord(self, lines: Iterable[int], way: str) -> Ways:
        """These accord lines from their bottle (`WHOLE`) or opened into their lines."""
        these = frozenset(lines)
        if way == OPENED:
            chosen = {line: bottle for line, bottle in self.chosen.items() if line not in these}
            return replace(self, chosen=chosen, opened=self.opened | these, closed=self.closed - these)
        return replace(self, opened=self.opened - these, closed=self.closed | these)

    def moved(self, plan: Plan, place: int, by: int) -> Ways:
        """An own order: the plan's with the line at a place moved up or down, as far as it goes."""
        order = [row.planned.line or 0 for row in plan.rows]
        order.insert(min(max(place + by, 0), len(order) - 1), order.pop(place))
        return replace(self, order=tuple(order))

    def order_of(self, name: str, basis: Basis) -> tuple[int, ...]:
        """Keys of lines in an order of `ORDERS`; the lines of an accord that was weighed from its bottle stand where it stood,
        and what was not weighed at all last time comes at the end."""
        if name in (SUGGESTED, WRITTEN):
            return basis.suggested if name == SUGGESTED else basis.written
        order: list[int] = []
        for key in (self.order if name == OWN else None) or basis.remembered:
            order += (key, *basis.inside(key))
        return tuple(dict.fromkeys((*order, *basis.suggested)))


@dataclass(frozen=True, slots=True)
class Shortage:
    """A bottle that holds less than its lines take, and the other bottles of the same stock, all of its lines can come
    from them, that hold more."""

    row: BottleRow
    needs_g: float
    lines: tuple[int, ...]
    others: tuple[BottleRow, ...]
    is_accord: bool


@dataclass(frozen=True, slots=True)
class Most:
    """The largest amount of the whole formula that is on hand, and the bottle that holds it back."""

    amount_g: float
    row: BottleRow


@dataclass(frozen=True, slots=True)
class Stock:
    """What the shelf holds of a plan. `most` as it is planned; of a formula with an accord that has a bottle also with every
    such accord from its bottle and with every one opened one level. `spared` are accord bottles that hold too little and were
    left alone for that."""

    shortages: tuple[Shortage, ...] = ()
    spared: tuple[Shortage, ...] = ()
    most: Most | None = None
    whole: Most | None = None
    opened: Most | None = None

    @property
    def is_enough(self) -> bool:
        """Whether there is nothing to say."""
        return not self.shortages and not self.spared


def shortages(plan: Plan) -> tuple[Shortage, ...]:
    """Every bottle that holds less than its lines take, in the order of the plan."""
    drawn: dict[int, list[PlanRow]] = {}
    for row in plan.rows:
        if row.bottle is not None:
            drawn.setdefault(row.bottle.key, []).append(row)
    found = []
    for rows in drawn.values():
        bottle, needs = rows[0].bottle, math.fsum(row.planned.target_g for row in rows)
        if bottle is None or bottle.left_g is None or needs <= max(bottle.left_g, 0.0) + 1e-9:
            continue
        shared = set.intersection(*({choice.key for choice in row.choices} for row in rows)) - {bottle.key}
        left = max(bottle.left_g, 0.0)
        others = (c for c in rows[0].choices if c.key in shared and (c.left_g is None or c.left_g > left))
        lines = tuple(row.planned.line for row in rows if row.planned.line is not None)
        found.append(Shortage(bottle, needs, lines, tuple(others), rows[0].version is not None))
    return tuple(found)


def most_of(plan: Plan, amount_g: float, d_g: float) -> Most | None:
    """The largest amount that the bottles of a plan for `amount_g` give, rounded down to d; None where nothing holds it back."""
    rows = {row.bottle.key: row.bottle for row in plan.rows if row.bottle is not None}
    needs = [
        (row.bottle.key, row.bottle.left_g, row.planned.target_g / amount_g)
        for row in plan.rows if row.bottle is not None and row.bottle.left_g is not None
    ]  # fmt: skip
    found = largest_amount(needs, d_g)
    return None if found is None else Most(round(found[0], 9), rows[found[1]])


def stock_of(book: Book, basis: Basis, plan: Plan, ways: Ways, amount_g: float, d_g: float, *, same_mass: bool = False) -> Stock:
    """What the shelf holds of a plan that was made in these ways."""
    short = shortages(plan)
    accords = basis.accord_lines
    if not accords:
        return Stock(short, (), most_of(plan, amount_g, d_g) if short else None)

    def otherwise(way: str) -> Plan:
        other = ways.with_accord(accords, way)
        return plan_of(book, basis.version, amount_g, same_mass=same_mass, opened=other.opened, closed=other.closed,
                       chosen=other.chosen, basis=basis)  # fmt: skip

    whole = otherwise(WHOLE) if any(row.inside for row in plan.rows) else plan
    known = {shortage.row.key for shortage in short}
    # one that was opened by hand is not told of: nobody asks for its bottle
    by_hand = {row.bottle.key for row in whole.rows if row.bottle is not None and row.planned.line in ways.opened}
    spared = tuple(s for s in shortages(whole) if s.is_accord and s.row.key not in known | by_hand)
    if not short and not spared:
        return Stock()
    return Stock(short, spared, most_of(plan, amount_g, d_g), most_of(whole, amount_g, d_g),
                 most_of(otherwise(OPENED), amount_g, d_g))  # fmt: skip


def too_heavy(balance: Balance | None, amount_g: float, tare_g: float) -> list[Finding]:
    """Whether the vessel with what is weighed into it is more than a balance carries; a tare that is not known is taken as 0."""
    if balance is None or balance.max_g is None or amount_g + tare_g <= balance.max_g:
        return []
    return [Finding("over-capacity", {"mass_g": amount_g + tare_g, "max_g": balance.max_g})]


def off_strength(row: PlanRow, tolerance: float, *, same_mass: bool) -> Finding | None:
    """What is to be known of a stock whose true strength is off the written one by more than the tolerance: what is weighed of it
    in place of what is written, or that the neat amount is off where the same mass is weighed."""
    true = None if row.bottle is None or row.material is None else row.bottle.strength
    if row.bottle is None or not true or row.written == 1:
        return None
    off, weigh_g = true / row.written - 1, row.planned.target_g
    if abs(off) <= tolerance:
        return None
    facts = {"code": row.bottle.bottle.code, "off": abs(off)}
    if same_mass:
        return Finding("same-mass-strong" if off > 0 else "same-mass-weak", facts)
    masses = {"weigh_g": weigh_g, "for_g": weigh_g * true / row.written}
    return Finding("again-strong" if off > 0 else "again-weak", facts | masses)


# too small for the balance ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Larger:
    """An amount of the whole in which a line reaches the least weight; `cost` of what it is more, None where no price is known,
    `at_least` where one is missing."""

    amount_g: float
    more_g: float
    cost: float | None
    at_least: bool
    is_too_heavy: bool


@dataclass(frozen=True, slots=True)
class Remedies:
    """What would do for a line that is too small, each with the error it then has (k = 2, relative)."""

    error: float
    least_g: float
    larger: Larger
    weaker: Weaker | None
    stock: BottleRow | None
    other: Balance | None
    other_error: float | None


def small_rows(plan: Plan, balance: Balance, tolerance: float) -> list[tuple[int, PlanRow, float]]:
    """(place, row, relative error) of every line under the least weight, the smallest first."""
    least = least_weight(balance, tolerance) * (1 - 1e-9)
    small = [
        (place, row, line_error(row.planned.target_g, balance).relative)
        for place, row in enumerate(plan.rows) if 0 < row.planned.target_g < least
    ]  # fmt: skip
    return sorted(small, key=lambda found: found[1].planned.target_g)


def larger(basis: Basis, targets_g: Iterable[float], amount_g: float, balance: Balance, tolerance: float) -> Larger:
    """The amount, rounded up to d, in which all of these lines reach the least weight, and what it costs more."""
    least = smallest_amount((target / amount_g for target in targets_g), balance, tolerance) or 0.0
    step = Decimal(repr(balance.d_g))
    amount = float((Decimal(f"{least:.9g}") / step).quantize(Decimal(1), ROUND_CEILING) * step)
    price = basis.composition.cost_per_g
    more = round(amount - amount_g, 9)
    cost = None if price is None else more * price
    heavy = balance.max_g is not None and amount > balance.max_g
    return Larger(amount, more, cost, bool(basis.composition.unpriced), heavy)


def remedies_for(
    basis: Basis, row: PlanRow, amount_g: float, balance: Balance, others: Iterable[Balance], tolerance: float
) -> Remedies | None:
    """What would do for one line; None for one that is not too small."""
    target = row.planned.target_g
    least = least_weight(balance, tolerance)
    if not 0 < target < least * (1 - 1e-9):
        return None
    stocks = {} if row.material is None else {stock.key: stock for stock in basis.stocks(row.material)}
    weaker = None
    if row.material is not None and not basis.materials[row.material].is_carrier:
        strength = (row.bottle.strength if row.bottle is not None else None) or row.written
        standing = [(key, stock.strength or stock.bottle.strength, stock.left_g) for key, stock in stocks.items()]
        weaker = weaker_stock(target, strength, amount_g, balance, tolerance, standing)
    carrying = [other for other in others if other.max_g is None or amount_g <= other.max_g]
    finer = min(carrying, key=net_u, default=balance)
    is_finer = net_u(finer) < net_u(balance)
    return Remedies(
        error=line_error(target, balance).relative,
        least_g=least,
        larger=larger(basis, (target,), amount_g, balance, tolerance),
        weaker=weaker,
        stock=None if weaker is None or weaker.bottle is None else stocks[weaker.bottle],
        other=finer if is_finer else None,
        other_error=line_error(target, finer).relative if is_finer else None,
    )
