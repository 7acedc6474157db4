# SPDX-License-Identifier: MIT
"""What plans ask the book for: asked once, and kept until a change makes it stale, so that no letter typed asks again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from db import VIALS, Book, BottleRow, Change, VersionHead
from perfumery import Bottle, Contents, Material, Move, Version, offered_first
from perfumery.values import Habit

T = TypeVar("T")


class Known:
    """Reads of one book."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self._materials: dict[int, Material | None] = {}
        self._kept: dict[tuple[object, ...], Any] = {}

    def forget(self, change: Change) -> bool:
        """Drops what a change has made stale; whether that can be any of it."""
        is_stale = change.touches(Bottle, Move, Contents, Version, Habit)
        for old, new in change.pairs:
            value = old if new is None else new
            # one that was never seen before stands on no bottle yet
            if isinstance(value, Material) and (old is not None or value.key in self._materials):
                self._materials.pop(value.key or 0, None)
                is_stale = True
        if is_stale:
            self._kept.clear()
        return is_stale

    def _once(self, ask: Callable[..., T], *of: Any, **how: Any) -> T:
        """What the book answers, asked once."""
        name = (ask.__qualname__, *of, *how.items())
        if name not in self._kept:
            self._kept[name] = ask(*of, **how)
        found: T = self._kept[name]
        return found

    def material(self, key: int | None) -> Material | None:
        """A material of the book."""
        if key is None:
            return None
        if key not in self._materials:
            self._materials[key] = self.book.get(Material, key)
        return self._materials[key]

    def version(self, key: int | None) -> Version | None:
        """A version of the book."""
        return None if key is None else self._once(self.book.get, Version, key)

    def row(self, bottle: int) -> BottleRow | None:
        """One bottle of any kind, as it stands now."""
        return self._once(self.book.bottles.row, bottle)

    def rows(self) -> tuple[BottleRow, ...]:
        """Bottles that stand on the shelf, in the order they are offered."""
        return self._once(self._in_order)

    def rows_of(self, material: int) -> tuple[BottleRow, ...]:
        """Those of one material, in the order they are offered."""
        return tuple(self._once(self._by_material).get(material, ()))

    def rows_of_version(self, version: int) -> tuple[BottleRow, ...]:
        """Those of one version, in the order they are offered, then what its trials left."""
        return self._once(self._of_version, version)

    def contents(self, bottle: int) -> dict[int, float]:
        """What a bottle holds."""
        return self._once(self.book.contents, bottle)

    def uncertainty(self, bottle: int) -> dict[int, float] | None:
        """How far the shares of what it holds are known."""
        return self._once(self.book.bottles.uncertainty, bottle)

    def habits(self) -> dict[str, float]:
        """How this perfumer works."""
        return self._once(self.book.bottles.habits)

    def accords(self) -> tuple[VersionHead, ...]:
        """Versions that can be made up: those used as accords first, then the newest."""
        return self._once(self.book.to_make_up)

    def next_code(self, stem: str) -> str:
        """The next free code of a bottle."""
        return self._once(self.book.next_code, Bottle, stem)

    def is_taken(self, code: str) -> bool:
        """Whether a bottle has a code already."""
        return self._once(self.book.get, Bottle, code) is not None

    def stem(self, material: int) -> str:
        """What the codes of a material's own bottles begin with."""
        return self._once(self._own_stem, material)

    def _in_order(self) -> tuple[BottleRow, ...]:
        rows = {row.key: row for row in self.book.bottles.rows()}
        return tuple(rows[b.key] for b in offered_first(row.bottle for row in rows.values()) if b.key is not None)

    def _of_version(self, version: int) -> tuple[BottleRow, ...]:
        held = [bottle for bottle in self.book.bottles_of((version,)).get(version, ()) if bottle.gone_on is None]
        rows = self.book.bottles.rows_of(bottle.key for bottle in held if bottle.key is not None)
        own = [rows[bottle.key] for bottle in offered_first(held) if bottle.key in rows]
        return tuple(sorted(own, key=lambda row: row.bottle.kind in VIALS))

    def _by_material(self) -> dict[int | None, list[BottleRow]]:
        found: dict[int | None, list[BottleRow]] = {}
        for row in self.rows():
            found.setdefault(row.bottle.material, []).append(row)
        return found

    def _own_stem(self, material: int) -> str:
        codes = [b.code for b in self.book.all(Bottle, material=material) if b.kind == "bought"]
        return next((code.rpartition("-")[0] + "-" for code in codes if "-" in code), "B")
