# SPDX-License-Identifier: MIT
"""Ladders and dose series: versions that differ in one thing by even or even-tempered steps, to be smelled side by side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from perfumery.compose import compose
from perfumery.findings import refuse
from perfumery.shelf import Shelf
from perfumery.values import Line, Version

EVEN, GEOMETRIC = "even steps", "equal ratios"
MOST_STEPS = 24
_FIGURES = 3


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its lines, and what it is called ('9:1', '5 parts')."""

    name: str
    lines: tuple[Line, ...]


def ladder(a: Line, b: Line, steps: int) -> tuple[Step, ...]:
    """Two liquids from (steps:1) to (1:steps), one step after the other, each of steps + 1 parts: 9 steps are 9:1 … 1:9.

    `a` and `b` name the liquids; their parts are not read. Raises Refused `steps-range`, `same-line`.
    """
    _check(steps)
    if _named(a) == _named(b):
        raise refuse("same-line")
    return tuple(
        Step(f"{steps - at}:{at + 1}", (replace(a, parts=float(steps - at)), replace(b, parts=float(at + 1))))
        for at in range(steps)
    )


def doses(first: float, last: float, number: int, spacing: str) -> tuple[float, ...]:
    """Doses from the first to the last, in even steps or in equal ratios, each rounded to three figures, none twice.

    Raises Refused `steps-range` for fewer than 2 or more than 24, `dose-range` for doses that cannot be: equal ratios cannot
    begin or end at nothing.
    """
    if number < 2:
        raise refuse("steps-range", number=number, fewest=2, most=MOST_STEPS)
    _check(number)
    if not (math.isfinite(first) and math.isfinite(last)) or min(first, last) < 0 or first == last:
        raise refuse("dose-range", first=first, last=last)
    if spacing == GEOMETRIC:
        if min(first, last) <= 0:
            raise refuse("dose-range", first=first, last=last)
        found = [first * (last / first) ** (at / (number - 1)) for at in range(number)]
    else:
        found = [first + (last - first) * at / (number - 1) for at in range(number)]
    rounded = [float(f"{dose:.{_FIGURES}g}") for dose in found]
    # what was asked for is kept as it was typed
    rounded[0], rounded[-1] = first, last
    return tuple(dict.fromkeys(rounded))


def dose_series(version: Version, place: int, parts: Sequence[float]) -> tuple[Step, ...]:
    """A version with other parts on one line, the other lines untouched, or its fill-up line giving way.

    Raises Refused `reference-missing` for a place that has no line or is the fill-up line itself.
    """
    if not 0 <= place < len(version.lines) or version.lines[place].fill_up:
        raise refuse("reference-missing", kind="Line", key=place)
    made = []
    for dose in parts:
        lines = [replace(line, key=None) for line in version.lines]
        lines[place] = replace(lines[place], parts=dose)
        made.append(Step(f"{dose:g}", tuple(lines)))
    return tuple(made)


def needs(steps: Sequence[Step], shelf: Shelf, amount_g: float) -> dict[tuple[int | None, int | None, float, int | None], float]:
    """{(material, accord, strength, carrier): g} that weighing an amount of every step takes, line by line, none opened.

    Raises what `compose` raises.
    """
    found: dict[tuple[int | None, int | None, float, int | None], list[float]] = {}
    for step in steps:
        version = Version(project=0, code="-", lines=step.lines)
        for row in compose(version, shelf, amount_g=amount_g).rows:
            found.setdefault(_named(row.line), []).append(row.grams or 0.0)
    return {named: math.fsum(masses) for named, masses in found.items()}


def _named(line: Line) -> tuple[int | None, int | None, float, int | None]:
    return (line.material, line.accord, line.strength, line.carrier)


def _check(steps: int) -> None:
    if not 1 <= steps <= MOST_STEPS:
        raise refuse("steps-range", number=steps, fewest=1, most=MOST_STEPS)
