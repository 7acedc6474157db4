# SPDX-License-Identifier: MIT
"""One line of a version that is to be made again: the bottle it was weighed from, the one it would be today, what differs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Generic, Protocol, TypeVar

from perfumery import service
from perfumery.findings import Finding
from perfumery.ledger import Drift
from perfumery.lots import Beside, Lots
from perfumery.picking import Held, Pick, Standing
from perfumery.shelf import Shelf, offered_first
from perfumery.values import Bottle, Line, Making, Move, Version
from perfumery.weighing import largest_amount

# What is said of a line that is as before all the same.
ONLY_NOTED = frozenset({"again-other-bottle", "again-retest-soon", "left-unknown"})
SAME, SAME_LOT, OTHER_LOT, NONE, NEW = "same bottle", "same lot", "another lot", "none", "not compared"
STEP_G = 0.001


class Kept(Standing, Protocol):
    """A bottle that also says what it may have lost, and when it is to be smelled again."""

    @property
    def drift(self) -> Drift | None: ...
    @property
    def retest_on(self) -> date | None: ...


B = TypeVar("B", bound=Kept)


def is_drifting(row: Kept, tolerance: float) -> bool:
    """Whether a re-weighing found so much missing that, if it was carrier, the strength has risen by more than the tolerance."""
    drift = row.drift
    return drift is not None and row.bottle.carrier is not None and not drift.is_noise and drift.risen > tolerance


def true_strength(row: Kept, tolerance: float) -> float | None:
    """The strength of a bottle's material today: that of its contents, raised where it is drifting."""
    if row.strength is None or row.drift is None or not is_drifting(row, tolerance):
        return row.strength
    return min(row.strength * (1 + row.drift.risen), 1.0)


@dataclass(frozen=True, slots=True)
class Used:
    """A bottle that a line was weighed from at an hour, and how much of it; None where it came inside an accord."""

    bottle: Bottle
    at: datetime
    mass_g: float | None


@dataclass(frozen=True, slots=True)
class AgainLine:
    """One liquid: what it was weighed from `then`, the most of it first, and from which bottle it would be `today`.

    `written_g` is its target as written, `weigh_g` what is to be weighed for the same neat amount, `needs_g` what all lines of
    today's bottle take of it. `strength` is the true one today; prices are per g of the liquid, that of what is to be made first
    at today's prices. `verdict` is one of `SAME`,
    `SAME_LOT`, `OTHER_LOT`, `NONE`, and `NEW` where there is nothing to compare with. `lots` are the bottles that hold the lot of
    then and those that hold another one. `inside` names the accord that is opened into it.
    """

    line: Line
    name: str
    written_g: float
    weigh_g: float
    then: tuple[Used, ...] = ()
    today: Bottle | None = None
    left_g: float | None = None
    needs_g: float = 0.0
    strength: float | None = None
    price_then: float | None = None
    price_now: float | None = None
    verdict: str = NEW
    findings: tuple[Finding, ...] = ()
    inside: str = ""
    lots: tuple[frozenset[int], frozenset[int]] | None = None
    beside: Beside | None = None

    @property
    def graves(self) -> tuple[Finding, ...]:
        """What speaks against weighing it as it is written."""
        return tuple(finding for finding in self.findings if finding.code not in ONLY_NOTED)

    @property
    def is_identical(self) -> bool:
        """Whether it is as before."""
        return self.verdict in (SAME, SAME_LOT) and not self.graves


@dataclass(slots=True)
class Then:
    """What was weighed then, by line; of an accord that came from its bottle also by the lines inside it."""

    trial: Making | None
    lots: Lots
    bottles: Mapping[int, Bottle]
    _used: dict[int, tuple[Used, ...]] = field(default_factory=dict)

    def read(self, figures: Iterable[Move], accord_lines: Iterable[int]) -> None:
        """Takes the figures of the trial in."""
        accords, own, inner = set(accord_lines), dict[int, list[Used]](), dict[int, list[Used]]()
        for move in figures:
            bottle = self.bottles.get(move.from_bottle or 0)
            if move.line is None or bottle is None or bottle.key is None:
                continue
            own.setdefault(move.line, []).append(Used(bottle, move.at, move.mass_g))
            sources = self.lots.into(bottle.key, move.at) if move.line in accords else ()
            for source in sources:
                if source.line is not None and source.bottle in self.bottles:
                    inner.setdefault(source.line, []).append(Used(self.bottles[source.bottle], source.at, None))
        for line, used in (inner | own).items():
            self._used[line] = tuple(sorted(used, key=lambda one: -(one.mass_g or 0.0)))

    def of(self, line: Line) -> tuple[Used, ...]:
        """What a line was weighed from, the most of it first."""
        return self._used.get(line.key or 0, ())


def same_first(fit: tuple[B, ...], then: tuple[Used, ...], lots: Lots) -> tuple[B, ...]:
    """Bottles that a line can come from: the one it was weighed from first, then others of its lot, then as they are offered;
    what is empty last."""
    if not then or len(fit) < 2:
        return fit
    was, keys = _lots_then(then, lots), [one.bottle.key for one in then]

    def rank(row: B) -> tuple[bool, bool, int]:
        is_empty = row.left_g is not None and row.left_g <= 0
        return is_empty, not lots.of(row.key) <= was, keys.index(row.key) if row.key in keys else len(keys)

    return tuple(sorted(fit, key=rank))


def _lots_then(then: tuple[Used, ...], lots: Lots) -> frozenset[tuple[int, str, str]]:
    return frozenset().union(*(lots.of(one.bottle.key or 0, one.at) for one in then))


@dataclass(frozen=True, slots=True)
class Judge(Generic[B]):
    """Judges lines one at a time; `needs` {bottle: what all its lines take of it, g}."""

    shelf: Shelf
    held: Held[B]
    lots: Lots
    then: Then
    needs: Mapping[int, float]
    amount_g: float
    today: date
    tolerance: float

    def line(self, pick: Pick[B], written_g: float) -> AgainLine:
        """One liquid as it would be weighed today, beside what it was weighed from."""
        line, row, then = pick.line, pick.row, self.then.of(pick.line)
        name = self.name(line)
        inside = "" if pick.inside is None else pick.inside.name or pick.inside.code
        price_then = self.lots.price(then[0].bottle.key or 0, then[0].at) if then else None
        if row is None:
            found = (self._relabelled(line, then, name) or self._lacking(line, name),)
            price = self.shelf.price_per_g(line)
            return AgainLine(line, name, written_g, pick.target_g, then, price_then=price_then, price_now=price, verdict=NONE,
                             findings=found, inside=inside)  # fmt: skip
        verdict, compared = self._compared(pick, row, then, name)
        is_other = verdict == OTHER_LOT and all(one.bottle.key != row.key for one in then)
        lots = self._families(row, then) if is_other else None
        price, strength = self.lots.price(row.key), true_strength(row, self.tolerance)
        if price is not None and strength and row.strength:
            # what is left of it has to pay for the carrier that is gone
            price *= strength / row.strength
        return AgainLine(
            line, name, written_g, pick.target_g, then, row.bottle, row.left_g, self.needs[row.key], strength, price_then, price,
            verdict, (*self._enough(row), *compared, *self._as_it_stands(line, row, pick.target_g, written_g)), inside, lots,
        )  # fmt: skip

    def name(self, line: Line) -> str:
        """What a line is called."""
        if line.material is not None:
            return self.shelf.materials[line.material].short
        accord = self.shelf.accords[line.accord or 0]
        return accord.name or accord.code

    def _relabelled(self, line: Line, then: tuple[Used, ...], name: str) -> Finding | None:
        """That a bottle it was weighed from stands there, and is labelled another strength since."""
        assert line.material is not None  # an accord without a bottle is opened
        rows = {
            row.key: row for row in self.held.of_material(line.material)
            if row.left_g != 0 and row.bottle.strength != line.strength
        }  # fmt: skip
        was = next((row for one in then if (row := rows.get(one.bottle.key or 0)) is not None), None)
        if was is None:
            return None
        data = {"name": name, "strength": line.strength, "code": was.bottle.code, "now": was.bottle.strength}
        return Finding("again-relabelled", data)

    def _lacking(self, line: Line, name: str) -> Finding:
        """What there is instead of a stock that no bottle holds: something stronger to make it from, or nothing."""
        assert line.material is not None  # an accord without a bottle is opened
        data = {"name": name, "strength": line.strength}
        stocks = {row.key: row for row in self.held.of_material(line.material)}
        stronger = (row.bottle for row in stocks.values() if row.bottle.strength > line.strength)
        from_ = next((one for one in offered_first(stronger) if stocks[one.key or 0].left_g != 0), None)
        if from_ is None:
            return Finding("again-none", data)
        is_solid = from_.strength == 1 and self.shelf.materials[line.material].is_solid
        return Finding("again-dissolve" if is_solid else "again-prepare", {**data, "code": from_.code})

    def _compared(self, pick: Pick[B], row: B, then: tuple[Used, ...], name: str) -> tuple[str, list[Finding]]:
        trial = self.then.trial
        if trial is None:
            return NEW, []
        if not then:
            accord = None if pick.line.accord is None else self.shelf.accords[pick.line.accord]
            if accord is not None and any(self.then.of(line) for line in accord.lines):
                return NEW, [Finding("again-made-up", {"name": name, "code": row.bottle.code})]
            return NEW, [Finding("again-not-weighed", {"name": name, "trial": trial.code or ""})]
        was = then[0].bottle
        is_same = any(one.bottle.key == row.key for one in then)
        data = {"name": name, "code": row.bottle.code, "was": was.code}
        if self.lots.of(row.key) <= _lots_then(then, self.lots):
            return (SAME, []) if is_same else (SAME_LOT, [Finding("again-other-bottle", data)])
        if is_same:
            return OTHER_LOT, [Finding("again-topped-up", data)]
        return OTHER_LOT, [Finding("again-other-lot", {**data, "is_newer": _since(row.bottle) > _since(was)})]

    def _families(self, row: B, then: tuple[Used, ...]) -> tuple[frozenset[int], frozenset[int]]:
        old = self.lots.holding(_lots_then(then, self.lots), then[0].bottle)
        return old, self.lots.holding(self.lots.of(row.key), row.bottle) - old

    def _enough(self, row: B) -> list[Finding]:
        code, needs_g = row.bottle.code, self.needs[row.key]
        if row.left_g is None:
            return [Finding("left-unknown", {"code": code})]
        left_g = max(row.left_g, 0.0)
        if needs_g <= left_g + 1e-9:
            return []
        most = largest_amount([(row.key, left_g, needs_g / self.amount_g)], STEP_G)
        return [Finding("too-little", {"code": code, "left_g": left_g, "needs_g": needs_g, "most_g": most[0] if most else 0.0})]

    def _as_it_stands(self, line: Line, row: B, weigh_g: float, written_g: float) -> list[Finding]:
        """What speaks against a bottle by itself."""
        found, bottle, true = [], row.bottle, true_strength(row, self.tolerance)
        if line.material is not None and line.strength < 1:
            off = 0.0 if true is None else true / line.strength - 1
            if true is None:
                found.append(Finding("contents-unknown", {"code": bottle.code}))
            elif abs(off) > self.tolerance:
                missing = row.drift.missing_g if row.drift is not None and is_drifting(row, self.tolerance) else None
                data = {"code": bottle.code, "off": abs(off), "weigh_g": weigh_g, "for_g": written_g, "missing_g": missing}
                found.append(Finding("again-strong" if off > 0 else "again-weak", data))
        if bottle.ready_on is not None and bottle.ready_on > self.today:
            found.append(Finding("again-not-ready", {"code": bottle.code, "on": bottle.ready_on}))
        state = service.state(row.retest_on, self.today)
        if state:
            found.append(Finding(f"again-retest-{state}", {"code": bottle.code, "on": row.retest_on}))
        if line.material is not None and self.shelf.materials[line.material].retired_on is not None:
            found.append(Finding("retired-used", {"names": (self.name(line),)}))
        return found


def _since(bottle: Bottle) -> tuple[date, int]:
    """Since when a bottle stands there, as far as its label tells; later keys came later."""
    return bottle.received_on or bottle.opened_on or date.min, bottle.key or 0


def opened_accords(version: Version, picks: Iterable[Pick[B]], held: Held[B], then: Then, judge: Judge[B]) -> list[Finding]:
    """Accords that are opened into their lines though a bottle of them stands, or stood when the trial was weighed."""
    inner = {pick.accord_line for pick in picks if pick.inside is not None}
    found = []
    for line in (line for owner in (version, *judge.shelf.accords.values()) for line in owner.lines):
        if line.accord is None or line.key not in inner:
            continue
        bottles = [row.bottle for row in held.choices(line)] or [one.bottle for one in then.of(line)]
        if bottles:
            found.append(Finding("again-opened", {"name": judge.name(line), "code": bottles[0].code}))
    return found


def largest_of(lines: Iterable[AgainLine], amount_g: float) -> tuple[float | None, AgainLine | None]:
    """(the most of the whole formula that is on hand, rounded down; the line whose bottle holds it back)."""
    known = tuple(lines)
    lacking = next((line for line in known if line.today is None), None)
    if lacking is not None:
        return 0.0, lacking
    by_bottle = {line.today.key: line for line in reversed(known) if line.today is not None}
    needs = [
        (line.today.key or 0, line.left_g, line.weigh_g / amount_g)
        for line in known if line.today is not None and line.left_g is not None
    ]  # fmt: skip
    most = largest_amount(needs, STEP_G)
    return (None, None) if most is None else (round(most[0], 9), by_bottle[most[1]])


def cost_of(parts: Iterable[tuple[str, float, float | None]]) -> tuple[float | None, tuple[str, ...]]:
    """(price per g of what (name, g, price per g) come to, None where no price is known; the names of those without one)."""
    known = tuple(parts)
    total = math.fsum(mass for _, mass, _ in known)
    priced = [mass * price for _, mass, price in known if price is not None]
    lacking = tuple(dict.fromkeys(name for name, _, price in known if price is None))
    return (math.fsum(priced) / total if priced and total > 0 else None), lacking
