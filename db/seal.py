# SPDX-License-Identifier: MIT
"""The seal of blind smelling: until a sitting or a test is revealed, the book tells no one which code is which.

Everything that leaves the door goes through here, so that no view, search or notice can tell by mistake: a strip under seal has
its blind code for a code, no bottle, no strength, and the one clock of its sitting; a test has its codes without their letters.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any, TypeVar

from db import tables as t
from db.kinds import KINDS
from db.rules import HIDDEN
from db.store import Store
from db.undo import Change
from perfumery import Sitting, Strip
from perfumery.blind import sealed
from perfumery.smelled import BlindTest

V = TypeVar("V")
# Stands where the key of a bottle stood, and tells that a strip is under seal: there is none of that key.
NO_BOTTLE = 0


class Seal:
    """What is under seal in one book."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._sittings: dict[int, Sitting] | None = None

    def forget(self, change: Change) -> None:
        """Drops what a change has made stale."""
        if change.touches(Sitting):
            self._sittings = None

    @property
    def sittings(self) -> dict[int, Sitting]:
        """{key: sitting} of those that are sealed."""
        if self._sittings is None:
            where = (t.SITTING.c.clock_at.is_not(None), t.SITTING.c.revealed_at.is_(None))
            self._sittings = {one.key: one for one in self._store.select(KINDS[Sitting], *where)}
        return self._sittings

    def holds(self, value: Any) -> bool:
        """Whether a value is under seal."""
        if isinstance(value, Strip):
            return value.sitting in self.sittings
        return isinstance(value, BlindTest) and value.revealed_at is None

    def veil(self, value: V) -> V:
        """The value as it may be seen."""
        if isinstance(value, Strip) and value.sitting in self.sittings:
            clock = self.sittings[value.sitting].clock_at or value.dipped_at
            return replace(
                value, code=value.blind_code or "sealed", bottle=NO_BOTTLE, dipped_at=clock, strength=None, carrier=None,
                amount_g=None,
            )  # fmt: skip
        if isinstance(value, BlindTest) and value.revealed_at is None:
            return replace(value, sets=tuple(map(sealed, value.sets)))
        return value

    def can_ask(self, kind: type[Any], names: Iterable[str]) -> bool:
        """Whether values under seal may be told by these fields."""
        return not issubclass(kind, Strip) or HIDDEN.isdisjoint(names)

    def veiled(self, values: Iterable[V]) -> Iterator[V]:
        """Many values as they may be seen."""
        return map(self.veil, values)

    def told(self, change: Change) -> Change:
        """A change as it may be told."""
        if not change.touches(Strip, BlindTest):
            return change
        return Change(change.what, tuple((self.veil(old), self.veil(new)) for old, new in change.pairs))

    def unveil(self, value: V) -> V:
        """A value that was seen under seal and is put again: what it truly is, with what may be changed of it meanwhile."""
        if not self.holds(value) or getattr(value, "key", None) is None:
            return value
        seen: Any = value
        true = self._store.get(KINDS[type(seen)], seen.key)
        if true is None:
            return value
        kept = {"closed_at": seen.closed_at} if isinstance(true, Strip) else {"remark": seen.remark}
        opened: V = replace(true, **kept)
        return opened


# the same for rows as they lie in the file, for an export ---------------------------------------------------------------


def is_sealed(raw: sqlite3.Connection, table: str, names: list[str], row: list[Any]) -> bool:
    """Whether a row of a table is under seal."""
    if table == "blind_test":
        return row[names.index("revealed_at")] is None
    return table == "strip" and _clock(raw, row[names.index("sitting")]) is not None


def veiled_row(raw: sqlite3.Connection, table: str, names: list[str], row: list[Any]) -> list[Any]:
    """A row that is under seal as it may be seen."""
    shown = dict(zip(names, row, strict=True))
    if table == "blind_test":
        shown["sets"] = json.dumps([sealed(one) for one in json.loads(shown["sets"])])
    else:
        at, off = _clock(raw, shown["sitting"]) or (None, None)
        shown |= dict.fromkeys(("key", "bottle", "strength", "carrier", "amount_g"))
        shown |= {"code": shown["blind_code"], "dipped_at": at, "dipped_off": off}
    return [shown[name] for name in names]


def _clock(raw: sqlite3.Connection, sitting: int | None) -> tuple[int, int] | None:
    """The clock of a sealed sitting, None where it is not sealed."""
    row = raw.execute(
        "SELECT clock_at, clock_off FROM sitting WHERE key = ? AND clock_at IS NOT NULL AND revealed_at IS NULL", (sitting,)
    ).fetchone()
    return None if row is None else (row[0], row[1])
