# SPDX-License-Identifier: MIT
"""The bottles of the shelf with what their ledgers say: one query for all of them, kept and read again where a Change touched."""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, text

from db.errors import DamagedBook
from db.kinds import KINDS, NOT_A_VALUE
from db.undo import Change
from perfumery import Bottle, Contents, Habit, Material, Move, Version, ledger, service, weighing
from perfumery.instants import from_ms
from perfumery.ledger import Drift
from perfumery.text import fold
from perfumery.values import MOST_MONTHS

# What stands on the shelf for long, and what a trial leaves behind: the two groups a screen asks for.
STANDING = ("bought", "dilution", "accord", "batch", "product", "retained", "benchmark")
VIALS = ("trial", "smelling")
# So many bottles are read in one piece.
AT_ONCE = 120


@dataclass(frozen=True, slots=True)
class BottleRow:
    """A bottle as a list shows it. Masses in g, None where nothing was ever weighed into it: `left_g` as far as is known,
    `arrived_g` all that ever came in, `book_g` what the ledger says, `found_g` on `found_at` what the last re-weighing showed,
    `missing_g` that against the book of its hour. `counted_from` is since when a loss counts: made, or last topped up or
    settled. `strength` is the true share of its material now, None where its contents are not known. `drift` only for a material
    whose loss can be told. `hay` is the folded text it is searched in.
    """

    bottle: Bottle
    what: str
    form: str
    carrier_name: str
    left_g: float | None
    arrived_g: float | None
    book_g: float | None
    found_g: float | None
    found_at: datetime | None
    missing_g: float | None
    made_at: datetime | None
    counted_from: datetime | None
    strength: float | None
    drift: Drift | None
    retest_on: date | None
    dropper_on: date | None
    hay: str

    @property
    def key(self) -> int:
        """The bottle's key."""
        assert self.bottle.key is not None
        return self.bottle.key

    @property
    def top_up_g(self) -> float:
        """g of carrier that bring it back now, if carrier is what was missing: what was drawn since took its part along."""
        if self.drift is None or self.left_g is None or not self.found_g:
            return 0.0
        return self.drift.top_up_g * max(self.left_g, 0.0) / self.found_g

    @property
    def weighed_at(self) -> datetime | None:
        """When its mass was last seen on a balance: found again, else when it came."""
        return self.found_at or self.made_at


@dataclass(frozen=True, slots=True)
class ServiceDue:
    """A day of a bottle: 're-test', 'dropper cap' or 'ready', and whether it is 'due' or 'soon'."""

    bottle: int
    code: str
    what: str
    kind: str
    on: date
    state: str


# In force: neither replaced nor withdrawn. A CROSS JOIN keeps the order it is written in: bottles first, then each one's moves
# by their index. `last` is the newest re-weighing of each bottle, `flow` every mass with its sign, `held` its states of contents:
# now, when it was weighed, and the one up to then that began the count of losses anew.
_LIVE = "NOT EXISTS (SELECT 1 FROM move later WHERE later.replaces = m.key)"
_FLOW = f"""SELECT l.bottle, m.at, m.off, {{sign}}m.mass_g AS g, (l.key IS NULL OR (m.at, m.key) > (l.at, l.key)) AS later
    FROM last l CROSS JOIN move m ON m.{{end}} = l.bottle WHERE m.kind NOT IN ('found', 'withdrawn') AND {_LIVE}"""
_ROWS = f"""
WITH chosen AS (SELECT key FROM bottle WHERE {{which}}),
last AS MATERIALIZED (SELECT c.key AS bottle, f.key, f.at, f.off, f.mass_g, f.u_g FROM chosen c LEFT JOIN move f ON f.key =
    (SELECT m.key FROM move m WHERE (m.to_bottle = c.key OR m.from_bottle = c.key) AND m.kind = 'found' AND {_LIVE}
    ORDER BY m.at DESC, m.key DESC LIMIT 1)),
flow AS ({_FLOW.format(sign="", end="to_bottle")} UNION ALL {_FLOW.format(sign="-", end="from_bottle")}),
mass AS (SELECT bottle, sum(g) AS book, total(iif(g > 0, g, 0)) AS arrived, total(iif(later, g, 0)) AS since,
    min(at) AS first, off AS first_off FROM flow GROUP BY bottle),
held AS MATERIALIZED (SELECT bottle,
    (SELECT key FROM contents c WHERE c.bottle = l.bottle ORDER BY c.at DESC, c.key DESC LIMIT 1) AS now,
    (SELECT key FROM contents c WHERE c.bottle = l.bottle AND c.at <= l.at ORDER BY c.at DESC, c.key DESC LIMIT 1) AS weighed,
    (SELECT key FROM contents c WHERE c.bottle = l.bottle AND c.at <= l.at AND c.reason IN ('drift', 'topped up')
    ORDER BY c.at DESC, c.key DESC LIMIT 1) AS settled FROM last l)
SELECT {{columns}}, m.name, m.bench_name, m.form, m.retest_months, m.synonyms, m.words, m.cas, v.code, v.name, h.name,
    h.bench_name, h.synonyms, mass.book, mass.arrived, mass.since, mass.first, mass.first_off, last.mass_g, last.at, last.off,
    last.u_g, (SELECT share FROM content_share WHERE contents = held.now AND material = b.material),
    (SELECT share FROM content_share WHERE contents = held.weighed AND material = b.material), settled.at, settled.off
FROM last CROSS JOIN bottle b ON b.key = last.bottle LEFT JOIN mass ON mass.bottle = b.key LEFT JOIN held ON held.bottle = b.key
    LEFT JOIN contents settled ON settled.key = held.settled LEFT JOIN material m ON m.key = b.material
    LEFT JOIN version v ON v.key = b.version LEFT JOIN material h ON h.key = b.carrier
ORDER BY b.key
"""


def read(sql: Connection, path: Path, which: str, habits: Mapping[str, float]) -> dict[int, BottleRow]:
    """{key: row} of the bottles for which an SQL condition on the table of bottles holds. Raises DamagedBook, with the path of
    the book, for a row that makes none."""
    kind = KINDS[Bottle]
    columns = [f"b.{column.name}" for column in kind.columns()]
    found = {}
    for row in sql.execute(text(_ROWS.format(which=which, columns=", ".join(columns)))):
        try:
            made = _row(kind.load(row[: len(columns)]), habits, *row[len(columns) :])
        except NOT_A_VALUE as error:
            raise DamagedBook(path, f"bottle {row[0]}: {error}") from error
        found[made.key] = made
    return found


def _row(
    bottle: Bottle, habits: Mapping[str, float], name: str | None, bench_name: str, form: str, months: int | None,
    synonyms: str, words: str, cas: str, version: str | None, version_name: str, carrier: str | None, carrier_bench: str,
    carrier_signs: str, book: float | None, arrived: float | None, since: float | None, first: int | None, first_off: int,
    found: float | None, found_ms: int, found_off: int, u_g: float | None, share: float | None, share_then: float | None,
    settled_ms: int | None, settled_off: int,
) -> BottleRow:  # fmt: skip
    """One row of the query as a value; text columns of a material or version that is not there are None like its name."""
    material = None
    if name is not None:
        kept = months if 0 <= (months or 0) <= MOST_MONTHS else None
        material = Material(name=name, bench_name=bench_name, form=form, retest_months=kept)
    if not arrived:
        # what only left, or was poured without weighing, tells no mass
        book = None
    made_at = None if first is None else from_ms(first, first_off)
    found_at = None if found is None else from_ms(found_ms, found_off)
    book_g = None if book is None else round(book, 9)
    then_g = None if book is None or found is None else round(book - (since or 0.0), 9)
    counted_from = made_at if settled_ms is None else from_ms(settled_ms, settled_off)
    drift = None
    if found and then_g and share_then and found_at is not None and counted_from is not None and then_g > 0:
        drift = ledger.drift(
            made_on=counted_from.date(), strength=share_then, book_g=then_g, found_g=found, found_on=found_at.date(),
            tolerance=habits["drift tolerance"], noise_g=None if u_g is None else weighing.K * u_g,
        )  # fmt: skip
    if material is not None:
        what, retest = material.short, service.retest_months(material, habits)
    else:
        named = " ".join(filter(None, (version_name, version))) or bottle.label
        # of the vials of one version each is told by its trial
        what, retest = (bottle.label or named) if bottle.kind in VIALS else named, None
    sought = (what, name, cas, form, synonyms, words, bottle.code, bottle.label, bottle.lot, bottle.supplier, bottle.supplier_no,
              bottle.place)  # fmt: skip
    return BottleRow(
        bottle=bottle,
        what=what,
        form=form or "",
        carrier_name="" if carrier is None else _carrier_name(carrier, carrier_bench, carrier_signs),
        left_g=None if book is None and found is None else round((found or 0.0) + (since or 0.0), 9),
        arrived_g=round(arrived, 9) if arrived else None,
        book_g=book_g,
        found_g=found,
        found_at=found_at,
        missing_g=None if then_g is None or found is None else round(then_g - found, 9),
        made_at=made_at,
        counted_from=counted_from,
        strength=share,
        drift=drift,
        retest_on=service.retest_on(bottle, retest, None if made_at is None else made_at.date()),
        dropper_on=service.dropper_due(bottle, habits),
        hay=fold("\n".join(filter(None, sought))),
    )


@lru_cache(maxsize=256)
def _carrier_name(name: str, bench_name: str, synonyms: str) -> str:
    """What a carrier is called behind a strength; a shelf has few of them, on most of its bottles."""
    return Material(name=name, bench_name=bench_name, synonyms=json.loads(synonyms)).carrier_name


def _named(value: Version | Material) -> tuple[object, ...]:
    """What rows show of a version or a material."""
    if isinstance(value, Version):
        return value.code, value.name
    return value.name, value.bench_name, value.form, value.retest_months, value.synonyms, value.words, value.cas


class BottleRows:
    """The rows of one group of kinds, of those that are gone or of those that are not, read a hundred at a time; what a Change
    makes stale is read again at the next question."""

    def __init__(self, sql: Connection, path: Path, kinds: tuple[str, ...], *, gone: bool) -> None:
        self._sql, self._path = sql, path
        named = ", ".join(repr(kind) for kind in kinds)
        self._of_kind = f"kind IN ({named}) AND gone_on IS {'NOT ' if gone else ''}NULL"
        self._rows: dict[int, BottleRow] = {}
        self._is_sorted = True
        self._by_content: dict[tuple[str, int | None], list[BottleRow]] | None = None
        # keys to be read, None while not even these are known; moves whose bottles are to be read
        self._stale: set[int] | None = None
        self._corrected: set[int] = set()

    def forget(self, change: Change) -> None:
        """Notes what a change has made stale."""
        if change.touches(Habit):
            self._stale = None
        if self._stale is None:
            return
        # an edit of lines or of a price changes no row, nor does what is new: nothing stands on it yet
        renamed = {
            (type(old), old.key)
            for old, new in (change.pairs if self._rows and change.touches(Version, Material) else ())
            if isinstance(old, Version | Material) and (new is None or _named(old) != _named(new))
        }
        if renamed:
            self._stale.update(key for key, row in self._rows.items() if not renamed.isdisjoint(_stands_on(row.bottle)))
        if not change.touches(Bottle, Contents, Move):
            return
        for value in (value for pair in change.pairs for value in pair):
            if isinstance(value, Bottle):
                self._stale.add(value.key or 0)
            elif isinstance(value, Contents):
                self._stale.add(value.bottle)
            elif isinstance(value, Move):
                self._stale.update(key for key in (value.from_bottle, value.to_bottle) if key is not None)
                if value.replaces is not None:
                    # what it replaces may have filled or emptied other bottles
                    self._corrected.add(value.replaces)

    @property
    def is_near(self) -> bool:
        """Whether one piece of reading at most is left to do."""
        return len(self._to_read()) <= AT_ONCE

    def reading(self, habits: Callable[[], Mapping[str, float]]) -> Iterator[None]:
        """Reads what is stale in pieces of some ms; `habits` are asked for each, since one may be changed meanwhile."""
        keys = sorted(self._to_read())
        for start in range(0, len(keys), AT_ONCE):
            # somebody may have asked for all of them since
            some = [key for key in keys[start : start + AT_ONCE] if key in self._to_read()]
            if not some:
                continue
            named = ", ".join(map(str, some))
            fresh = read(self._sql, self._path, f"{self._of_kind} AND key IN ({named})", habits())
            self._by_content, self._is_sorted = None, False
            for key in some:
                self._rows.pop(key, None)
            self._rows |= fresh
            self._to_read().difference_update(some)
            yield

    def _to_read(self) -> set[int]:
        """The keys of what is stale."""
        if self._stale is None:
            of_kind = self._sql.execute(text(f"SELECT key FROM bottle WHERE {self._of_kind}")).scalars()
            # what was of this kind and is no more is among those that were read
            self._stale = {*of_kind, *self._rows}
            self._corrected.clear()
        if self._corrected:
            named = ", ".join(map(str, self._corrected))
            ends = self._sql.execute(text(f"SELECT from_bottle, to_bottle FROM move WHERE key IN ({named})"))
            self._stale.update(key for pair in ends for key in pair if key is not None)
            self._corrected.clear()
        return self._stale

    def rows(self, habits: Callable[[], Mapping[str, float]]) -> tuple[BottleRow, ...]:
        """Every bottle of the group, by key."""
        deque(self.reading(habits), maxlen=0)
        if not self._is_sorted:
            self._rows, self._is_sorted = dict(sorted(self._rows.items())), True
        return tuple(self._rows.values())

    def holding(
        self, materials: Iterable[int], versions: Iterable[int], habits: Callable[[], Mapping[str, float]]
    ) -> tuple[BottleRow, ...]:
        """The bottles of these materials and of these versions, by key: of the rows that are read, or read for themselves while
        those are not."""
        wanted, of = set(materials), set(versions)
        if not self.is_near:
            named = (f"{name} IN ({', '.join(map(str, sorted(keys)))})" for name, keys in (("material", wanted), ("version", of)))
            return tuple(read(self._sql, self._path, f"{self._of_kind} AND ({' OR '.join(named)})", habits()).values())
        rows = self.rows(habits)
        if self._by_content is None:
            self._by_content = {}
            for row in rows:
                for content in (("material", row.bottle.material), ("version", row.bottle.version)):
                    self._by_content.setdefault(content, []).append(row)
        contents = [*(("material", key) for key in wanted), *(("version", key) for key in of)]
        return tuple(sorted((row for one in contents for row in self._by_content.get(one, ())), key=lambda row: row.key))


def _stands_on(bottle: Bottle) -> set[tuple[type[Any], int | None]]:
    """What a bottle's row is named after."""
    return {(Material, bottle.material), (Material, bottle.carrier), (Version, bottle.version)}


def services(rows: Iterable[BottleRow], today: date) -> tuple[ServiceDue, ...]:
    """What is due or due soon on bottles that are not gone, soonest first. A day to be ready is told when it has come."""
    found = []
    for row in rows:
        bottle = row.bottle
        if bottle.gone_on is not None:
            continue
        for kind, on in (("re-test", row.retest_on), ("dropper cap", row.dropper_on)):
            state = service.state(on, today)
            if state and on is not None:
                found.append(ServiceDue(row.key, bottle.code, row.what, kind, on, state))
        if bottle.ready_on is not None and 0 <= (today - bottle.ready_on).days <= service.READY_SAID_DAYS:
            found.append(ServiceDue(row.key, bottle.code, row.what, "ready", bottle.ready_on, "due"))
    return tuple(sorted(found, key=lambda due: (due.on, due.code)))
