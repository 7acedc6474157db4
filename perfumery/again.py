# SPDX-License-Identifier: MIT
"""Whether a version can be made again today as it was weighed last: line by line, which bottle then and which today.

The same lot as then is offered first, else the bottle that was opened first; enough left counts. A line is as before when the
same lot of it stands there at its written strength and holds enough; a re-test that is only near changes nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from perfumery.again_line import AgainLine, B, Judge, Then, cost_of, largest_of, opened_accords, same_first, true_strength
from perfumery.findings import Finding, refuse
from perfumery.lots import Beside, Lots, beside
from perfumery.noise import Dipped, OwnNoise
from perfumery.picking import Held, picked, same_neat
from perfumery.shelf import Shelf
from perfumery.values import Bottle, Making, Move, Version


@dataclass(frozen=True, slots=True)
class Vial:
    """A trial of the version and what is left of it in its vial, g; None where nobody knows."""

    trial: Making
    bottle: Bottle
    left_g: float | None


@dataclass(frozen=True, slots=True)
class AgainToday:
    """The answer. `trial` is the one compared with, None for a version that was never weighed; `largest_g` of the whole formula
    on hand, None where nothing holds it back, and the line that does. Costs are per g of concentrate, at the prices of the very
    bottles; `unpriced` are the lines without one, then and today. `vials` are those kept of its trials, newest first; of trials
    that were not weighed only where no other is kept."""

    version: Version
    trial: Making | None
    amount_g: float
    lines: tuple[AgainLine, ...]
    largest_g: float | None = None
    held_back_by: AgainLine | None = None
    cost_then: float | None = None
    cost_now: float | None = None
    unpriced: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
    findings: tuple[Finding, ...] = ()
    vials: tuple[Vial, ...] = ()

    @property
    def identical(self) -> int:
        """How many lines are as before."""
        return sum(line.is_identical for line in self.lines)

    @property
    def bottles(self) -> dict[int, int]:
        """{line: the bottle it would be weighed from}."""
        return {
            line.line.key: line.today.key for line in self.lines
            if line.line.key is not None and line.today is not None and line.today.key is not None
        }  # fmt: skip


def again_today(
    version: Version, amount_g: float, shelf: Shelf, rows: Iterable[B], lots: Lots, *,
    today: date, tolerance: float, trial: Making | None = None, figures: Sequence[Move] = (), vials: tuple[Vial, ...] = (),
) -> AgainToday:  # fmt: skip
    """Holds a version against its last trial. `rows` are all bottles of the shelf, gone ones too; `figures` those of the trial;
    `tolerance` is the relative change of strength that is still taken for the written one.

    Whether two lots were smelled beside each other is not told yet: see `with_smelled`. Raises Refused `mass-not-positive`.
    """
    if not (math.isfinite(amount_g) and amount_g > 0):
        raise refuse("mass-not-positive", mass_g=amount_g)
    known = tuple(rows)
    bottles = {row.key: row.bottle for row in known}
    then, held = Then(trial, lots, bottles), Held(known)
    owners = (version, *shelf.accords.values())
    then.read(figures, (line.key for one in owners for line in one.lines if line.accord is not None and line.key is not None))
    written = picked(version, amount_g, shelf.accords, lambda line: same_first(held.choices(line), then.of(line), lots))
    picks = same_neat(written, lambda row: true_strength(row, tolerance))
    needs: dict[int, float] = {}
    for pick in picks:
        if pick.row is not None:
            needs[pick.row.key] = needs.get(pick.row.key, 0.0) + pick.target_g
    judge = Judge(shelf, held, lots, then, needs, amount_g, today, tolerance)
    lines = tuple(judge.line(pick, before.target_g) for pick, before in zip(picks, written, strict=True))
    said = [] if lines else [Finding("no-lines")]
    if lines and trial is None:
        said.append(Finding("again-never-weighed", {"code": version.code}))
    said += opened_accords(version, picks, held, then, judge)
    largest_g, back = largest_of(lines, amount_g)
    names = {line.line.key: line.name for line in lines}
    codes = {key: bottle.code for key, bottle in bottles.items()}
    cost_then, lacked = cost_of(
        (names.get(move.line) or codes.get(move.from_bottle or 0, ""), move.mass_g, lots.price(move.from_bottle or 0, move.at))
        for move in figures
    )  # fmt: skip
    cost_now, lacks = cost_of((line.name, line.weigh_g, line.price_now) for line in lines)
    return AgainToday(version, trial, amount_g, lines, largest_g, back, cost_then, cost_now, (lacked, lacks), tuple(said), vials)


def with_smelled(found: AgainToday, strips: Iterable[Dipped], noise: OwnNoise | None) -> AgainToday:
    """The answer with what strips of both lots say, where the lot of a line is another one."""
    dipped = tuple(strips)
    lines = []
    for line in found.lines:
        if line.lots is not None and line.today is not None:
            old, new = ([one for one in dipped if one.strip.bottle in own] for own in line.lots)
            told = beside(old, new, noise)
            finding = _smelled(line.today.code, line.then[0].bottle.code, told)
            place = 1 + next(at for at, one in enumerate(line.findings) if one.code == "again-other-lot")
            line = replace(line, beside=told, findings=(*line.findings[:place], finding, *line.findings[place:]))
        lines.append(line)
    return replace(found, lines=tuple(lines))


def _smelled(code: str, was: str, told: Beside | None) -> Finding:
    if told is None:
        return Finding("again-unsmelled", {"code": code, "was": was})
    data = {"code": code, "was": was, "on": told.at.date(), "difference": told.difference, "due_s": told.due_s}
    if told.is_beyond is None:
        return Finding("again-smelled-open", data)
    return Finding("again-smelled-apart" if told.is_beyond else "again-smelled-alike", data)
