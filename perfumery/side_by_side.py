# SPDX-License-Identifier: MIT
"""Versions side by side: their lines aligned by what they name, their materials over all routes, and how far apart they are.

All figures are parts per 1000 of the concentrate, so that versions of other totals compare. Parts moved between two versions
are half the summed absolute change of all materials, carriers included: what would have to be taken out of one and put into
the other.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from perfumery.compose import Composition, Row, compose
from perfumery.findings import refuse
from perfumery.shelf import Shelf
from perfumery.values import Line, Version

FEWEST, MOST = 2, 6
_SAME = 1e-9


@dataclass(frozen=True, slots=True)
class AlignedLine:
    """One line over all versions: `rows` has a composed row for each, None where a version lacks it. `material` or `family` is
    what it names: an accord's family is (project, name or code) of its version, so that two versions of one accord align."""

    material: int | None
    family: Hashable
    rows: tuple[Row | None, ...]

    @property
    def per_thousand(self) -> tuple[float, ...]:
        """Parts per 1000 in each version, 0 where it is lacking."""
        return tuple(0.0 if row is None else row.per_thousand for row in self.rows)

    @property
    def is_edited(self) -> bool:
        """Whether any version has it otherwise: lacking, in other parts, strength, carrier or version of the accord."""
        return any(_written(row) != _written(self.rows[0]) for row in self.rows[1:])


@dataclass(frozen=True, slots=True)
class AlignedMaterial:
    """One material over all columns, parts per 1000 neat; 0 where a column lacks it."""

    material: int
    is_carrier: bool
    per_thousand: tuple[float, ...]

    @property
    def spread(self) -> float:
        """The largest less the smallest."""
        return max(self.per_thousand) - min(self.per_thousand)

    @property
    def is_changed(self) -> bool:
        """Whether the columns differ by more than the last digits of a sum."""
        return self.spread > _SAME * max(*self.per_thousand, 1.0)


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Two to six versions worked out together; `lines` and `materials` in the order of the first version that has them."""

    versions: tuple[Version, ...]
    compositions: tuple[Composition, ...]
    lines: tuple[AlignedLine, ...]
    materials: tuple[AlignedMaterial, ...]


def side_by_side(versions: Sequence[Version], shelf: Shelf) -> SideBySide:
    """Works versions out against one shelf that reaches all of them.

    Raises Refused `compared-range` for fewer than two or more than six, and what `compose` raises.
    """
    if not FEWEST <= len(versions) <= MOST:
        raise refuse("compared-range", number=len(versions), fewest=FEWEST, most=MOST)
    compositions = tuple(compose(version, shelf) for version in versions)
    carriers = {key for key, material in shelf.materials.items() if material.is_carrier}
    columns = [per_thousand(composition) for composition in compositions]
    return SideBySide(
        tuple(versions), compositions, aligned_lines(compositions, shelf), aligned_materials(columns, carriers)
    )


def per_thousand(composition: Composition) -> dict[int, float]:
    """{material: parts per 1000} over all routes; nothing for a formula without parts."""
    total = composition.total_parts
    return {key: parts / total * 1000 for key, parts in composition.expanded.items()} if total else {}


def aligned_materials(columns: Sequence[Mapping[int, float]], carriers: Iterable[int]) -> tuple[AlignedMaterial, ...]:
    """Columns of {material: parts per 1000}, intended or as weighed, row by row; those of the first column first."""
    marked = set(carriers)
    keys = dict.fromkeys(key for column in columns for key in column)
    return tuple(AlignedMaterial(key, key in marked, tuple(column.get(key, 0.0) for column in columns)) for key in keys)


def aligned_lines(compositions: Sequence[Composition], shelf: Shelf) -> tuple[AlignedLine, ...]:
    """The lines of several versions row by row, each beside the line of the next version that names the same.

    Where a version has a material on several lines, those of one strength and carrier align first, then the others in order.
    """
    found: list[tuple[Hashable, list[Row | None]]] = []
    for place, composition in enumerate(compositions):
        waiting = list(composition.rows)
        for matches in (_is_alike, _names_alike):
            for _, cells in found:
                if len(cells) > place:
                    continue
                before = next(row for row in reversed(cells) if row is not None)
                match = next((row for row in waiting if matches(before.line, row.line, shelf)), None)
                if match is not None:
                    waiting = [row for row in waiting if row is not match]
                    cells.append(match)
        for _, cells in found:
            if len(cells) == place:
                cells.append(None)
        found += [(_named(row.line, shelf), [None] * place + [row]) for row in waiting]
    return tuple(
        AlignedLine(next(row.line.material for row in cells if row is not None), named, tuple(cells)) for named, cells in found
    )


def parts_moved(a: Mapping[int, float], b: Mapping[int, float]) -> float:
    """Half the summed absolute change between two columns of {material: parts per 1000}."""
    return math.fsum(abs(b.get(key, 0.0) - a.get(key, 0.0)) for key in a.keys() | b.keys()) / 2


def most_moved_first(rows: Iterable[AlignedMaterial]) -> tuple[AlignedMaterial, ...]:
    """The rows by their spread, the largest first; equal ones as they stood."""
    return tuple(sorted(rows, key=lambda row: -row.spread))


def ratio(a: float, b: float) -> float | None:
    """b ÷ a; None where there is nothing to compare with."""
    return b / a if a > 0 else None


def _named(line: Line, shelf: Shelf) -> Hashable:
    """What a line names: its material, or the family of its accord."""
    if line.accord is None:
        return ("material", line.material)
    version = shelf.accords[line.accord]
    return ("family", version.project, version.name or version.code)


def _names_alike(a: Line, b: Line, shelf: Shelf) -> bool:
    return _named(a, shelf) == _named(b, shelf) or _is_next(a, b, shelf) or _is_next(b, a, shelf)


def _is_next(a: Line, b: Line, shelf: Shelf) -> bool:
    """Whether the accord of one line came from the accord of the other."""
    return a.accord is not None and b.accord is not None and shelf.accords[b.accord].parent == a.accord


def _is_alike(a: Line, b: Line, shelf: Shelf) -> bool:
    return _names_alike(a, b, shelf) and (a.strength, a.carrier, a.as_carrier) == (b.strength, b.carrier, b.as_carrier)


def _written(row: Row | None) -> tuple[object, ...] | None:
    """What of a line counts as written: its parts as they are live, and what it names and how."""
    if row is None:
        return None
    line = row.line
    return (line.parts, line.material, line.accord, line.strength, line.carrier, line.fill_up, line.as_carrier)
