# SPDX-License-Identifier: MIT
"""The answers to a figure that is off, each with what it costs and what it does to the formula; no widget in it.

Rows of one line are one line here: what is added to it later, or comes from a second bottle, stands in rows of its own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from db import BottleRow
from desktop import figures
from desktop.language import tr
from desktop.models.weigh import Plan, PlanRow
from perfumery import Balance, Cure, Planned, cures
from perfumery.overpour import COMPLETE, DISCARD, KEEP, SCALE, TOP_UP

# Nobody knows what a balance that was not named can weigh, so nothing is too small for it.
UNNAMED = Balance(tr("not said"), d_g=1e-9)


@dataclass(frozen=True, slots=True)
class LineSum:
    """One line over all its rows: `target_g` meant, `held_g` in the vessel, `coming_g` still to be weighed."""

    places: tuple[int, ...]
    target_g: float
    held_g: float
    coming_g: float


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer ready to be shown. `places` {row of the plan: g to add}, `bottles` {row: other bottle for what is added}."""

    kind: str
    title: str
    detail: str
    total: str
    more: str
    money: str
    weighings: str
    share: str
    stock: str
    is_worth: bool
    places: Mapping[int, float]
    bottles: Mapping[int, int]


def line_sums(rows: Sequence[PlanRow]) -> tuple[LineSum, ...]:
    """The lines of a plan, in the order of their first rows."""
    found: dict[object, list[int]] = {}
    for place, row in enumerate(rows):
        found.setdefault(_line_of(row), []).append(place)
    return tuple(
        LineSum(
            tuple(places), math.fsum(rows[at].planned.target_g for at in places), math.fsum(rows[at].read_g for at in places),
            math.fsum(rows[at].planned.target_g for at in places if not rows[at].is_done),
        )
        for places in found.values()
    )  # fmt: skip


def _line_of(row: PlanRow) -> object:
    if row.planned.line is not None or row.bottle is None:
        return row.planned.line, row.name
    own = row.bottle.bottle
    return (own.material, own.strength, own.carrier) if own.material is not None else (own.version, own.key)


class Off:
    """What is off at one row of a plan, and what can be done about it. `before` {row: g that were in} where something was
    spilled out of the vessel: the answers then bring back what would have been without that; `empty` where the row's bottle
    gave no more."""

    def __init__(
        self, plan: Plan, place: int, balance: Balance | None, tolerance: float, prices: Mapping[int, float | None],
        currency: str, *, before: Mapping[int, float] | None = None, empty: bool = False,
    ) -> None:  # fmt: skip
        self.plan, self.place, self.tolerance, self.currency = plan, place, tolerance, currency
        self.spilled, self.empty = before is not None, empty
        self.step = 0.001 if balance is None else balance.d_g
        self._balance = balance or UNNAMED
        held = before or {}
        self.sums = tuple(
            replace(own, target_g=math.fsum(held.get(at, plan.rows[at].planned.target_g) for at in own.places))
            for own in line_sums(plan.rows)
        )  # fmt: skip
        self.line = next(at for at, own in enumerate(self.sums) if place in own.places)
        if empty:
            # nothing more comes from it unless that is the answer
            own = self.sums[self.line]
            coming = math.fsum(plan.rows[at].planned.target_g for at in own.places if self._comes(at))
            self.sums = (*self.sums[: self.line], replace(own, coming_g=coming), *self.sums[self.line + 1 :])
        self._prices = [prices.get(self._bottle_key(own)) for own in self.sums]

    def _comes(self, place: int) -> bool:
        """Whether a row is still to be weighed."""
        return not self.plan.rows[place].is_done and not (self.empty and place == self.place)

    @property
    def row(self) -> PlanRow:
        """The row that is off."""
        return self.plan.rows[self.place]

    def answers(self, *, search: bool) -> tuple[Answer, ...]:
        """The answers; as few additions as will do only where they are searched for. Empty without targets to miss."""
        if any(not own.target_g > 0 for own in self.sums):
            return ()
        found = cures(
            [own.target_g for own in self.sums], [own.held_g for own in self.sums], self.line, self._balance, self.tolerance,
            self._prices, to_come_g=[own.coming_g for own in self.sums], search=search,
        )  # fmt: skip
        by_kind = {cure.kind: cure for cure in found}
        if self.spilled or (self.empty and self.other is None):
            by_kind.pop(COMPLETE, None)
        complete, fewest = by_kind.get(COMPLETE), by_kind.get(TOP_UP)
        same = complete is not None and fewest is not None and set(fewest.additions) == set(complete.additions)
        if same or (fewest is not None and not fewest.is_worth):
            del by_kind[TOP_UP]  # the same is said once, and what is not worth making not at all
        return tuple(self._answer(by_kind[kind]) for kind in (KEEP, COMPLETE, SCALE, TOP_UP, DISCARD) if kind in by_kind)

    @property
    def needs_search(self) -> bool:
        """Whether leaving it so puts a share outside the tolerance, so that a search for few additions has a sense."""
        targets = [own.target_g for own in self.sums]
        base = [own.held_g + own.coming_g for own in self.sums]
        total, meant = math.fsum(base), math.fsum(targets)
        if not (total and all(target > 0 for target in targets)):
            return False
        return max(abs(m / total / (t / meant) - 1) for m, t in zip(base, targets, strict=True)) > self.tolerance * (1 + 1e-9)

    @property
    def other(self) -> BottleRow | None:
        """Another bottle of the same stock that is not empty."""
        taken = self.row.planned.bottle
        fit = [row for row in self.row.choices if row.key != taken and (row.left_g is None or row.left_g > 0)]
        return fit[0] if fit else None

    @property
    def meant_share(self) -> float:
        """The share of the line that is off, 0..1, as it was meant."""
        return self.sums[self.line].target_g / math.fsum(own.target_g for own in self.sums)

    # one answer -----------------------------------------------------------------------------------------------------------

    def _answer(self, cure: Cure) -> Answer:
        places, bottles = self._placed(cure)
        share = figures.UNKNOWN
        if cure.total_g and cure.kind != DISCARD:
            own = self.sums[self.line]
            share = figures.per_thousand((own.held_g + own.coming_g + cure.additions.get(self.line, 0.0)) / cure.total_g * 1000)
        wasted = cure.kind == DISCARD
        more = "0" if not cure.extra_g else figures.mass(cure.extra_g, self.step)
        if wasted:
            more = tr("{mass} wasted", mass=more)
        elif cure.extra_g > 0:
            more = f"+{more}"
        total = figures.UNKNOWN if wasted else figures.mass(cure.total_g, self.step)
        return Answer(
            cure.kind, self._title(cure), self._detail(cure), total, more, self._money(cure.extra_cost), _weighings(cure), share,
            self._short(places, bottles), cure.is_worth, places, bottles,
        )  # fmt: skip

    def _title(self, cure: Cure) -> str:
        if cure.kind == KEEP:
            return tr("Leave it out") if self.empty and not self.sums[self.line].held_g else tr("Leave it so")
        if cure.kind == COMPLETE:
            other = self.other if self.empty else None
            return tr("Add what is missing") if other is None else tr("The rest from {code}", code=other.bottle.code)
        if cure.kind == SCALE:
            own = self.sums[self.line]
            factor = (own.held_g + own.coming_g) / own.target_g
            if factor > 1:
                return tr("Scale all the others × {factor}", factor=figures.short(factor, 4))
            return tr("Scale what is to come × {factor}", factor=figures.short(factor, 4))
        return tr("As few additions as will do") if cure.kind == TOP_UP else tr("Throw it away")

    def _detail(self, cure: Cure) -> str:
        """Which additions, where they are few."""
        if cure.kind != TOP_UP:
            return ""
        named = [
            f"{self.plan.rows[self.sums[at].places[0]].name} {figures.mass_text(added, self.step)}"
            for at, added in cure.additions.items() if added >= self.step / 2
        ]  # fmt: skip
        within = figures.strength_text(self.tolerance)
        return tr("{additions}; every share is then within {tolerance}", additions=figures.listed(named), tolerance=within)

    def _money(self, cost: float | None) -> str:
        if cost is None:
            return figures.UNKNOWN
        return figures.money(round(cost, 4), self.currency, per="")

    def _placed(self, cure: Cure) -> tuple[dict[int, float], dict[int, int]]:
        """{row: g to add}, {row: bottle}: to what is still to come first, share by share, else over the last row of the line."""
        places: dict[int, float] = {}
        bottles: dict[int, int] = {}
        for at, added in cure.additions.items():
            own = self.sums[at]
            ahead = [place for place in own.places if self._comes(place)]
            if ahead:
                for place in ahead:
                    places[place] = added * self.plan.rows[place].planned.target_g / own.coming_g
                continue
            last = self.place if at == self.line else own.places[-1]
            places[last] = added
            source = self._source(self.plan.rows[last], added, empty=self.empty and at == self.line)
            if source is not None and source.key != self.plan.rows[last].planned.bottle:
                bottles[last] = source.key
                # a stock of another true strength gives the same neat amount
                places[last] = added * _ratio(self.plan.rows[last].bottle, source)
        return places, bottles

    def _source(self, row: PlanRow, mass: float, *, empty: bool) -> BottleRow | None:
        """The bottle an addition comes from: its own while that holds enough, else another of the stock that does."""
        own = None if empty else row.bottle
        fit = [each for each in (own, *row.choices) if each is not None and not (empty and each.key == row.planned.bottle)]
        enough = (each for each in fit if each.left_g is None or each.left_g + 1e-9 >= mass)
        return next(enough, None) or (self.other if empty else own)

    def _short(self, places: Mapping[int, float], bottles: Mapping[int, int]) -> str:
        """The stock check repeated: which bottles would then hold too little."""
        rows = self.plan.rows
        needs: dict[int, float] = {}
        known = {each.key: each for row in rows for each in (row.bottle, *row.choices) if each is not None}
        for at, row in enumerate(rows):
            mass = places.get(at, 0.0)
            if self._comes(at):
                mass += row.planned.target_g
            key = bottles.get(at, row.planned.bottle)
            if key is not None and mass > 0:
                needs[key] = needs.get(key, 0.0) + mass
        short = [
            tr("{code} would be short by {mass}", code=known[key].bottle.code, mass=figures.mass_text(need - left, self.step))
            for key, need in needs.items()
            if key in known and (left := known[key].left_g) is not None and need > left + self.step / 2
        ]  # fmt: skip
        return figures.listed(short, 3)

    def _bottle_key(self, own: LineSum) -> int:
        return self.plan.rows[own.places[-1]].planned.bottle or 0


def _weighings(cure: Cure) -> str:
    if not cure.weighings:
        return "0"
    if not cure.too_small:
        return str(cure.weighings)
    return tr("{number}, {small} too small", number=cure.weighings, small=cure.too_small)


def _ratio(old: BottleRow | None, new: BottleRow) -> float:
    if old is None or not old.strength or not new.strength:
        return 1.0
    return old.strength / new.strength


def cured(
    plan: Plan, places: Mapping[int, float], bottles: Mapping[int, int], *, without: int | None = None
) -> tuple[Planned, ...]:  # fmt: skip
    """A plan with an answer in it: what is in is what was meant from now on, what is added to it stands in a row of its own, at
    once behind it where it comes from another bottle, and what is still to come is more or less. `without` is a row of which
    nothing more comes."""
    made, extra = [], []
    for at, row in enumerate(plan.rows):
        added = places.get(at, 0.0)
        if not row.is_done and at != without:
            made.append(replace(row.planned, target_g=round(row.planned.target_g + added, 9)))
            continue
        if row.is_done:
            made.append(replace(row.planned, target_g=round(row.read_g, 9)))
        if added > 1e-6:
            again = replace(row.planned, target_g=round(added, 9), bottle=bottles.get(at, row.planned.bottle))
            (made if at in bottles else extra).append(again)
    return (*made, *extra)


def from_bottle(row: PlanRow, other: BottleRow) -> Planned:
    """The row from another bottle of its stock: the rest of it gives the same neat amount."""
    ratio = _ratio(row.bottle, other) if row.planned.line is not None and row.written != 1 else 1.0
    rest = row.planned.target_g - row.read_g
    return replace(row.planned, bottle=other.key, target_g=round(row.read_g + rest * ratio, 9))


def split(row: PlanRow, instead: Planned) -> tuple[Planned, Planned]:
    """What is in of a row, and its rest from another bottle as `from_bottle` tells it."""
    return replace(row.planned, target_g=row.read_g), replace(instead, target_g=round(instead.target_g - row.read_g, 9))
