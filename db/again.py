# SPDX-License-Identifier: MIT
"""What the book knows of a version that is to be made again: its last trial, the bottles then and now, where the liquid in them
came from, the strips on which two lots hung beside each other. A few questions, however many lines it has."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from sqlalchemy import or_, select

from db import tables as t
from db.kinds import KINDS
from perfumery import Bottle, Dipped, Making, Move, Project, Strip, Version
from perfumery.again import AgainToday, Vial, again_today, with_smelled
from perfumery.findings import refuse
from perfumery.instants import from_ms
from perfumery.lots import Lots, Source

if TYPE_CHECKING:
    from db.book import Book
    from db.queries import Queries
    from db.seal import Seal
    from db.store import Store


class Again:
    """Asks one book."""

    def __init__(self, book: Book, queries: Queries, store: Store, seal: Seal) -> None:
        self._book, self._queries, self._store, self._seal = book, queries, store, seal

    def today(self, key: int, amount_g: float | None = None) -> AgainToday:
        """See Book.again_today."""
        version = self._book.get(Version, key)
        project = None if version is None else self._book.get(Project, version.project)
        if version is None or project is None:
            raise refuse("reference-missing", kind="Version", key=key)
        shelf = self._queries.shelf(version)
        rows, habits = self._queries.bottle_rows(vials=False, gone=True), self._queries.habits()
        trials = self._book.weighings.done((key,)).get(key, ())
        trial = trials[0] if trials else None
        own = [row.key for row in rows if row.bottle.version in shelf.accords]
        bottles: dict[int | None, Bottle] = {bottle.key: bottle for bottle in shelf.bottles}
        lots = Lots((bottles | {row.key: row.bottle for row in rows}).values(), self._sources(shelf.materials, own), shelf.prices)
        found = again_today(
            version, project.amount_g if amount_g is None else amount_g, shelf, rows, lots,
            today=self._book.now().date(), tolerance=habits["drift tolerance"], trial=trial,
            figures=() if trial is None or trial.key is None else self._book.weighings.poured(trial.key),
            vials=self._vials(trials) or self._vials(self._unweighed(key)),
        )  # fmt: skip
        others = frozenset().union(*(held for line in found.lines for held in line.lots or ()))
        if not any(line.lots for line in found.lines):
            return found
        strips = self._dipped(others)
        noise = self._book.sittings.noise(version.project) if strips else None
        return with_smelled(found, strips, noise)

    def _unweighed(self, version: int) -> list[Making]:
        """Its trials that were made as intended without weighing, the newest first."""
        made = self._book.all(Making, version=version, kind="trial", mode="not weighed")
        return sorted(made, key=lambda one: one.key or 0, reverse=True)

    def _vials(self, trials: Iterable[Making]) -> tuple[Vial, ...]:
        """Those of which something is still there."""
        rows = self._queries.bottle_rows_of(trial.into_bottle for trial in trials)
        return tuple(
            Vial(trial, row.bottle, row.left_g) for trial in trials if (row := rows.get(trial.into_bottle)) is not None
            and row.bottle.gone_on is None and (row.left_g is None or row.left_g > 0)
        )  # fmt: skip

    def _sources(self, materials: Iterable[int], bottles: Iterable[int]) -> list[Source]:
        """Everything that was poured into the bottles of these materials, into these bottles, and into what they came from."""
        move, bottle = t.MOVE.c, t.BOTTLE.c
        live = (move.kind == "pour", *KINDS[Move].in_force())
        first = select(bottle.key).where(or_(bottle.material.in_(sorted(materials)), bottle.key.in_(sorted(bottles))))
        up = first.cte("up", recursive=True)
        up = up.union(select(move.from_bottle).join(up, move.to_bottle == up.c.key).where(*live))
        columns = (move.to_bottle, move.from_bottle, move.mass_g, move.at, move.off, move.line)
        poured = self._store.rows(select(*columns).join(up, move.to_bottle == up.c.key).where(*live).order_by(move.key))
        return [Source(into, of, mass_g, from_ms(at, off), line) for into, of, mass_g, at, off, line in poured]

    def _dipped(self, bottles: Iterable[int]) -> list[Dipped]:
        strips = [
            strip for strip in self._store.select(KINDS[Strip], t.STRIP.c.bottle.in_(sorted(bottles)))
            if not self._seal.holds(strip)
        ]  # fmt: skip
        readings = self._queries.readings(strip.key for strip in strips)
        return [
            Dipped(strip, readings[strip.key], strip.bottle, strength=strip.strength, carrier=strip.carrier) for strip in strips
        ]
