# SPDX-License-Identifier: MIT
"""Sittings: what was smelled under the same conditions, sealed and revealed where it is blind, and what they tell of the nose.

`Book.sittings` is the door.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from random import Random, SystemRandom
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from db import tables as t
from db.kinds import KINDS
from perfumery import OwnNoise, Project, Reading, Sitting, Strip, Value, own_noise, todays_nose
from perfumery.findings import refuse
from perfumery.instants import to_ms
from perfumery.noise import Dipped, repeat_pairs
from perfumery.nose import Nose, due_intensities
from perfumery.rest import LONG_SPAN, Pacing, pacing
from perfumery.serving import blind_codes

if TYPE_CHECKING:
    from db.book import Book
    from db.queries import Queries
    from db.seal import Seal
    from db.store import Store

# So many codes of the newest strips are not given again.
CODES_KEPT = 200
# More than a nose smells in the time that it is paced over.
MOST_SMELLS = 1_000


@dataclass(frozen=True, slots=True)
class SittingRow:
    """A sitting as a list shows it: how many strips, whether the benchmark hangs among them."""

    sitting: Sitting
    strips: int
    has_benchmark: bool


class Sittings:
    """The sittings of one book; times are now where none is given."""

    def __init__(self, book: Book, queries: Queries, store: Store, seal: Seal, put: Callable[..., tuple[Any, ...]]) -> None:
        self._book, self._queries, self._store, self._seal, self._put = book, queries, store, seal, put
        self._rows: dict[int | None, SittingRow] = {}

    # reading ----------------------------------------------------------------------------------------------------------

    def rows(self) -> tuple[SittingRow, ...]:
        """Every sitting with what hangs in it, the newest first."""
        strip = t.STRIP.c
        hung = select(strip.sitting, func.count()).where(strip.sitting.is_not(None)).group_by(strip.sitting)
        counts = {row[0]: row[1] for row in self._store.rows(hung)}
        marks = {one.benchmark for one in self._book.all(Project) if one.benchmark is not None}
        held = {row[0] for row in self._store.rows(select(strip.sitting).distinct().where(strip.bottle.in_(sorted(marks))))}
        # the same row where nothing changed: a list of years is compared with the one before
        before, self._rows = self._rows, {}
        for one in self._queries.sittings():
            row = SittingRow(one, counts.get(one.key or 0, 0), has_benchmark=one.key in held)
            known = before.get(one.key)
            self._rows[one.key] = known if known is not None and known == row else row
        return tuple(self._rows.values())

    def last(self) -> Sitting | None:
        """The newest sitting."""
        return self._queries.last_sitting()

    def papers(self, sitting: int) -> tuple[str, ...]:
        """The codes written on the hidden ends of a sitting's papers, in the order they were dipped."""
        return tuple(strip.code for strip in self._strips(sitting))

    def read_strips(self, sitting: int) -> tuple[str, ...]:
        """The codes of what was read already in a sitting, in the order it was dipped: while there are any it takes no seal."""
        strips = self._store.select(KINDS[Strip], t.STRIP.c.sitting == sitting)
        in_order = sorted(self._seal.veiled(strips), key=lambda strip: (strip.dipped_at, strip.key))
        readings = self._queries.readings(strip.key for strip in in_order)
        return tuple(strip.code for strip in in_order if readings[strip.key])

    def noise(self, project: int) -> OwnNoise | None:
        """One's own noise from the repeats among a project's strips; None while there are too few."""
        strips = [strip for strip in self._queries.strips(project) if not self._seal.holds(strip)]
        return own_noise(repeat_pairs(self._dipped(strips)))

    def nose(self, sitting: int) -> Nose | None:
        """How the benchmark was read in a sitting beside earlier ones; None where that cannot be told yet."""
        today = self._known(sitting)
        marks = {one.benchmark for one in self._book.all(Project) if one.benchmark is not None}
        if today.benchmark is not None:
            marks.add(today.benchmark)
        own = [s for key in sorted(marks) for s in self._store.select(KINDS[Strip], t.STRIP.c.bottle == key)]
        own = [strip for strip in own if strip.sitting is not None and not self._seal.holds(strip)]
        readings = self._queries.readings(strip.key for strip in own)
        by_sitting: dict[int, tuple[Strip, dict[float, float]]] = {}
        for strip in sorted(own, key=lambda one: (one.dipped_at, one.key), reverse=True):
            by_sitting[strip.sitting] = strip, due_intensities(readings[strip.key], strip)
        if sitting not in by_sitting:
            return None
        strip, found = by_sitting[sitting]
        before = [(other, dues) for other, dues in by_sitting.values() if other.dipped_at < strip.dipped_at]
        earlier = [dues for other, dues in before if other.bottle == strip.bottle]
        return todays_nose(found, earlier)

    def pacing(self, now: datetime) -> Pacing:
        """How many smells the nose has had lately, and how long it should rest."""
        since, kind = to_ms(now - 2 * LONG_SPAN)[0], KINDS[Reading]
        # a reading is written down when it is read or later, so the newest rows hold them all
        newest = select(t.READING.c.key).order_by(t.READING.c.key.desc()).limit(MOST_SMELLS)
        where = (t.READING.c.key.in_(newest), t.READING.c.at >= since)
        return pacing([reading.at for reading in self._store.select(kind, *where, *kind.in_force())], now)

    def _dipped(self, strips: Iterable[Strip]) -> list[Dipped]:
        own = list(strips)
        readings = self._queries.readings(strip.key for strip in own if strip.key is not None)
        origins = self._queries.origins(strip.bottle for strip in own)
        found = []
        for strip in own:
            origin = origins[strip.bottle]
            vial = strip.bottle if origin.making is None else origin.making.into_bottle
            found.append(
                Dipped(strip, readings.get(strip.key or 0, ()), vial, origin.concentrate_at, origin.alcohol_at, strip.strength,
                       strip.carrier)
            )  # fmt: skip
        return found

    # doing ------------------------------------------------------------------------------------------------------------

    def begin(self, at: datetime | None = None, **conditions: Any) -> Sitting:
        """A new sitting under these conditions (fields of Sitting)."""
        fresh = Sitting(at=at or self._book.now(), code=self._book.next_code(Sitting, "S"), **conditions)
        begun: Sitting = self._put(fresh, what=f"sitting {fresh.code}")[0]
        return begun

    def set(self, sitting: int, **conditions: Any) -> Sitting:
        """Other conditions, or another purpose, of a sitting."""
        changed: Sitting = self._put(replace(self._known(sitting), **conditions), what="conditions of the sitting")[0]
        return changed

    def seal(self, sitting: int, *, shuffled: bool, rng: Random | None = None) -> dict[str, Strip]:
        """Gives every strip of a sitting a three-digit code and one clock that begins now; from then on the book tells nobody
        which is which until `reveal`.

        Returns {code: the strip it stands on}, this once and only for whoever writes the codes on the papers. With `shuffled`
        the papers were shuffled unseen: then the codes are only to be written on them, and the strips in it mean nothing.
        Raises Refused `sealed` for one that is sealed or revealed, `sitting-empty` where no paper hangs in it, `sitting-read`
        where something in it was read: those readings are older than the clock would be, and of a paper that was known.
        """
        standing = self._known(sitting)
        if standing.clock_at is not None or standing.revealed_at is not None:
            raise refuse("sealed", code=standing.code)
        strips = self._strips(sitting)
        if not strips:
            raise refuse("sitting-empty", code=standing.code)
        read = self.read_strips(sitting)
        if read:
            raise refuse("sitting-read", code=standing.code, strips=list(read))
        chance = rng or SystemRandom()
        taken = [row[0] for row in self._store.rows(
            select(t.STRIP.c.blind_code).where(t.STRIP.c.blind_code != "").order_by(t.STRIP.c.key.desc()).limit(CODES_KEPT)
        )]  # fmt: skip
        codes = blind_codes(len(strips), chance, taken)
        coded = [replace(strip, blind_code=code) for strip, code in zip(strips, codes, strict=True)]
        sealed = replace(standing, blind=True, clock_at=self._book.now(), shuffled=shuffled)
        self._put(sealed, *coded, what=f"sitting {standing.code} sealed")
        return {strip.blind_code: strip for strip in coded}

    def reveal(self, sitting: int, papers: Mapping[str, str] | None = None) -> tuple[Strip, ...]:
        """Opens the seal: true codes, bottles and dip times return. `papers` {blind code: the code on the hidden end} tells,
        where they were shuffled, which paper was which. Returns the strips as they are.

        Raises Refused `not-sealed`, `papers-missing` where a shuffled paper is not named or one is named twice.
        """
        standing = self._known(sitting)
        if not standing.is_sealed:
            raise refuse("not-sealed", code=standing.code)
        strips = self._strips(sitting)
        values: list[Value] = []
        if standing.shuffled:
            own = {strip.code: strip for strip in strips}
            named = {code: (papers or {}).get(code, "") for code in (strip.blind_code for strip in strips)}
            if sorted(named.values()) != sorted(own):
                lacking = sorted(set(own) - set(named.values()))
                raise refuse("papers-missing", code=standing.code, papers=lacking)
            values = _swapped(strips, {code: own[paper] for code, paper in named.items()})
        self._put(*values, replace(standing, revealed_at=self._book.now()), what=f"sitting {standing.code} revealed")
        return tuple(self._strips(sitting))

    def _strips(self, sitting: int) -> list[Strip]:
        where = (t.STRIP.c.sitting == sitting, t.STRIP.c.kind == "paper")
        return sorted(self._store.select(KINDS[Strip], *where), key=lambda strip: (strip.dipped_at, strip.key))

    def _known(self, sitting: int) -> Sitting:
        standing = self._book.get(Sitting, sitting)
        if standing is None:
            raise refuse("reference-missing", kind="Sitting", key=sitting)
        return standing


def _swapped(strips: Iterable[Strip], meant: Mapping[str, Strip]) -> list[Value]:
    """The strips with what each truly is; codes first go out of the way, since no two strips may share one."""
    own = list(strips)
    aside = [replace(strip, code=f"{strip.code} of {strip.blind_code}") for strip in own]
    true = [
        replace(
            strip, code=meant[strip.blind_code].code, bottle=meant[strip.blind_code].bottle,
            dipped_at=meant[strip.blind_code].dipped_at, strength=meant[strip.blind_code].strength,
            carrier=meant[strip.blind_code].carrier, amount_g=meant[strip.blind_code].amount_g,
        )
        for strip in own
    ]  # fmt: skip
    return [*aside, *true]


def is_current(sitting: Sitting, now: datetime, hours: float = 12.0) -> bool:
    """Whether a strip dipped now belongs to a sitting: strips further apart than this were smelled under other conditions."""
    open_ = sitting.revealed_at is None and sitting.clock_at is None
    return open_ and timedelta(0) <= now - sitting.at <= timedelta(hours=hours)
