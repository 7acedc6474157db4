# SPDX-License-Identifier: MIT
"""Questions a screen asks: each one or two queries, whatever the size of the book."""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import islice
from typing import Any

from sqlalchemy import ColumnElement, Connection, Integer, cast, exists, func, or_, select

from db import bottle_rows
from db import tables as t
from db.bottle_rows import STANDING, VIALS, BottleRow, BottleRows
from db.freezing import inside_keys
from db.kinds import KINDS, Kind
from db.material_rows import MaterialRows
from db.seal import Seal
from db.store import Store, chunks
from db.undo import Change
from perfumery import (
    Balance,
    Bottle,
    Constituent,
    Contents,
    Habit,
    Line,
    Making,
    Material,
    Move,
    Project,
    Reading,
    Shelf,
    Sitting,
    Strip,
    Version,
    ledger,
    neat_prices,
    next_due,
    service,
    weighing,
)
from perfumery.base import LONGEST_READING_S
from perfumery.dilution import Pour, mixed_u
from perfumery.instants import to_ms
from perfumery.smelling import DuePoint

# No text that begins with a stem comes behind the stem and this.
_LAST = chr(0x10FFFF)
# The first count of digits that SQLite does not reckon with any more.
_DIGITS = 19
# More versions than anybody looks through in a list.
MOST_OFFERED = 300
# Whose readings are kept in memory: more strips than any screen asks for.
MOST_KEPT = 2_000
# How wide the first number behind a stem is written, so that later codes sort beside it.
_WIDTHS = {"P": 2, "W": 2, "T-": 3, "V": 3}


@dataclass(frozen=True, slots=True)
class VersionHead:
    """A version without its lines."""

    key: int
    project: int
    code: str
    name: str
    parent: int | None
    takes_from: int | None
    reason: str
    made_at: datetime
    frozen_at: datetime | None
    starred: bool
    retired: bool


@dataclass(frozen=True, slots=True)
class Due:
    """A due point of a strip: what has to be read, and the hour it was or is due."""

    strip: Strip
    point: DuePoint
    at: datetime


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a bottle's liquid came from. `concentrate_at` is when its trial was finished, `alcohol_at` when that was thinned."""

    bottle: Bottle | None = None
    version: VersionHead | None = None
    making: Making | None = None
    concentrate_at: datetime | None = None
    alcohol_at: datetime | None = None


class Queries:
    """Reads only. What it keeps in memory, rows of materials and bottles, it forgets when a Change touches them."""

    def __init__(self, sql: Connection, store: Store, seal: Seal) -> None:
        self._sql = sql
        self._store = store
        self._seal = seal
        self.materials = MaterialRows(store)
        self._readings: dict[int, tuple[Reading, ...]] = {}
        self._sittings: dict[int, Sitting] | None = None
        self._sittings_read = 0
        self._habits: dict[str, float] | None = None
        self._drafts: dict[int, tuple[tuple[Version, float], ...]] = {}
        # of vials or of what stands, of those that are gone or of those that are not
        self._bottles = {
            (vials, gone): BottleRows(sql, store.path, VIALS if vials else STANDING, gone=gone)
            for vials in (False, True)
            for gone in (False, True)
        }

    def forget(self, change: Change) -> None:
        """Drops what a change has made stale."""
        self.materials.forget(change)
        if change.touches(Habit):
            self._habits = None
        if change.touches(Version, Project):
            self._drafts.clear()
        for value in (value for pair in (change.pairs if change.touches(Reading) else ()) for value in pair):
            if isinstance(value, Reading):
                self._readings.pop(value.strip, None)
        if change.touches(Sitting):
            # logged, so never taken back; what is being read begins again at its end
            self._sittings_read += 1
            if self._sittings is not None:
                self._sittings |= {new.key or 0: new for _, new in change.pairs if isinstance(new, Sitting)}
        for rows in self._bottles.values():
            rows.forget(change)

    # formulas ---------------------------------------------------------------------------------------------------------

    def shelf(self, *versions: Version) -> Shelf:
        """What versions reach; one that is not put yet is taken as it is handed in."""
        accord_keys: set[int] = set()
        for accord in {line.accord for version in versions for line in version.lines if line.accord is not None}:
            accord_keys.update(inside_keys(self._sql, accord))
        accords: dict[int, Version] = self._store.many(KINDS[Version], accord_keys)
        lines: list[Line] = [line for inner in (*versions, *accords.values()) for line in inner.lines]
        keys = {key for line in lines for key in (line.material, line.carrier) if key is not None}
        materials: dict[int, Material] = self._store.many(KINDS[Material], keys)
        bottles = tuple(self._store.select(KINDS[Bottle], t.BOTTLE.c.material.in_(sorted(keys)))) if keys else ()
        thinners = {b.carrier for b in bottles if b.carrier is not None and b.kind == "bought"} - keys
        priced = bottles
        if thinners:
            priced += tuple(self._store.select(KINDS[Bottle], t.BOTTLE.c.material.in_(sorted(thinners))))
        inside: dict[int, tuple[Constituent, ...]] = {}
        kind = KINDS[Constituent]
        for one in self._store.select(kind, kind.table.c.whole.in_(sorted(keys)), kind.table.c.retired_on.is_(None)):
            inside[one.whole] = (*inside.get(one.whole, ()), one)
        return Shelf(materials, accords, bottles, neat_prices(priced), inside)

    def version_heads(self, project: int) -> tuple[VersionHead, ...]:
        """Versions of a project without lines, by key."""
        return self._heads(t.VERSION.c.project == project)

    def heads(self, versions: Iterable[int]) -> dict[int, VersionHead]:
        """{version: it without lines} of those that exist."""
        return {head.key: head for some in chunks(versions) for head in self._heads(t.VERSION.c.key.in_(some))}

    def _heads(self, *where: ColumnElement[bool]) -> tuple[VersionHead, ...]:
        kind = KINDS[Version]
        rows = self._sql.execute(select(*kind.columns()).where(*where).order_by(kind.table.c.key))
        return tuple(head_of(self._store.load(kind, row, lines=())) for row in rows.all())

    def to_make_up(self) -> tuple[VersionHead, ...]:
        """See Book.to_make_up."""
        version = t.VERSION.c
        has_lines = exists(select(t.LINE.c.key).where(t.LINE.c.version == version.key))
        where = (version.retired_on.is_(None), has_lines)
        used = set(self._store.scalars(select(t.LINE.c.accord).where(t.LINE.c.accord.is_not(None)).distinct()))
        bottled = set(self._store.scalars(select(t.BOTTLE.c.version).where(t.BOTTLE.c.kind == "accord")))
        newest = self._store.scalars(select(version.key).where(*where).order_by(version.key.desc()).limit(MOST_OFFERED))
        first = self._heads(version.key.in_(used | bottled), *where)
        heads = {head.key: head for head in first} | self.heads(newest)
        return tuple(sorted(heads.values(), key=lambda head: (head.key not in used, head.key not in bottled, -head.key)))

    def version_names(self) -> tuple[tuple[int, int, bool, str, str], ...]:
        """See Book.version_names."""
        column = t.VERSION.c
        asked = select(column.key, column.project, column.retired_on.is_not(None), column.name, column.code)
        return tuple((key, project, bool(gone), name, code) for key, project, gone, name, code in self._sql.execute(asked))

    def trials(self, project: int) -> tuple[Making, ...]:
        """Trials of a project's versions, by key."""
        own = select(t.VERSION.c.key).where(t.VERSION.c.project == project)
        return tuple(self._store.select(KINDS[Making], t.MAKING.c.version.in_(own), t.MAKING.c.kind == "trial"))

    def last_strength(self, project: int, material: int) -> tuple[float, int | None] | None:
        """(strength, carrier) of the newest line of a material in a project."""
        row = self._sql.execute(
            select(t.LINE.c.strength, t.LINE.c.carrier)
            .join(t.VERSION, t.VERSION.c.key == t.LINE.c.version)
            .where(t.VERSION.c.project == project, t.LINE.c.material == material)
            .order_by(t.LINE.c.key.desc())
            .limit(1)
        ).first()
        return None if row is None else (row[0], row[1])

    def next_code(self, kind: Kind, stem: str, within: dict[str, Any]) -> str:
        """The stem with the number after the highest in use."""
        assert kind.code is not None
        column = kind.table.c[kind.code]
        plain = re.sub(r"([*?[])", r"[\1]", stem)
        numbered = plain + "[0-9]"
        # the range is what the index is read by; a number of more digits than SQLite counts in is none
        endless = numbered + "[0-9]" * (_DIGITS - 1) + "*"
        where = [column >= stem, column < stem + _LAST, column.op("GLOB")(numbered + "*"), column.op("NOT GLOB")(endless)]
        where += [kind.table.c[name] == wanted for name, wanted in within.items()]
        # SQLite takes the code from the row of the highest
        highest = select(func.max(cast(func.substr(column, len(stem) + 1), Integer)), column).where(*where)
        number, code = self._sql.execute(highest).one()
        if code is None:
            return f"{stem}{1:0{_WIDTHS.get(stem, 1)}d}"
        width = len(code) - len(stem) - len(code[len(stem) :].lstrip("0123456789"))
        # a lower number may be written wider
        padded = [*where, column >= f"{stem}0", column < f"{stem}1", column.op("NOT GLOB")(f"{plain}*[^0-9]*")]
        width = max(width, (self._store.scalar(select(func.max(func.length(column))).where(*padded)) or 0) - len(stem))
        return f"{stem}{number + 1:0{width}d}"

    def read_ahead(self) -> Iterator[None]:
        """Reads what long lists will ask for, in pieces of some ms."""
        for vials in (False, True):
            yield from self.reading_bottles(vials=vials, gone=False)
        if self._sittings is None:
            yield from self._reading_sittings()

    # bottles ----------------------------------------------------------------------------------------------------------

    def codes(self, kind: Kind) -> tuple[tuple[int, str], ...]:
        """(key, code) of every value of a kind, by key."""
        assert kind.code is not None
        asked = select(kind.table.c.key, kind.table.c[kind.code]).order_by(kind.table.c.key)
        return tuple(map(tuple, self._sql.execute(asked).all()))

    def of_versions(self, kind: Kind, versions: Iterable[int]) -> dict[int, tuple[Any, ...]]:
        """{version: the values of a kind that name it, by key}; versions without any are left out."""
        found: dict[int, tuple[Any, ...]] = {}
        for some in chunks(versions):
            for value in self._store.select(kind, kind.table.c.version.in_(some)):
                found[value.version] = (*found.get(value.version, ()), value)
        return found

    def last_bottle(self, kinds: Iterable[str]) -> Bottle | None:
        """The newest bottle of some kinds."""
        newest = select(func.max(t.BOTTLE.c.key)).where(t.BOTTLE.c.kind.in_(sorted(kinds)))
        found: Bottle | None = self._store.get(KINDS[Bottle], self._store.scalar(newest) or 0)
        return found

    def origins(self, bottles: Iterable[int]) -> dict[int, Origin]:
        """{bottle: where its liquid came from}, in a few questions however many: follows a smelling dilution to its vial, a
        vial to its trial."""
        keys = set(bottles)
        held: dict[int, Bottle] = self._store.many(KINDS[Bottle], keys)
        heads = self.heads(bottle.version for bottle in held.values() if bottle.version is not None)
        makings = self._makings_into(keys)
        thinned = {making.key: key for key, making in makings.items() if making.kind == "smelling" and making.key is not None}
        vials = self._vials_poured(thinned)
        trials = self._makings_into(vials.values())
        found = {}
        for key in keys:
            bottle, making = held.get(key), makings.get(key)
            version = heads.get(bottle.version) if bottle is not None and bottle.version is not None else None
            if making is None or making.key not in thinned:
                found[key] = Origin(bottle, version, making, _ended(making), None)
            else:
                trial = trials.get(vials.get(making.key or 0, 0))
                found[key] = Origin(bottle, version, trial or making, _ended(trial), _ended(making))
        return found

    def _makings_into(self, bottles: Iterable[int]) -> dict[int, Making]:
        """{bottle: what filled it last}; a top-up makes nothing younger."""
        found: dict[int, Making] = {}
        for some in chunks(bottles):
            where = (t.MAKING.c.into_bottle.in_(some), t.MAKING.c.kind != "top-up")
            found |= {making.into_bottle: making for making in self._store.select(KINDS[Making], *where)}
        return found

    def _vials_poured(self, makings: Iterable[int]) -> dict[int, int]:
        """{making: the first bottle of a version that was poured in it}."""
        found: dict[int, int] = {}
        for some in chunks(makings):
            poured = (
                select(t.MOVE.c.making, t.MOVE.c.from_bottle)
                .join(t.BOTTLE, t.BOTTLE.c.key == t.MOVE.c.from_bottle)
                .where(t.MOVE.c.making.in_(some), t.BOTTLE.c.version.is_not(None))
                .order_by(t.MOVE.c.key.desc())
            )
            found |= {row[0]: row[1] for row in self._sql.execute(poured)}
        return found

    def moves(self, bottles: Iterable[int]) -> dict[int, list[Move]]:
        """{bottle: moves in force that filled, emptied or re-weighed it, by time}; bottles without any are left out."""
        return self._store.moves(bottles)

    def habits(self) -> dict[str, float]:
        """How this perfumer works: every habit, with the own figure where there is one."""
        if self._habits is None:
            self._habits = service.habits(self._store.select(KINDS[Habit]))
        return dict(self._habits)

    def bottle_rows(self, *, vials: bool, gone: bool) -> tuple[BottleRow, ...]:
        """See Bottles.rows."""
        rows = self._bottles[vials, False].rows(self.habits)
        if gone:
            rows = tuple(sorted((*rows, *self._bottles[vials, True].rows(self.habits)), key=lambda row: row.key))
        return rows

    def bottle_rows_holding(self, materials: Iterable[int], versions: Iterable[int]) -> tuple[BottleRow, ...]:
        """See Bottles.holding."""
        return self._bottles[False, False].holding(materials, versions, self.habits)

    def reading_bottles(self, *, vials: bool, gone: bool) -> Iterator[None]:
        """Reads what `bottle_rows` answers with, in pieces of some ms."""
        yield from self._bottles[vials, False].reading(self.habits)
        if gone:
            yield from self._bottles[vials, True].reading(self.habits)

    def bottle_rows_near(self) -> bool:
        """Whether what stands on the shelf is read, or nearly."""
        return self._bottles[False, False].is_near

    def bottle_row(self, bottle: int, habits: Mapping[str, float]) -> BottleRow | None:
        """One bottle as a list shows it, read anew."""
        return bottle_rows.read(self._sql, self._store.path, f"key = {int(bottle)}", habits).get(bottle)

    def bottle_rows_of(self, bottles: Iterable[int]) -> dict[int, BottleRow]:
        """{bottle: it as a list shows it} in one query, read anew."""
        keys = ", ".join(str(int(key)) for key in bottles)
        return bottle_rows.read(self._sql, self._store.path, f"key IN ({keys})", self.habits()) if keys else {}

    def drafts(self, at_most: int) -> tuple[tuple[Version, float], ...]:
        """(draft, its project's amount in g) of the newest versions that are still to be weighed."""
        if at_most not in self._drafts:
            self._drafts[at_most] = self._drafts_of(at_most)
        return self._drafts[at_most]

    def _drafts_of(self, at_most: int) -> tuple[tuple[Version, float], ...]:
        kind, project = KINDS[Version], t.PROJECT.c
        open_ = select(project.key).where(project.retired_on.is_(None))
        where = (kind.table.c.frozen_at.is_(None), kind.table.c.retired_on.is_(None), kind.table.c.project.in_(open_))
        newest = select(kind.table.c.key).where(*where).order_by(kind.table.c.key.desc()).limit(at_most)
        drafts = self._store.many(kind, self._sql.execute(newest).scalars())
        own = project.key.in_({version.project for version in drafts.values()})
        amounts = {row[0]: row[1] for row in self._sql.execute(select(project.key, project.amount_g).where(own))}
        return tuple((version, amounts[version.project]) for version in drafts.values())

    def accords_of(self, versions: Iterable[Version]) -> dict[int, Version]:
        """{key: accord} of everything that these versions hold, at any depth: one question a level."""
        found: dict[int, Version] = {}
        wanted = {line.accord for version in versions for line in version.lines if line.accord is not None}
        while wanted:
            level = self._store.many(KINDS[Version], wanted)
            found |= level
            wanted = {line.accord for v in level.values() for line in v.lines if line.accord is not None} - found.keys()
        return found

    def prices(self, materials: Iterable[int]) -> dict[int, float]:
        """{material: price per g of the neat material} as far as it is known; see `neat_prices`."""
        keys = sorted(set(materials))
        own = list(self._store.select(KINDS[Bottle], t.BOTTLE.c.material.in_(keys), t.BOTTLE.c.price_per_g.is_not(None)))
        thinners = {b.carrier for b in own if b.carrier is not None} - set(keys)
        if thinners:
            own += self._store.select(KINDS[Bottle], t.BOTTLE.c.material.in_(sorted(thinners)))
        return neat_prices(own)

    def shares_u(self, held: Contents) -> dict[int, float] | None:
        """{material: standard uncertainty of its share} of contents that were weighed together; none for what was bought, and
        None where a balance is not known, or the contents were changed since by what no balance showed."""
        if held.reason == "bought":
            return {}
        making = self._makings_into((held.bottle,)).get(held.bottle) if held.reason == "made" else None
        if making is None:
            return None
        where = (t.MOVE.c.making == making.key, t.MOVE.c.kind == "pour", *KINDS[Move].in_force())
        moves = list(self._store.select(KINDS[Move], *where))
        balance = None if making.balance is None else self._store.get(KINDS[Balance], making.balance)
        states = self._store.many(KINDS[Contents], [m.contents for m in moves if m.contents is not None])
        pours = []
        for move in moves:
            state = states.get(move.contents)
            u_g = weighing.net_u(balance) if move.u_g is None and balance is not None else move.u_g
            inside = None if state is None else self.shares_u(state)
            if state is None or inside is None or u_g is None or move.estimated:
                return None
            pours.append(Pour(state.shares, move.mass_g, u_g, inside))
        return mixed_u(pours) if pours and all(pour.mass_g > 0 for pour in pours) else None

    def left(self, bottles: Iterable[int]) -> dict[int, float]:
        """{bottle: g}; see Book.left."""
        return {key: ledger.left(key, own) for key, own in self.moves(bottles).items() if ledger.is_known(key, own)}

    def contents(self, bottle: int, at: datetime | None) -> Contents | None:
        """What a bottle holds at an instant: the newest state up to then; None where none is known."""
        column = t.CONTENTS.c
        where = [column.bottle == bottle] + ([] if at is None else [column.at <= to_ms(at)[0]])
        return max(self._store.select(KINDS[Contents], *where), key=lambda c: (c.at, c.key), default=None)

    # strips -----------------------------------------------------------------------------------------------------------

    def strips(self, project: int) -> tuple[Strip, ...]:
        """Strips from the bottles of a project's versions and its benchmark, oldest first."""
        benchmark = select(t.PROJECT.c.benchmark).where(t.PROJECT.c.key == project).scalar_subquery()
        own = select(t.BOTTLE.c.key).join(t.VERSION, t.VERSION.c.key == t.BOTTLE.c.version).where(
            t.VERSION.c.project == project
        )
        where = or_(t.STRIP.c.bottle.in_(own), t.STRIP.c.bottle == benchmark)
        return tuple(sorted(self._seal.veiled(self._store.select(KINDS[Strip], where)), key=lambda s: (s.dipped_at, s.key)))

    def sittings(self) -> tuple[Sitting, ...]:
        """Every sitting, the newest first."""
        if self._sittings is None:
            deque(self._reading_sittings(), maxlen=0)
        assert self._sittings is not None
        return tuple(sorted(self._sittings.values(), key=lambda one: (one.at, one.key), reverse=True))

    def last_sitting(self) -> Sitting | None:
        """The newest sitting."""
        newest = select(t.SITTING.c.key).order_by(t.SITTING.c.at.desc(), t.SITTING.c.key.desc()).limit(1)
        return next(iter(self._store.many(KINDS[Sitting], self._store.scalars(newest)).values()), None)

    def _reading_sittings(self) -> Iterator[None]:
        while self._sittings is None:
            found: dict[int, Sitting] = {}
            before = self._sittings_read
            for some in chunks(self._store.scalars(select(t.SITTING.c.key))):
                found |= self._store.many(KINDS[Sitting], some)
                yield
            if self._sittings is None and before == self._sittings_read:
                self._sittings = found

    def readings(self, strips: Iterable[int]) -> dict[int, tuple[Reading, ...]]:
        """{strip: readings in force by time}."""
        wanted = tuple(strips)
        if len(self._readings) > MOST_KEPT:
            # those read last may belong to what is being read piece by piece
            self._readings = dict(islice(self._readings.items(), MOST_KEPT // 2, None))
        read: dict[int, list[Reading]] = {key: [] for key in wanted if key not in self._readings}
        for some in chunks(read):
            for reading in self._store.select(KINDS[Reading], t.READING.c.strip.in_(some), *KINDS[Reading].in_force()):
                read[reading.strip].append(reading)
        self._readings |= {key: tuple(sorted(own, key=lambda r: (r.at, r.key))) for key, own in read.items()}
        return {key: self._readings[key] for key in wanted}

    def due(self, now: datetime) -> tuple[Due, ...]:
        """The next due point of every open strip that has one."""
        since = to_ms(now - timedelta(seconds=LONGEST_READING_S))[0]
        # asked for by its own index, that of what is not closed
        running_keys = select(t.STRIP.c.key).where(t.STRIP.c.closed_at.is_(None), t.STRIP.c.dipped_at >= since)
        running = self._store.select(KINDS[Strip], t.STRIP.c.key.in_(running_keys))
        opened = list(self._seal.veiled(running))
        readings = self.readings(strip.key for strip in opened)
        found = []
        for strip in opened:
            point = next_due(strip, readings[strip.key], now)
            if point is not None and strip.dipped_at <= now:
                found.append(Due(strip, point, strip.dipped_at + timedelta(seconds=point.due_s)))
        return tuple(sorted(found, key=lambda due: (due.at, due.strip.key)))


def _ended(making: Making | None) -> datetime | None:
    return None if making is None else making.finished_at or making.started_at


def head_of(version: Version) -> VersionHead:
    """A version without its lines."""
    assert version.key is not None and version.made_at is not None
    return VersionHead(
        key=version.key, project=version.project, code=version.code, name=version.name, parent=version.parent,
        takes_from=version.takes_from, reason=version.reason, made_at=version.made_at, frozen_at=version.frozen_at,
        starred=version.starred, retired=version.retired_on is not None,
    )


