# SPDX-License-Identifier: MIT
"""Weighings line by line: begun with a plan, every accepted figure on disk at once, taken up again where they were cut off.

`Book.weighings` is the door. A weighing is a Making without an end; its figures are moves; what its vessel holds is told from
them by the true contents of each bottle at that hour, and becomes a state of the vessel when the weighing is finished.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import select

from db import makings
from db import tables as t
from db.kinds import KINDS
from perfumery import Balance, Bottle, Contents, Making, Move, Planned, Pour, Value, Version, mixed, weighing
from perfumery.findings import refuse

if TYPE_CHECKING:
    from db.book import Book
    from db.queries import Queries
    from db.store import Store


class Weighings:
    """The weighings of one book. Masses in g; times are now where none is given."""

    def __init__(self, book: Book, queries: Queries, store: Store) -> None:
        self._book, self._queries, self._store = book, queries, store

    # reading ----------------------------------------------------------------------------------------------------------

    def unfinished(self) -> tuple[Making, ...]:
        """Weighings that were begun and not finished, the newest first."""
        where = (t.MAKING.c.finished_at.is_(None), t.MAKING.c.plan != "[]")
        return tuple(self._store.select(KINDS[Making], *where, newest_first=True))

    def poured(self, making: int) -> tuple[Move, ...]:
        """The figures of a weighing in force, in the order they were accepted."""
        where = (t.MOVE.c.making == making, t.MOVE.c.kind == "pour", *KINDS[Move].in_force())
        return tuple(sorted(self._store.select(KINDS[Move], *where), key=lambda move: (move.at, move.key or 0)))

    def remembered(self, version: int) -> tuple[int, ...]:
        """Keys of a version's lines in the order they were last weighed in; empty where it never was."""
        newest = (
            select(t.MOVE.c.making)
            .join(t.LINE, t.LINE.c.key == t.MOVE.c.line)
            .where(t.LINE.c.version == version, t.MOVE.c.kind == "pour", *KINDS[Move].in_force())
            # by the hour: a slip of an earlier weighing that is put right later makes it no later one
            .order_by(t.MOVE.c.at.desc(), t.MOVE.c.key.desc())
            .limit(1)
        )
        row = self._store.scalar(newest)
        return () if row is None else tuple(dict.fromkeys(m.line for m in self.poured(row) if m.line is not None))

    def as_weighed(self, trial: int | str) -> dict[int, float]:
        """{material: parts per thousand} of what a trial truly holds: from the masses read and the true contents of each bottle
        at that hour. `trial` is the key or code of the trial, or the key of its vial. Empty before its first figure.

        Raises Refused `reference-missing` for what is no weighing, `contents-unknown`.
        """
        making = self._book.get(Making, trial)
        if making is None and isinstance(trial, int):
            # what a top-up added later is no part of the trial
            where = (t.MAKING.c.into_bottle == trial, t.MAKING.c.kind != "top-up")
            making = next(self._store.select(KINDS[Making], *where, newest_first=True), None)
        if making is None or making.key is None:
            raise refuse("reference-missing", kind="Making", key=trial)
        pours = self._pours(making)
        if not pours:
            # made without weighing: what was meant is all that is known
            return {key: share * 1000 for key, share in self._book.contents(making.into_bottle, making.finished_at).items()}
        return {key: share * 1000 for key, share in mixed(pours).items()}

    def _pours(self, making: Making) -> list[Pour]:
        assert making.key is not None
        moves = [move for move in self.poured(making.key) if move.mass_g > 0]
        states = self._store.many(KINDS[Contents], [move.contents for move in moves if move.contents is not None])
        pours = []
        for move in moves:
            state = states.get(move.contents or 0)
            if state is None or not state.shares:
                raise refuse("contents-unknown", code=self._code(move.from_bottle))
            pours.append(Pour(state.shares, move.mass_g, move.u_g or 0.0))
        return pours

    def _code(self, bottle: int | None) -> str:
        held = None if bottle is None else self._book.get(Bottle, bottle)
        return "" if held is None else held.code

    # doing ------------------------------------------------------------------------------------------------------------

    def begin(
        self, kind: str, into: Bottle, plan: Iterable[Planned], *, balance: int | None = None, mode: str = "tare each",
        code: str | None = None, version: int | None = None, target_g: float | None = None, remark: str = "",
        at: datetime | None = None,
    ) -> Making:  # fmt: skip
        """A weighing with its plan and its empty vessel; nothing is frozen or drawn before its first figure.

        Raises Refused `reason-missing` for a child version without its reason, `no-lines` for an empty plan,
        `mass-not-positive` for a target that is no mass.
        """
        wanted = _checked(plan)
        makings.check_reason(None if version is None else self._book.get(Version, version))
        bottle = replace(into, key=into.key or self._book.new_key())
        assert bottle.key is not None
        making = Making(
            kind=kind, into_bottle=bottle.key, started_at=at or self._book.now(), code=code, version=version, balance=balance,
            mode=mode, target_g=target_g, remark=remark, plan=wanted, key=self._book.new_key(),
        )  # fmt: skip
        begun: Making = self._book.put(bottle, making, what=f"weighing {code or bottle.code} begun")[1]
        return begun

    def replan(self, making: int, plan: Iterable[Planned], mode: str | None = None) -> Making:
        """Another order, other bottles or targets for what is still to be weighed. Raises Refused `no-lines` for an empty plan,
        with which it would not be found again, `mass-not-positive` for a target that is no mass."""
        standing = self._open(making)
        fresh: Making = self._book.put(
            replace(standing, plan=_checked(plan), mode=mode or standing.mode), what=f"plan of {self._name(standing)}"
        )[0]
        return fresh

    def accept(
        self, making: int, bottle: int, read_g: float, *, line: int | None = None, target_g: float | None = None,
        at: datetime | None = None, remark: str = "",
    ) -> Move:  # fmt: skip
        """One figure of the balance: on disk at once, drawn from its bottle, and at the first one the version freezes.

        Raises Refused `mass-not-positive`, `beyond-left`, `source-itself`, `reason-missing`.
        """
        standing = self._open(making)
        if bottle == standing.into_bottle:
            raise refuse("source-itself", code=self._code(bottle))
        if not read_g > 0:
            raise refuse("mass-not-positive", mass_g=read_g)
        makings.check_reason(None if standing.version is None else self._book.get(Version, standing.version))
        held = self._queries.contents(bottle, at)
        balance = None if standing.balance is None else self._book.get(Balance, standing.balance)
        move = Move(
            at=at or self._book.now(), kind="pour", mass_g=read_g, from_bottle=bottle, to_bottle=standing.into_bottle,
            target_g=target_g, read_g=read_g, u_g=None if balance is None else weighing.net_u(balance), making=making,
            line=line, contents=None if held is None else held.key, remark=remark,
        )  # fmt: skip
        what = f"{self._code(bottle)} {read_g:g} g into {self._code(standing.into_bottle)}"
        accepted: Move = self._book.put(move, what=what)[0]
        return accepted

    def finish(self, making: int, remark: str = "", at: datetime | None = None) -> Bottle:
        """The weighing is done: what the vessel holds is told from what was read. Raises Refused `contents-unknown`,
        `mass-not-positive` where nothing was weighed."""
        standing = self._open(making)
        now = at or self._book.now()
        shares = mixed(self._pours(standing))
        ended = replace(standing, finished_at=now, remark=remark or standing.remark)
        state = Contents(bottle=standing.into_bottle, at=now, shares=shares, reason="made")
        self._book.put(ended, state, what=f"weighing {self._name(standing)} finished")
        vessel = self._book.get(Bottle, standing.into_bottle)
        assert vessel is not None
        return vessel

    def abandon(self, making: int, why: str = "") -> None:
        """The weighing is given up: what is in the vessel goes to waste, and stays in the book as that."""
        standing = self._open(making)
        now, vessel = self._book.now(), self._book.get(Bottle, standing.into_bottle)
        assert vessel is not None and vessel.key is not None
        values: list[Value] = [replace(standing, finished_at=now, remark=why or standing.remark)]
        left = self._queries.left((vessel.key,)).get(vessel.key, 0.0)
        if left > 0:
            values.append(Move(at=now, kind="discard", mass_g=left, from_bottle=vessel.key, making=making, remark=why))
        self._book.put(*values, replace(vessel, gone_on=now.date()), what=f"weighing {self._name(standing)} given up")

    def _open(self, making: int) -> Making:
        standing = self._book.get(Making, making)
        if standing is None:
            raise refuse("reference-missing", kind="Making", key=making)
        if standing.finished_at is not None:
            raise refuse("record", name=self._name(standing))
        return standing

    def _name(self, making: Making) -> str:
        return making.code or self._code(making.into_bottle)


def _checked(plan: Iterable[Planned]) -> tuple[Planned, ...]:
    wanted = tuple(plan)
    if not wanted:
        raise refuse("no-lines")
    for planned in wanted:
        if not (math.isfinite(planned.target_g) and planned.target_g >= 0):
            raise refuse("mass-not-positive", mass_g=planned.target_g)
    return wanted
