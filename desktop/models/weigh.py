# SPDX-License-Identifier: MIT
"""What is to be weighed, from which bottle, how much of it is in already; no widget in it.

A plan is made from a version and an amount: a material from the bottle that is its stock, an accord from its own bottle where
one holds enough, else opened into its lines. A stock that is off the strength written on its line gives the same neat amount,
and the carrier it brings more or less of is made up for on the line of that carrier; or, by choice, the same mass.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from db import Book, BottleRow
from desktop import figures
from desktop.models.plan_basis import Basis
from perfumery import Balance, Bottle, Finding, Line, Making, Material, Move, Planned, Version, weighing
from perfumery.picking import Held, Pick, is_ready, picked, same_neat

# A share of a target that a figure may be off without being asked about.
TOLERANCE = 0.05


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One liquid to weigh. `written` is the strength on its line; `choices` are the bottles it can come from, the one offered
    first first; `read_g` what is in already, over every figure accepted for it. `accord_line` is the line of the accord that this
    is, or that was opened into it."""

    planned: Planned
    name: str
    stock: str
    material: int | None
    version: int | None
    written: float
    bottle: BottleRow | None
    choices: tuple[BottleRow, ...] = ()
    moves: tuple[Move, ...] = ()
    inside: str = ""
    accord_line: int | None = None

    @property
    def read_g(self) -> float:
        """g of it in the vessel."""
        return round(math.fsum(move.mass_g for move in self.moves), 9)

    @property
    def is_done(self) -> bool:
        """Whether a figure was accepted for it."""
        return bool(self.moves)

    @property
    def off_g(self) -> float:
        """g it is over its target, negative where under."""
        return round(self.read_g - self.planned.target_g, 9)

    def is_outside(self, tolerance: float, balance: Balance | None) -> bool:
        """Whether what is in is off its target by more than the tolerance and by more than the balance can tell."""
        if not self.is_done or not self.planned.target_g:
            # a pour that the nose leads has no target to miss
            return False
        noise = 0.0 if balance is None else weighing.K * weighing.net_u(balance)
        return abs(self.off_g) > max(tolerance * self.planned.target_g, noise) + 1e-12


@dataclass(frozen=True, slots=True)
class Plan:
    """The rows of a weighing in their order, and what was noticed of them before the first drop."""

    rows: tuple[PlanRow, ...]
    findings: tuple[Finding, ...] = ()
    shares: Mapping[int, float] = field(default_factory=dict)

    @property
    def total_g(self) -> float:
        """What it comes to."""
        return math.fsum(row.planned.target_g for row in self.rows)

    @property
    def in_vessel_g(self) -> float:
        """What is in already."""
        return round(math.fsum(row.read_g for row in self.rows), 9)

    @property
    def current(self) -> int | None:
        """The place of the first row that has no figure yet, None where all have."""
        return next((place for place, row in enumerate(self.rows) if not row.is_done), None)


def suggested_lines(book: Book, version: Version) -> tuple[int, ...]:
    """Keys of a version's lines in the order suggested for one that was never weighed."""
    own = {line.key for line in version.lines}
    return tuple(key for key in Basis(book, version).suggested if key in own)


def plan_of(
    book: Book, version: Version, amount_g: float, *, same_mass: bool = False, order: Sequence[int] = (),
    opened: Iterable[int] = (), closed: Iterable[int] = (), chosen: Mapping[int, int] | None = None, basis: Basis | None = None,
) -> Plan:  # fmt: skip
    """A plan for an amount of a version. `order` are line keys that come first, in that order; `opened` accord lines to be
    weighed line by line though their bottle holds enough, `closed` ones from their bottle though it does not; `chosen`
    {line: bottle} where another bottle is wanted; `basis` what was read of the book already."""
    known = basis or Basis(book, version)
    shelf = known.shelf
    picks = picked(
        version, amount_g, shelf.accords, known.choices, opened=opened, closed=closed, chosen=chosen, today=known.today
    )
    rows = [_picked_row(pick, shelf.materials, shelf.accords) for pick in (picks if same_mass else same_neat(picks))]
    place = {line: at for at, line in enumerate(order)}
    rows.sort(key=lambda row: place.get(row.planned.line or 0, len(place)))
    return Plan(tuple(rows), (*_short(rows, amount_g), *_waiting(rows, known.today)))


def _picked_row(pick: Pick[BottleRow], materials: Mapping[int, Material], accords: Mapping[int, Version]) -> PlanRow:
    inside = "" if pick.inside is None else pick.inside.name or pick.inside.code
    row = _row(pick.line, pick.target_g, pick.row, pick.choices, materials, accords, inside)
    return replace(row, accord_line=pick.accord_line)


def _row(
    line: Line, target: float, bottle: BottleRow | None, fit: tuple[BottleRow, ...], materials: Mapping[int, Material],
    accords: Mapping[int, Version], inside: str,
) -> PlanRow:  # fmt: skip
    if line.accord is not None:
        accord = accords[line.accord]
        name, stock = accord.name or accord.code, ""
    else:
        assert line.material is not None
        carrier = "" if line.carrier is None else materials[line.carrier].carrier_name
        name, stock = materials[line.material].short, figures.stock_text(line.strength, carrier)
    planned = Planned(round(target, 9), line.key, None if bottle is None else bottle.key)
    return PlanRow(planned, name, stock, line.material, line.accord, line.strength, bottle, fit, inside=inside)


def _short(rows: Sequence[PlanRow], amount_g: float | None = None) -> list[Finding]:
    """Every bottle that holds less than all its lines together take; what can be made at most is of `amount_g`, without it of
    what the rows come to."""
    needs: dict[int, float] = {}
    for row in rows:
        if row.bottle is not None:
            needs[row.bottle.key] = needs.get(row.bottle.key, 0.0) + row.planned.target_g
    total = math.fsum(row.planned.target_g for row in rows) if amount_g is None else amount_g
    found, told = [], set()
    for row in rows:
        if row.bottle is None or row.bottle.key in told or row.bottle.left_g is None:
            continue
        need = needs[row.bottle.key]
        if need > max(row.bottle.left_g, 0.0) + 1e-9:
            told.add(row.bottle.key)
            most = weighing.largest_amount([(row.bottle.key, row.bottle.left_g, need / total)], 0.001)
            most_g = 0.0 if most is None else most[0]
            facts = {"code": row.bottle.bottle.code, "left_g": row.bottle.left_g, "needs_g": need, "most_g": most_g}
            found.append(Finding("too-little", facts))
    return found


def waiting(bottle: Bottle, today: date | None) -> Finding | None:
    """What speaks against a bottle in which a solid is still dissolving."""
    return None if is_ready(bottle, today) else Finding("not-ready", {"code": bottle.code, "on": bottle.ready_on})


def _waiting(rows: Sequence[PlanRow], today: date) -> list[Finding]:
    bottles = {row.bottle.key: row.bottle.bottle for row in rows if row.bottle is not None}
    found = (waiting(bottle, today) for bottle in bottles.values())
    return [finding for finding in found if finding is not None]


def taken_up(book: Book, making: Making) -> Plan:
    """The plan of a weighing that was begun, with every figure accepted so far where it belongs."""
    assert making.key is not None
    version = None if making.version is None else book.get(Version, making.version)
    shelf = None if version is None else book.shelf(version)
    lines: dict[int, tuple[Line, str]] = {}
    if version is not None and shelf is not None:
        for inner in (*shelf.accords.values(), version):
            of = "" if inner is version else inner.name or inner.code
            lines |= {line.key: (line, of) for line in inner.lines if line.key is not None}
    standing = book.bottles.rows_of(planned.bottle for planned in making.plan if planned.bottle is not None)
    today = book.now().date()
    named = [line for line, _ in lines.values()]
    materials = {line.material for line in named if line.material is not None}
    held = Held(book.bottles.holding(materials, {line.accord for line in named if line.accord is not None}), today)
    moves = list(book.weighings.poured(making.key))
    rows = []
    own = _shared_out(moves, making.plan)
    for place, planned in enumerate(making.plan):
        bottle = standing.get(planned.bottle or 0)
        found = lines.get(planned.line or 0)
        if found is not None and shelf is not None:
            row = _row(found[0], planned.target_g, bottle, held.choices(found[0]), shelf.materials, shelf.accords, found[1])
        else:
            row = of_bottle(planned, bottle)
        rows.append(replace(row, planned=planned, bottle=bottle, moves=tuple(own[place])))
    to_come = [row for row in rows if not row.is_done]
    return Plan(tuple(rows), (*_short(to_come), *_waiting(to_come, today)))


def of_bottle(planned: Planned, row: BottleRow | None) -> PlanRow:
    """What is weighed without a line of a version: a liquid by its bottle."""
    if row is None:
        return PlanRow(planned, "", "", None, None, 1.0, None)
    own = row.bottle
    # an accord or a vial is told by its name; only a stock has a strength worth saying
    stock = "" if own.material is None else figures.stock_text(own.strength, row.carrier_name)
    return PlanRow(planned, row.what, stock, own.material, own.version, own.strength, row)


def _shared_out(moves: Iterable[Move], plan: Sequence[Planned]) -> list[list[Move]]:
    """The figures of each row of a plan: each goes to the first row of its line that has none yet, later ones to the last; so
    that what is added to a line stands in a row of its own."""
    found: list[list[Move]] = [[] for _ in plan]
    for move in moves:
        fit = [place for place, planned in enumerate(plan) if _belongs(move, planned)]
        if fit:
            found[next((place for place in fit if not found[place]), fit[-1])].append(move)
    return found


def _belongs(move: Move, planned: Planned) -> bool:
    if planned.line is not None or move.line is not None:
        return move.line == planned.line
    return move.from_bottle == planned.bottle
