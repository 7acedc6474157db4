# SPDX-License-Identifier: MIT
"""Where the liquid in a bottle came from: the lots in it, what it cost, and whether two lots were smelled beside each other."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeAlias

from perfumery.noise import Dipped, OwnNoise, matched
from perfumery.preparing import SAME_STRENGTH
from perfumery.shelf import mixed_price
from perfumery.text import fold
from perfumery.values import Bottle

# (material, lot, supplier) of what was bought; (bottle, "", "") of a liquid that nobody gave a lot
Lot: TypeAlias = tuple[int, str, str]


@dataclass(frozen=True, slots=True)
class Source:
    """So much of a bottle that went into another one, at an hour, on a line of what was made there."""

    into: int
    bottle: int
    mass_g: float
    at: datetime
    line: int | None = None


class Lots:
    """Bottles with what was poured into them, as far back as it is known; `prices` are those of neat materials per g."""

    def __init__(self, bottles: Iterable[Bottle], sources: Iterable[Source], prices: Mapping[int, float]) -> None:
        self._bottles = {bottle.key: bottle for bottle in bottles if bottle.key is not None}
        self._kin: dict[tuple[int | None, int | None], list[int]] = {}
        for key, bottle in self._bottles.items():
            self._kin.setdefault((bottle.material, bottle.version), []).append(key)
        self._into: dict[int, list[Source]] = {}
        for source in sources:
            self._into.setdefault(source.into, []).append(source)
        self._prices = prices

    def into(self, bottle: int, at: datetime | None = None) -> tuple[Source, ...]:
        """What was poured into a bottle until an hour, all of it where none is given."""
        return tuple(one for one in self._into.get(bottle, ()) if at is None or one.at <= at)

    def of(self, bottle: int, at: datetime | None = None, passed: frozenset[int] = frozenset()) -> frozenset[Lot]:
        """The lots of its own material that a bottle held at an hour; of an accord, and where nothing is known, it is its own."""
        held = self._bottles.get(bottle)
        found: set[Lot] = set()
        if held is not None and held.material is not None and bottle not in passed:
            for source in self.into(bottle, at):
                other = self._bottles.get(source.bottle)
                if other is not None and other.material == held.material:
                    found |= self.of(source.bottle, source.at, passed | {bottle})
        if held is None or not found or held.kind == "bought":
            found.add(_own_lot(bottle, held))
        return frozenset(found)

    def holding(self, lots: frozenset[Lot], like: Bottle) -> frozenset[int]:
        """The bottles of what another one holds with these lots and no other in them."""
        return frozenset(key for key in self._kin.get((like.material, like.version), ()) if self.of(key) <= lots)

    def price(self, bottle: int, at: datetime | None = None, passed: frozenset[int] = frozenset()) -> float | None:
        """What a gram of a bottle cost when it was bought or filled: its own price, else that of what was poured into it, else of
        its label at the prices of today; None where one that counts is not known."""
        held = self._bottles.get(bottle)
        if held is None or bottle in passed:
            return None
        if held.price_per_g is not None:
            return held.price_per_g
        sources = self.into(bottle, at)
        total = math.fsum(source.mass_g for source in sources)
        if total > 0:
            known = [(source.mass_g, self.price(source.bottle, source.at, passed | {bottle})) for source in sources]
            costs = [mass * price for mass, price in known if price is not None]
            return math.fsum(costs) / total if len(costs) == len(known) else None
        return mixed_price(self._prices, held.material, held.strength, held.carrier)


def _own_lot(bottle: int, held: Bottle | None) -> Lot:
    if held is None or held.material is None or not held.lot.strip():
        return (bottle, "", "")
    return (held.material, fold(held.lot), fold(held.supplier))


@dataclass(frozen=True, slots=True)
class Beside:
    """Two lots smelled beside each other, last at an hour: the greatest difference in intensity, second less first, at its due
    point, None where no two readings can be compared; `is_beyond` one's own noise, None while that is not known."""

    at: datetime
    difference: float | None = None
    due_s: float | None = None
    is_beyond: bool | None = None


def beside(first: Sequence[Dipped], second: Sequence[Dipped], noise: OwnNoise | None) -> Beside | None:
    """What strips of two lots say, those of one sitting or of one day; None where they were never smelled beside each other.

    Readings are compared on paper, at one strength of dip, as in repeats: at one due point and nearly the same true time.
    """
    pairs = [(one, two) for one in first for two in second if _are_together(one, two)]
    if not pairs:
        return None
    at = max(each.strip.dipped_at for pair in pairs for each in pair)
    told = [matched(one, two) for one, two in pairs if _are_alike(one, two)]
    found = [(difference, due) for pair in told for due, difference in zip(pair.dues_s, pair.differences, strict=True)]
    if not found:
        return Beside(at)
    difference, due = max(found, key=lambda one: (abs(one[0]), -one[1]))
    return Beside(at, difference, due, None if noise is None else noise.counts(difference))


def _are_together(one: Dipped, two: Dipped) -> bool:
    a, b = one.strip, two.strip
    return (a.sitting is not None and a.sitting == b.sitting) or a.dipped_at.date() == b.dipped_at.date()


def _are_alike(one: Dipped, two: Dipped) -> bool:
    papers = one.strip.kind == two.strip.kind == "paper"
    return papers and math.isclose(one.strength or 1.0, two.strength or 1.0, rel_tol=SAME_STRENGTH)
