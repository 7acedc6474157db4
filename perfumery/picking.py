# SPDX-License-Identifier: MIT
"""Which bottle each line of a version is weighed from, and how much of it.

A material comes from a bottle that is its stock by its label, an accord from its own bottle where one holds enough, else it is
opened into its lines. A stock that is off the strength written on its line gives the same neat amount, and the carrier it brings
more or less of is made up for on the line of that carrier.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Generic, Protocol, TypeVar

from perfumery.compose import resolved
from perfumery.preparing import is_stock
from perfumery.shelf import offered_first
from perfumery.values import Bottle, Line, Version


class Standing(Protocol):
    """A bottle with what is left in it, g, and the true strength of its material; None where that is not known."""

    @property
    def key(self) -> int: ...
    @property
    def bottle(self) -> Bottle: ...
    @property
    def left_g(self) -> float | None: ...
    @property
    def strength(self) -> float | None: ...


S = TypeVar("S", bound=Standing)


def off_label(row: Standing, tolerance: float) -> float | None:
    """By which share a bottle's true strength differs from its label; None where that is no more than the tolerance, or not
    known."""
    if row.strength is None:
        return None
    off = row.strength / row.bottle.strength - 1
    return off if abs(off) > tolerance else None


@dataclass(frozen=True, slots=True)
class Pick(Generic[S]):
    """One liquid to weigh: so much for a line, from a bottle of those it can come from, the one offered first first. `inside` is
    the accord that was opened into it; `accord_line` the line of the accord that this is, or that was opened."""

    line: Line
    target_g: float
    row: S | None
    choices: tuple[S, ...] = ()
    inside: Version | None = None
    accord_line: int | None = None


def is_ready(bottle: Bottle, today: date | None) -> bool:
    """Whether what was put to dissolve in a bottle may be used; without a day it is taken to be."""
    return today is None or bottle.ready_on is None or bottle.ready_on <= today


def choices_for(rows: Iterable[S], line: Line, today: date | None = None) -> tuple[S, ...]:
    """The bottles a line can be weighed from: its stock by its label, or its accord's own bottles, offered first first, those
    that are not ready `today` after the others."""
    standing = [row for row in rows if row.bottle.gone_on is None]
    if line.accord is not None:
        fit = [row for row in standing if row.bottle.version == line.accord and row.bottle.kind == "accord"]
    else:
        assert line.material is not None
        fit = [row for row in standing if is_stock(row.bottle, line.material, line.strength, line.carrier)]
    order = {bottle.key: place for place, bottle in enumerate(offered_first(row.bottle for row in fit))}

    def place(row: S) -> tuple[bool, bool, int]:
        # a bottle that is all but empty is offered after the others
        return row.left_g is not None and row.left_g <= 0, not is_ready(row.bottle, today), order[row.bottle.key]

    return tuple(sorted(fit, key=place))


class Held(Generic[S]):
    """Bottles by what they hold, so that no line looks through all of them; those that are not ready `today` come after the
    others."""

    def __init__(self, rows: Iterable[S], today: date | None = None) -> None:
        self._today = today
        self._rows: dict[tuple[str, int | None], list[S]] = {}
        for row in rows:
            self._rows.setdefault(("material", row.bottle.material), []).append(row)
            self._rows.setdefault(("version", row.bottle.version), []).append(row)
        self._choices: dict[tuple[object, ...], tuple[S, ...]] = {}

    def of_material(self, material: int) -> tuple[S, ...]:
        """Every bottle of a material that stands, at any strength."""
        return tuple(row for row in self._rows.get(("material", material), ()) if row.bottle.gone_on is None)

    def choices(self, line: Line) -> tuple[S, ...]:
        """The bottles a line can be weighed from, offered first first."""
        stock = (line.accord, line.material, line.strength, line.carrier)
        if stock not in self._choices:
            of = ("material", line.material) if line.accord is None else ("version", line.accord)
            self._choices[stock] = choices_for(self._rows.get(of, ()), line, self._today)
        return self._choices[stock]


def picked(
    version: Version, amount_g: float, accords: Mapping[int, Version], choices: Callable[[Line], Sequence[S]], *,
    opened: Iterable[int] = (), closed: Iterable[int] = (), chosen: Mapping[int, int] | None = None, today: date | None = None,
) -> list[Pick[S]]:  # fmt: skip
    """What is weighed for an amount of a version, by line: each from the first of its choices that holds enough; one that is not
    ready `today` only where no other is left that holds anything.

    `opened` are accord lines to be weighed line by line though their bottle holds enough, `closed` ones from their bottle though
    it does not; `chosen` {line: bottle} where another of its choices is wanted. Lines without parts are left out.
    """
    wished, open_lines, closed_lines = dict(chosen or {}), set(opened), set(closed)
    picks: list[Pick[S]] = []
    taken: dict[int, float] = {}

    def holds(row: S, target: float) -> bool:
        return row.left_g is None or row.left_g + 1e-9 >= taken.get(row.key, 0.0) + target

    def usable(fit: tuple[S, ...]) -> tuple[S, ...]:
        ready = tuple(row for row in fit if is_ready(row.bottle, today) and (row.left_g is None or row.left_g > 0))
        return ready or fit

    def add(inner: Version, grams: float, inside: Version | None, accord_line: int | None) -> None:
        lines = resolved(inner)
        total = math.fsum(line.parts for line in lines)
        for line in lines:
            target = grams * line.parts / total if total else 0.0
            if not target > 0:
                continue
            fit, key = tuple(choices(line)), line.key or 0
            row = next((one for one in fit if one.key == wished.get(key)), None)
            if line.accord is not None:
                is_enough = row is not None or key in closed_lines or any(holds(one, target) for one in usable(fit))
                if key in open_lines or not fit or not is_enough:
                    accord = accords[line.accord]
                    add(accord, target, accord, line.key)
                    continue
            able = usable(fit)
            row = row or next((one for one in able if holds(one, target)), able[0] if able else None)
            if row is not None:
                taken[row.key] = taken.get(row.key, 0.0) + target
            own_line = line.key if line.accord is not None else accord_line
            picks.append(Pick(line, round(target, 9), row, fit, inside, own_line))

    add(version, amount_g, None, None)
    return picks


def same_neat(picks: Iterable[Pick[S]], strength: Callable[[S], float | None] = lambda row: row.strength) -> list[Pick[S]]:
    """The picks with the targets of stocks that are off their written strength such that the neat amount is as written; what that
    brings more or less of their carrier is taken from or given to its neat line, where there is one. `strength` tells the true
    one."""
    freed: dict[int, float] = {}
    made = []
    for pick in picks:
        true = None if pick.row is None else strength(pick.row)
        written = pick.line.strength
        if pick.line.material is None or pick.row is None or not true or written == 1 or math.isclose(true, written):
            made.append(pick)
            continue
        target = pick.target_g * written / true
        carrier = pick.row.bottle.carrier
        if carrier is not None:
            freed[carrier] = freed.get(carrier, 0.0) + pick.target_g - target
        made.append(replace(pick, target_g=round(target, 9)))
    for place, pick in enumerate(made):
        if pick.line.material in freed and pick.line.strength == 1:
            target = pick.target_g + freed.pop(pick.line.material)
            if target > 0:
                made[place] = replace(pick, target_g=round(target, 9))
    return made
