# SPDX-License-Identifier: MIT
"""What a plan is made from, read once: the shelf of a version, the bottles that stand, and which of them each line can come from.

A letter typed into the amount makes the plan anew; it must not ask the book for every line.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property

from db import Book, BottleRow
from perfumery import Composition, Line, Material, Version, compose
from perfumery.order import BOAT, reason_of, suggested_order
from perfumery.preparing import is_stock
from perfumery.shelf import offered_first, reached


def choices_for(rows: Iterable[BottleRow], line: Line) -> tuple[BottleRow, ...]:
    """The bottles a line can be weighed from: its stock by its label, or its accord's own bottles, offered first first."""
    standing = [row for row in rows if row.bottle.gone_on is None]
    if line.accord is not None:
        fit = [row for row in standing if row.bottle.version == line.accord and row.bottle.kind == "accord"]
    else:
        assert line.material is not None
        fit = [row for row in standing if is_stock(row.bottle, line.material, line.strength, line.carrier)]
    order = {bottle.key: place for place, bottle in enumerate(offered_first(row.bottle for row in fit))}
    # a bottle that is all but empty is offered after the others
    return tuple(sorted(fit, key=lambda row: ((row.left_g is not None and row.left_g <= 0), order[row.bottle.key])))


class Held:
    """Bottles by what they hold, so that no line looks through all of them."""

    def __init__(self, rows: Iterable[BottleRow]) -> None:
        self._rows: dict[tuple[str, int | None], list[BottleRow]] = {}
        for row in rows:
            self._rows.setdefault(("material", row.bottle.material), []).append(row)
            self._rows.setdefault(("version", row.bottle.version), []).append(row)
        self._choices: dict[tuple[object, ...], tuple[BottleRow, ...]] = {}

    def of_material(self, material: int) -> tuple[BottleRow, ...]:
        """Every bottle of a material that stands, at any strength."""
        return tuple(row for row in self._rows.get(("material", material), ()) if row.bottle.gone_on is None)

    def choices(self, line: Line) -> tuple[BottleRow, ...]:
        """The bottles a line can be weighed from, offered first first."""
        stock = (line.accord, line.material, line.strength, line.carrier)
        if stock not in self._choices:
            of = ("material", line.material) if line.accord is None else ("version", line.accord)
            self._choices[stock] = choices_for(self._rows.get(of, ()), line)
        return self._choices[stock]


class Basis:
    """Everything the plans of one version ask the book; as it stood when it was made."""

    def __init__(self, book: Book, version: Version) -> None:
        self.version = version
        self.shelf = book.shelf(version)
        self.remembered: tuple[int, ...] = ()
        if version.key is not None:
            self.remembered = book.weighings.remembered(version.key)
        held = Held(book.bottles.rows())
        self.choices, self.stocks = held.choices, held.of_material

    @property
    def materials(self) -> Mapping[int, Material]:
        """Every material that the version or an accord inside it names."""
        return self.shelf.materials

    @cached_property
    def lines(self) -> dict[int, Line]:
        """{key: line} of the version and of every accord inside it."""
        inside = reached(self.version, self.shelf.accords)
        return {line.key: line for own in inside for line in own.lines if line.key is not None}

    @cached_property
    def powder_lines(self) -> dict[int, Material]:
        """{line: material} of those that are weighed as a powder."""
        named = {key: line for key, line in self.lines.items() if line.material is not None}
        return {key: self.materials[line.material or 0] for key, line in named.items() if reason_of(line, self.materials) == BOAT}

    @cached_property
    def composition(self) -> Composition:
        """The version worked out, for what a gram of it costs."""
        return compose(self.version, self.shelf)

    @property
    def accord_lines(self) -> tuple[int, ...]:
        """The version's own lines that name an accord of which a bottle stands."""
        own = (line for line in self.version.lines if line.accord is not None and line.key is not None)
        return tuple(line.key for line in own if line.key is not None and self.choices(line))

    def inside(self, line: int) -> tuple[int, ...]:
        """Keys of the lines of an accord that a line names, in the order suggested; none for a material."""
        own = self.lines.get(line)
        if own is None or own.accord is None:
            return ()
        inner = {held.key for held in self.shelf.accords[own.accord].lines}
        return tuple(key for key in self.suggested if key in inner)

    @cached_property
    def suggested(self) -> tuple[int, ...]:
        """Keys of all lines in the order suggested, those of accords among them for when one is opened."""
        return tuple(place.line for place in suggested_order(self.lines.values(), self.materials) if place.line is not None)

    @cached_property
    def written(self) -> tuple[int, ...]:
        """Keys of all lines as they are written, those of an accord behind its line."""
        found: dict[int, None] = {}

        def walk(version: Version) -> None:
            for line in version.lines:
                found.setdefault(line.key or 0)
                if line.accord is not None:
                    walk(self.shelf.accords[line.accord])

        walk(self.version)
        return tuple(found)
