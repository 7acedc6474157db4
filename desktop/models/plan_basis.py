# SPDX-License-Identifier: MIT
"""What a plan is made from, read once: the shelf of a version, the bottles that stand, and which of them each line can come from.

A letter typed into the amount makes the plan anew; it must not ask the book for every line.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from db import Book
from perfumery import Composition, Line, Material, Version, compose
from perfumery.order import BOAT, reason_of, suggested_order
from perfumery.picking import Held
from perfumery.shelf import reached


class Basis:
    """Everything the plans of one version ask the book; as it stood when it was made."""

    def __init__(self, book: Book, version: Version) -> None:
        self.version = version
        self.shelf = book.shelf(version)
        self.remembered: tuple[int, ...] = ()
        if version.key is not None:
            self.remembered = book.weighings.remembered(version.key)
        self.today = book.now().date()
        held = Held(book.bottles.holding(self.shelf.materials, self.shelf.accords), self.today)
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
