# SPDX-License-Identifier: MIT
"""What changed from one version to another: line by line, material by material, and in one figure."""

from __future__ import annotations

from dataclasses import dataclass

from perfumery.compose import Row
from perfumery.shelf import Shelf
from perfumery.side_by_side import AlignedLine, AlignedMaterial, parts_moved, per_thousand, ratio, side_by_side
from perfumery.values import Version


@dataclass(frozen=True, slots=True)
class LineChange:
    """One line in both versions; a row is None where that version lacks it. Figures are parts per 1000 of each concentrate."""

    a: Row | None
    b: Row | None
    is_edited: bool

    @property
    def change(self) -> float:
        """Parts per 1000 more in b."""
        return (self.b.per_thousand if self.b else 0.0) - (self.a.per_thousand if self.a else 0.0)

    @property
    def ratio(self) -> float | None:
        """b ÷ a; None for a line that is new."""
        return ratio(self.a.per_thousand if self.a else 0.0, self.b.per_thousand if self.b else 0.0)


@dataclass(frozen=True, slots=True)
class MaterialChange:
    """One material over all routes, neat, parts per 1000 of each concentrate; 0 where a version lacks it."""

    material: int
    is_carrier: bool
    a: float
    b: float
    is_changed: bool

    @property
    def change(self) -> float:
        """Parts per 1000 more in b."""
        return self.b - self.a

    @property
    def ratio(self) -> float | None:
        """b ÷ a; None for a material that is new."""
        return ratio(self.a, self.b)


@dataclass(frozen=True, slots=True)
class Difference:
    """From a to b. `parts_moved` counts carriers, `odorants_moved` leaves them out; both are parts per 1000."""

    lines: tuple[LineChange, ...]
    materials: tuple[MaterialChange, ...]
    parts_moved: float
    odorants_moved: float

    @property
    def lines_edited(self) -> int:
        """Lines with other parts, strength, carrier or accord version, new and gone ones among them."""
        return sum(line.is_edited for line in self.lines)

    @property
    def materials_changed(self) -> int:
        """Odorants whose share of the concentrate changed."""
        return sum(one.is_changed and not one.is_carrier for one in self.materials)

    @property
    def carriers_changed(self) -> int:
        """Carriers whose share of the concentrate changed."""
        return sum(one.is_changed and one.is_carrier for one in self.materials)


def difference(a: Version, b: Version, shelf: Shelf) -> Difference:
    """What changed from a to b, both worked out against one shelf that reaches both (`book.shelf(a, b)`).

    Raises what `compose` raises.
    """
    both = side_by_side((a, b), shelf)
    first, second = (per_thousand(composition) for composition in both.compositions)
    carriers = {one.material for one in both.materials if one.is_carrier}
    odorants = [{key: parts for key, parts in column.items() if key not in carriers} for column in (first, second)]
    return Difference(
        lines=tuple(_line(line) for line in both.lines),
        materials=tuple(_material(one) for one in both.materials),
        parts_moved=parts_moved(first, second),
        odorants_moved=parts_moved(*odorants),
    )


def _line(line: AlignedLine) -> LineChange:
    a, b = line.rows
    return LineChange(a, b, line.is_edited)


def _material(one: AlignedMaterial) -> MaterialChange:
    a, b = one.per_thousand
    return MaterialChange(one.material, one.is_carrier, a, b, one.is_changed)
