# SPDX-License-Identifier: MIT
"""Weighings line by line: begun with a plan, every accepted figure on disk at once, taken up again where they were cut off.

`Book.weighings` is the door, for trials and for dilutions, accords, smelling dilutions and top-ups alike. A weighing is a Making
without an end; its figures are moves; what its vessel holds is told from them by the true contents of each bottle at that hour,
and becomes a state of the vessel when the weighing is finished. A free pour is a trial without a version: its plan grows by a
bottle at a time, and what was poured may become a version afterwards.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import exists, func, select

from db import makings
from db import tables as t
from db.kinds import KINDS
from perfumery import (
    Balance,
    Bottle,
    Contents,
    Line,
    Making,
    Move,
    Planned,
    Pour,
    Value,
    Version,
    ledger,
    mixed,
    resolved,
    weighing,
)
from perfumery.findings import refuse

if TYPE_CHECKING:
    from db.book import Book
    from db.queries import Queries
    from db.store import Store

# Ways in which a mixture leaves its vessel as it is; what evaporates or was booked wrongly is none of them.
_OUT = ("spill", "used", "given", "strip", "pour", "discard")
# Ways in which a version becomes a liquid of its own.
OF_VERSIONS = ("trial", "accord", "batch")


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

    def done(self, versions: Iterable[int]) -> dict[int, tuple[Making, ...]]:
        """{version: its trials and other makings that were weighed to their end, the newest first}; versions without any are left
        out. One that was given up left no liquid, and is none."""
        making = t.MAKING.c
        told = exists(select(t.CONTENTS.c.key).where(t.CONTENTS.c.bottle == making.into_bottle))
        ended = (making.finished_at.is_not(None), making.mode != "not weighed", told)
        where = (making.version.in_(sorted(versions)), making.kind.in_(OF_VERSIONS), *ended)
        found: dict[int, tuple[Making, ...]] = {}
        newest = sorted(self._store.select(KINDS[Making], *where), key=lambda one: (one.finished_at, one.key), reverse=True)
        for one in newest:
            found[one.version] = (*found.get(one.version, ()), one)
        return found

    def remembered(self, version: int) -> tuple[int, ...]:
        """Keys of a version's lines in the order they were last weighed in; what a weighing that was cut off or given up did not
        come to follows in the order of the time before. Empty where it never was weighed."""
        own = set(self._store.rows(select(t.LINE.c.key).where(t.LINE.c.version == version)))
        newest = (
            select(t.MOVE.c.making)
            .join(t.LINE, t.LINE.c.key == t.MOVE.c.line)
            .where(t.LINE.c.version == version, t.MOVE.c.kind == "pour", *KINDS[Move].in_force())
            # by the hour: a slip of an earlier weighing that is put right later makes it no later one
            .group_by(t.MOVE.c.making)
            .order_by(func.max(t.MOVE.c.at).desc(), func.max(t.MOVE.c.key).desc())
        )
        order: dict[int, None] = {}
        for (making,) in self._store.rows(newest):
            order |= dict.fromkeys(move.line for move in self.poured(making) if move.line is not None and move.line not in order)
            if all(line in order for (line,) in own):
                break
        return tuple(order)

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

    def inside(self, making: int, *, at_last: bool = False) -> dict[int, float]:
        """{key of a figure: g of it that is still in the vessel}. What was spilled out of the vessel took the same share of all
        that was in it by then, and nothing of what came later. `at_last` tells of the last figure's hour: what left after that
        took of all alike, and changes no share."""
        figures = self.poured(making)
        return self._mixed_in(figures) if at_last else self._inside(figures)

    def _inside(
        self, figures: Sequence[Move], until: Move | None = None, put_right: Mapping[int, Move] | None = None
    ) -> dict[int, float]:
        """As `inside`; with `until` only what left the vessel before that figure counts."""
        kept = {move.key or 0: move.mass_g for move in figures}
        vessel = figures[0].to_bottle if figures else None
        own = () if vessel is None else _put_right(self._book.bottles.moves(vessel), put_right or {})
        for place, move in enumerate(own):
            if until is not None and move.key == until.key:
                break
            if move.from_bottle != vessel or move.kind not in _OUT or vessel is None:
                continue
            there = ledger.left(vessel, own[:place])
            share = max(1 - move.mass_g / there, 0.0) if there > 0 else 1.0
            before = {other.key for other in own[:place]}
            kept = {key: round(mass * share, 9) if key in before else mass for key, mass in kept.items()}
        return kept

    def _mixed_in(self, figures: Sequence[Move], put_right: Mapping[int, Move] | None = None) -> dict[int, float]:
        """{key of a figure: g of it inside when the last came}; what leaves the vessel after that takes of all alike."""
        return self._inside(figures, figures[-1], put_right) if figures else {}

    def _pours(self, making: Making, put_right: Mapping[int, Move] | None = None) -> list[Pour]:
        assert making.key is not None
        figures = _put_right(self.poured(making.key), put_right or {})
        inside = self._mixed_in(figures, put_right)
        moves = [move for move in figures if inside[move.key or 0] > 0]
        states = self._store.many(KINDS[Contents], [move.contents for move in moves if move.contents is not None])
        pours = []
        for move in moves:
            state = states.get(move.contents or 0)
            if state is None or not state.shares:
                raise refuse("contents-unknown", code=self._code(move.from_bottle))
            pours.append(Pour(state.shares, inside[move.key or 0], move.u_g or 0.0))
        return pours

    def restated(self, old: Move, new: Move) -> tuple[Contents, ...]:
        """What a vessel holds whose weighing is done once a figure of it is put right, as a state of the same hour; nothing where
        it was no such figure, or the vessel has got another state since. What was drawn meanwhile keeps the state it was drawn
        of. A bottle that was topped up keeps its state: it is set right there."""
        making = None if old.making is None or old.kind != "pour" else self._book.get(Making, old.making)
        if making is None or making.finished_at is None or making.kind == "top-up":
            return ()
        states = self._book.bottles.states(making.into_bottle)
        pours = self._pours(making, {old.key or 0: new}) if states and states[-1].at == making.finished_at else []
        return (replace(states[-1], shares=mixed(pours), key=None),) if pours else ()

    def _code(self, bottle: int | None) -> str:
        held = None if bottle is None else self._book.get(Bottle, bottle)
        return "" if held is None else held.code

    # doing ------------------------------------------------------------------------------------------------------------

    def begin(
        self, kind: str, into: Bottle, plan: Iterable[Planned], *, balance: int | None = None, mode: str = "tare each",
        code: str | None = None, version: int | None = None, target_g: float | None = None, remark: str = "",
        at: datetime | None = None, settle: bool = False, also: tuple[Value, ...] = (),
    ) -> Making:  # fmt: skip
        """A weighing with its plan and its vessel; nothing is frozen or drawn before its first figure. `also` is put before it,
        such as the bottle and contents of a source that was not in the book yet.

        Kind 'top-up' adds to a bottle that stands, and `into` is its label from now on; what a re-weighing found missing in it
        is written off first, with `settle` as carrier that evaporated.
        Raises Refused `reason-missing` for a child version without its reason, `no-lines` for an empty plan,
        `mass-not-positive` for a target that is no mass; for a top-up `contents-unknown`, `left-unknown`.
        """
        wanted = _checked(plan)
        makings.check_reason(None if version is None else self._book.get(Version, version))
        bottle = replace(into, key=into.key or self._book.new_key())
        assert bottle.key is not None
        loss: list[Value] = []
        if kind == "top-up":
            loss = self._book.bottles.loss(bottle.key, settle=settle)
            self._book.bottles.before(bottle, (*also, *loss))
        making = Making(
            kind=kind, into_bottle=bottle.key, started_at=at or self._book.now(), code=code, version=version, balance=balance,
            mode=mode, target_g=target_g, remark=remark, plan=wanted, key=self._book.new_key(),
        )  # fmt: skip
        begun: Making = self._book.put(*also, *loss, bottle, making, what=f"weighing {code or bottle.code} begun")[-1]
        return begun

    def add_to(self, vial: int, into: Bottle, *, balance: int | None = None, mode: str = "tare each", code: str | None = None,
               at: datetime | None = None) -> Making:  # fmt: skip
        """More into a vial whose trial is closed: a trial of its own, the first line of which is all that the old vial holds.
        Strips from the old vial keep what it was; its code is gone, since its liquid goes on under the new one.

        Raises Refused `left-unknown` for an amount nobody knows, `gone`.
        """
        now = at or self._book.now()
        standing = self._book.get(Bottle, vial)
        if standing is None:
            raise refuse("reference-missing", kind="Bottle", key=vial)
        if standing.gone_on is not None:
            raise refuse("gone", code=standing.code)
        left = self._queries.left((vial,)).get(vial, 0.0)
        if not left > 0:
            raise refuse("left-unknown", code=standing.code)
        held = self._queries.contents(vial, now)
        bottle = replace(into, key=into.key or self._book.new_key())
        assert bottle.key is not None
        making = Making(
            kind="trial", into_bottle=bottle.key, started_at=now, code=code, balance=balance, mode=mode,
            plan=(Planned(left, bottle=vial),), key=self._book.new_key(),
        )  # fmt: skip
        # what the book says is in it: no balance showed it again
        first = Move(
            at=now, kind="pour", mass_g=left, from_bottle=vial, to_bottle=bottle.key, target_g=left, making=making.key,
            contents=None if held is None else held.key, estimated=True, remark=f"all of {standing.code}",
        )  # fmt: skip
        gone = replace(standing, gone_on=now.date())
        put = self._book.put(bottle, making, first, gone, what=f"{standing.code} goes on as {bottle.code}")
        begun: Making = put[1]
        return begun

    def pour_from(self, making: int, bottle: int) -> Making:
        """A free pour goes on from a bottle: it stands at the end of the plan, with no target."""
        standing = self._open(making)
        return self.replan(making, (*standing.plan, Planned(0.0, bottle=bottle)))

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
        at: datetime | None = None, remark: str = "", estimated: bool = False,
    ) -> Move:  # fmt: skip
        """One figure of the balance: on disk at once, drawn from its bottle, and at the first one the version freezes.
        `estimated` is a mass that no balance showed, such as counted drops.

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
            target_g=target_g, read_g=None if estimated else read_g,
            u_g=None if balance is None or estimated else weighing.net_u(balance), making=making, line=line,
            contents=None if held is None else held.key, remark=remark, estimated=estimated,
        )  # fmt: skip
        mass = f"{read_g:.3f}" if round(read_g, 3) == read_g else f"{read_g:g}"
        what = f"{self._code(bottle)} {mass} g into {self._code(standing.into_bottle)}"
        accepted: Move = self._book.put(move, what=what)[0]
        return accepted

    def finish(self, making: int, remark: str = "", at: datetime | None = None) -> Bottle:
        """The weighing is done: what the vessel holds is told from what was read. Raises Refused `contents-unknown`,
        `mass-not-positive` where nothing was weighed."""
        standing = self._open(making)
        now = at or self._book.now()
        is_top_up = standing.kind == "top-up"
        pours = self._pours(standing)
        shares = mixed([*self._standing(standing, pours), *pours] if is_top_up and pours else pours)
        ended = replace(standing, finished_at=now, remark=remark or standing.remark)
        state = Contents(bottle=standing.into_bottle, at=now, shares=shares, reason="topped up" if is_top_up else "made")
        self._book.put(ended, state, what=f"weighing {self._name(standing)} finished")
        vessel = self._book.get(Bottle, standing.into_bottle)
        assert vessel is not None
        return vessel

    def abandon(self, making: int, why: str = "") -> None:
        """The weighing is given up: what is in the vessel goes to waste, and stays in the book as that. A bottle that is topped
        up is kept, with what came in so far."""
        standing = self._open(making)
        if standing.kind == "top-up":
            if self.poured(making):
                self.finish(making, why)
            else:
                ended = replace(standing, finished_at=self._book.now(), remark=why or standing.remark)
                self._book.put(ended, what=f"weighing {self._name(standing)} given up")
            return
        now, vessel = self._book.now(), self._book.get(Bottle, standing.into_bottle)
        assert vessel is not None and vessel.key is not None
        values: list[Value] = [replace(standing, finished_at=now, remark=why or standing.remark)]
        left = self._queries.left((vessel.key,)).get(vessel.key, 0.0)
        if left > 0:
            values.append(Move(at=now, kind="discard", mass_g=left, from_bottle=vessel.key, making=making, remark=why))
        self._book.put(*values, replace(vessel, gone_on=now.date()), what=f"weighing {self._name(standing)} given up")

    def keep_as_version(self, making: int, project: int, code: str, *, name: str = "", reason: str = "") -> Version:
        """A version of what was freely poured, parts per thousand of it; the trial and its vial are of that version from now on,
        which is frozen as one that was weighed.

        Raises Refused `reference-missing`, `record` for a trial that has its version, `no-lines` before its first figure,
        `contents-unknown` for a bottle of which nobody knows what it is.
        """
        trial = self._book.get(Making, making)
        if trial is None or trial.key is None:
            raise refuse("reference-missing", kind="Making", key=making)
        if trial.version is not None:
            raise refuse("record", name=self._name(trial))
        poured = self._lines_of(trial)
        total = math.fsum(poured.values())
        if not total > 0:
            raise refuse("no-lines")
        lines = tuple(replace(line, parts=round(grams / total * 1000, 4)) for line, grams in poured.items())
        vial = self._book.get(Bottle, trial.into_bottle)
        assert vial is not None
        version = Version(project=project, code=code, name=name, reason=reason, lines=lines, key=self._book.new_key())
        label = f"{code} {trial.code or vial.code}"
        put = self._book.put(
            version, replace(trial, version=version.key), replace(vial, version=version.key, label=label),
            what=f"{self._name(trial)} kept as {code}",
        )  # fmt: skip
        kept = self._book.get(Version, put[0].key)
        assert kept is not None
        return kept

    def _lines_of(self, trial: Making) -> dict[Line, float]:
        """{line of one part: g} of what was poured into a trial; equal stocks together."""
        assert trial.key is not None
        found: dict[Line, float] = {}
        figures = self.poured(trial.key)
        inside = self._mixed_in(figures)
        for move in figures:
            if move.from_bottle is not None and inside[move.key or 0] > 0:
                for line, grams in self._lines_in(move.from_bottle, inside[move.key or 0]):
                    found[line] = found.get(line, 0.0) + grams
        return found

    def _lines_in(self, bottle: int, grams: float) -> list[tuple[Line, float]]:
        """So much of a bottle as lines: its stock by its label, its accord, or what was poured into it."""
        held = self._book.get(Bottle, bottle)
        if held is not None and held.material is not None:
            carrier = None if held.strength == 1 else held.carrier
            return [(Line(parts=1.0, material=held.material, strength=held.strength, carrier=carrier), grams)]
        if held is not None and held.kind == "accord" and held.strength == 1:
            return [(Line(parts=1.0, accord=held.version), grams)]
        made = next(self._store.select(KINDS[Making], t.MAKING.c.into_bottle == bottle, newest_first=True), None)
        inside = {} if made is None or made.kind == "top-up" else self._lines_of(made)
        if not inside and held is not None and held.version is not None and held.strength == 1:
            version = self._book.get(Version, held.version)
            inside = {} if version is None else {replace(line, parts=1.0, key=None): line.parts for line in resolved(version)}
        total = math.fsum(inside.values())
        if not total > 0:
            raise refuse("contents-unknown", code=self._code(bottle))
        return [(line, mass * grams / total) for line, mass in inside.items()]

    def _standing(self, making: Making, pours: list[Pour]) -> list[Pour]:
        """What a bottle held before it was topped up: all that was in it at the last figure, less what this weighing brought."""
        assert making.key is not None
        held, last = self._queries.contents(making.into_bottle, None), self.poured(making.key)[-1]
        by_then = [m for m in self._book.bottles.moves(making.into_bottle) if (m.at, m.key or 0) <= (last.at, last.key or 0)]
        left = ledger.left(making.into_bottle, by_then) - math.fsum(p.mass_g for p in pours)
        return [] if held is None or not left > 0 else [Pour(held.shares, left)]

    def _open(self, making: int) -> Making:
        standing = self._book.get(Making, making)
        if standing is None:
            raise refuse("reference-missing", kind="Making", key=making)
        if standing.finished_at is not None:
            raise refuse("record", name=self._name(standing))
        return standing

    def _name(self, making: Making) -> str:
        return making.code or self._code(making.into_bottle)


def _put_right(moves: Sequence[Move], put_right: Mapping[int, Move]) -> list[Move]:
    """Moves with some in the place of those they replace; what is withdrawn falls out."""
    fresh = (put_right.get(move.key or 0, move) for move in moves)
    return [move for move in fresh if move.kind != "withdrawn"]


def _checked(plan: Iterable[Planned]) -> tuple[Planned, ...]:
    wanted = tuple(plan)
    if not wanted:
        raise refuse("no-lines")
    for planned in wanted:
        if not (math.isfinite(planned.target_g) and planned.target_g >= 0):
            raise refuse("mass-not-positive", mass_g=planned.target_g)
    return wanted
