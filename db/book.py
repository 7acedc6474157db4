# SPDX-License-Identifier: MIT
"""The book: the only door to everything that is kept.

One `put` is one transaction, one undo step and one Change; a write that fails changes nothing, here or on disk. Records
(readings, moves, notes, contents, decisions) are only added to: a correction is a row that replaces.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Container, Iterable, Iterator
from dataclasses import replace
from datetime import datetime
from typing import Any, TypeVar

from sqlalchemy import select, update
from sqlalchemy.exc import IntegrityError

from db import freezing, makings, rules
from db import tables as t
from db.again import Again
from db.blind_tests import BlindTests
from db.bottles import Bottles
from db.errors import DamagedBook, OnlyALook
from db.file import BookFile
from db.kinds import KINDS, Kind
from db.material_rows import MaterialRow
from db.queries import Due, Origin, Queries, VersionHead
from db.seal import Seal
from db.search import Search
from db.sittings import Sittings
from db.store import keyed
from db.undo import Change, Steps
from db.uses import Uses
from db.weighings import Weighings
from db.whole import Clock, WholeBook
from db.words import Words
from perfumery import (
    Bottle,
    Making,
    Material,
    Move,
    Note,
    Project,
    Reading,
    Refused,
    Shelf,
    Strip,
    Value,
    Version,
    compose,
    ledger,
)
from perfumery.again import AgainToday
from perfumery.findings import refuse
from perfumery.values import describe

V = TypeVar("V")


class Book(WholeBook):
    """An open book. Make one with `create`, `open` or `look`; close it, or use it in a `with` block."""

    def __init__(self, held: BookFile, clock: Clock | None) -> None:
        super().__init__(held, clock)
        self._steps = Steps()
        self._listeners: list[Callable[[Change], None]] = []
        self.uid, self.name, self.currency, self._next_key, self._changes = self._header()
        # no value of a key from here on stands in the file
        self._written_key = self._next_key
        self._seal = Seal(self._store)
        self._queries = Queries(held.sql, self._store, self._seal)
        self._search = Search(held.sql, self._store, self._seal, self._queries.materials.find)
        self.bottles = Bottles(self, self._queries, self._store)
        self.weighings = Weighings(self, self._queries, self._store)
        self.sittings = Sittings(self, self._queries, self._store, self._seal, self._put)
        self.tests = BlindTests(self, self._store, self._put)
        self.words = Words(self, self._store, self._seal)
        self.uses = Uses(self, self._queries, self._store)
        self._again = Again(self, self._queries, self._store, self._seal)

    # reading ----------------------------------------------------------------------------------------------------------

    def get(self, kind: type[V], key: int | str) -> V | None:
        """The value of a kind by its key, or by its code (materials, balances and words: their name), or None.

        A code that stands in several projects gives the first made.
        """
        known = KINDS[kind]
        if isinstance(key, int):
            found: V | None = self._store.get(known, key)
            return None if found is None else self._seal.veil(found)
        if known.code is None:
            return None
        coded: V | None = next(self._store.select(known, known.table.c[known.code] == key, *known.in_force()), None)
        if coded is None or (self._seal.holds(coded) and not self._seal.can_ask(kind, (known.code,))):
            return None
        return self._seal.veil(coded)

    def many(self, kind: type[V], keys: Iterable[int]) -> dict[int, V]:
        """{key: value} of those keys of a kind that exist."""
        return {key: self._seal.veil(value) for key, value in self._store.many(KINDS[kind], keys).items()}

    def all(self, kind: type[V], /, **equals: Any) -> Iterator[V]:
        """The values of a kind in force, by key, those only whose fields equal what is given.

        Records that were replaced, and withdrawn readings and moves, are left out.
        """
        known = KINDS[kind]
        columns = known.table.c
        where = [columns[name].is_(None) if wanted is None else columns[name] == _stored(known, name, wanted)
                 for name, wanted in equals.items()]  # fmt: skip
        found = self._store.select(known, *where, *known.in_force())
        if not self._seal.can_ask(kind, equals):
            # under seal nobody is told what has this bottle or that strength
            found = (value for value in found if not self._seal.holds(value))
        return self._seal.veiled(found)

    def history(self, key: int) -> tuple[Any, ...]:
        """Every earlier wording of a record, newest first."""
        found = self._store.find(key)
        earlier: list[Any] = []
        while found is not None and getattr(found[1], "replaces", None) is not None:
            kind, value = found
            before = self._store.get(kind, value.replaces)
            earlier.append(before)
            found = (kind, before)
        return tuple(earlier)

    def shelf(self, *versions: Version) -> Shelf:
        """Just the materials, accords, bottles, prices and constituents that a version reaches, or several together."""
        return self._queries.shelf(*versions)

    def search(self, text: str, limit: int = 50) -> tuple[Any, ...]:
        """Values of any kind that hold the text: materials, versions, projects, bottles (their lots, suppliers and places too),
        strips, sittings, blind tests, decisions, weighings, balances, limits, then notes and readings newest first."""
        *_, found = self.searching(text, limit)
        return found

    def searching(
        self, text: str, limit: int = 50, kinds: Container[type[Any]] | None = None
    ) -> Iterator[tuple[Any, ...]]:
        """`search` in pieces of some ms, each with all that was found up to it; of some kinds alone where they are named."""
        return self._search.finding(text, limit, kinds)

    def material_rows(self) -> tuple[MaterialRow, ...]:
        """Every material as one light row, by name; the same rows until a material or word changes."""
        return self._queries.materials.rows()

    def bottle_codes(self) -> tuple[tuple[int, str], ...]:
        """(key, code) of every bottle there ever was, by key."""
        return self._queries.codes(KINDS[Bottle])

    def bottles_of(self, versions: Iterable[int]) -> dict[int, tuple[Bottle, ...]]:
        """{version: the bottles that hold it}, gone ones too; versions without any are left out."""
        return self._queries.of_versions(KINDS[Bottle], versions)

    def makings_of(self, versions: Iterable[int]) -> dict[int, tuple[Making, ...]]:
        """{version: what was made of it}; versions without any are left out."""
        return self._queries.of_versions(KINDS[Making], versions)

    def read_ahead(self) -> Iterator[None]:
        """Reads what long lists will ask for, the shelf and the sittings, in pieces of some ms: while nobody waits for it."""
        return self._queries.read_ahead()

    def find_materials(self, text: str) -> tuple[MaterialRow, ...]:
        """The materials in which every word of the text stands somewhere: name, synonym, CAS, form or smell word."""
        return self._queries.materials.find(text)

    def version_heads(self, project: int) -> tuple[VersionHead, ...]:
        """The versions of a project without their lines, by key."""
        return self._queries.version_heads(project)

    def to_make_up(self) -> tuple[VersionHead, ...]:
        """Versions that can be made up into a bottle: those used as accords first, then those that were bottled, then the
        newest, of which there are at most `MOST_OFFERED`."""
        return self._queries.to_make_up()

    def version_names(self) -> tuple[tuple[int, int, bool, str, str], ...]:
        """(key, project, whether retired, name, code) of every version of the book."""
        return self._queries.version_names()

    def trials(self, project: int) -> tuple[Making, ...]:
        """The trials of a project's versions, by key."""
        return self._queries.trials(project)

    def where_used(self, material: int) -> tuple[tuple[VersionHead, float], ...]:
        """(version, neat parts per thousand) of every version that holds a material over any route, newest first."""
        return tuple((use.head, use.per_thousand) for use in self.uses.of_material(material))

    def readings(self, strips: tuple[int, ...]) -> dict[int, tuple[Reading, ...]]:
        """{strip: its readings in force by time} in one query."""
        return self._queries.readings(strips)

    def strips(self, project: int) -> tuple[Strip, ...]:
        """The strips dipped from bottles of a project's versions, trials and benchmark, oldest first."""
        return self._queries.strips(project)

    def origin(self, bottle: int) -> Origin:
        """Where a bottle's liquid came from: its version, its trial and when both ages began."""
        return self._queries.origins((bottle,))[bottle]

    def origins(self, bottles: Iterable[int]) -> dict[int, Origin]:
        """{bottle: its origin} of many, in a few queries."""
        return self._queries.origins(bottles)

    def left(self, *bottles: int) -> dict[int, float]:
        """{bottle: g left}: the last found mass and the ledger since, or the book mass where it was never re-weighed.
        A bottle of which nobody knows, because nothing was ever weighed into it, is left out."""
        return self._queries.left(bottles)

    def contents(self, bottle: int, at: datetime | None = None) -> dict[int, float]:
        """{material: mass share} of what a bottle holds at an instant, now where none is given; empty where not known."""
        held = self._queries.contents(bottle, at)
        return {} if held is None else dict(held.shares)

    def book_mass(self, bottle: int, at: datetime | None = None) -> float:
        """g that the ledger says a bottle holds at an instant; 0 where it has no ledger."""
        return ledger.book_mass(bottle, self._queries.moves((bottle,)).get(bottle, ()), at)

    def drift(self, bottle: int, tolerance: float | None = None) -> ledger.Drift | None:
        """What the last re-weighing says of a bottle; see Bottles.drift."""
        return self.bottles.drift(bottle, tolerance)

    def as_weighed(self, trial: int | str) -> dict[int, float]:
        """{material: parts per thousand} of what a trial truly holds; see Weighings.as_weighed."""
        return self.weighings.as_weighed(trial)

    def again_today(self, version: int, amount_g: float | None = None) -> AgainToday:
        """Whether a version can be made again today as in its last trial, at its project's amount where none is given. Raises
        Refused `reference-missing`, `mass-not-positive`."""
        return self._again.today(version, amount_g)

    def last_strength(self, project: int, material: int) -> tuple[float, int | None] | None:
        """(strength, carrier) a material was last written with in a project, or None."""
        return self._queries.last_strength(project, material)

    def next_code(self, kind: type[Any], stem: str, /, **within: Any) -> str:
        """The next free code that begins with a stem: the highest number used, plus one, as wide as those before."""
        return self._queries.next_code(KINDS[kind], stem, within)

    def due(self, now: datetime) -> tuple[Due, ...]:
        """What strips have to be read now or next, soonest first."""
        return self._queries.due(now)

    # writing ----------------------------------------------------------------------------------------------------------

    @property
    def changes(self) -> int:
        """How many changes were made in it since it was begun."""
        return self._changes

    def new_key(self) -> int:
        """A key of the book's one counter, never given twice; for values in one put that refer to each other."""
        self._next_key += 1
        return self._next_key - 1

    def make_ready(self, value: Value) -> None:
        """Works out how a keyed value will be written, between the turns of a window that is about to put thousands: that much
        less is left for their one transaction. A value that is another one by then is worked out anew."""
        self._store.make_ready(value)

    def put(self, *values: Value, what: str = "edit") -> tuple[Any, ...]:
        """Adds or changes values in one transaction and returns them keyed. All or nothing.

        One undo step, unless a record or a logged value is among them. Raises Refused with every finding, or a BookError.
        """
        return self._put(*map(self._seal.unveil, values), what=what)

    def _put(self, *values: Value, what: str) -> tuple[Any, ...]:
        """As `put`, for values that are known unveiled."""
        rules.check_keys(values, self._next_key)
        own = self._store.homes_of_lines(values)
        now = self.now()
        made = tuple(keyed(rules.complete(value, now), self.new_key, own) for value in values)
        pairs = self._states(values, made)
        made = tuple(new for _, new in pairs)
        rules.check(pairs, self._store)
        change = Change(what, tuple((old, new) for old, new in pairs if old != new))
        if not change.pairs:
            return tuple(self._seal.veiled(made))
        extra = self._write(change, freeze=True)
        change = Change(what, _merged(change.pairs, extra))
        if all(KINDS[type(new)].editable for _, new in change.pairs):
            self._steps.add(change)
        else:
            # no step may lead back across what undo does not know
            self._steps.drop_touching(frozenset(new.key for _, new in change.pairs))
        self._tell(change)
        # a version frozen by this very put is returned as it now stands
        frozen = {new.key: new for _, new in extra}
        return tuple(self._seal.veil(frozen.get(value.key, value)) for value in made)

    def _states(self, asked: tuple[Value, ...], made: tuple[Any, ...]) -> list[tuple[Any, Any]]:
        """(as it stands or None, as wanted) of every value; what has no key, or one given since the last write, cannot stand."""
        keys: dict[type[Any], list[int]] = {}
        for given, value in zip(asked, made, strict=True):
            if given.key is not None and given.key < self._written_key:
                keys.setdefault(type(value), []).append(value.key)
        standing: dict[tuple[type[Any], int], Any] = {}
        for kind, wanted in keys.items():
            standing |= {(kind, key): value for key, value in self._store.many(KINDS[kind], wanted).items()}
        pairs = []
        for value in made:
            old = standing.get((type(value), value.key))
            new = rules.unfrozen(value) if old is None else value
            pairs.append((old, new))
            # the same value twice in one put: the second goes on from the first
            standing[type(value), value.key] = new
        return pairs

    def correct(self, key: int, /, what: str = "correction", **fields: Any) -> Any:
        """Corrects a record: adds a row that replaces it, dated now, and returns it. Contents get a new state instead. With a
        figure of a weighing that is done, what its vessel holds is told anew.

        Raises Refused `not-correctable` for a value that is not a record, `record` for one that was corrected already,
        `settled` for a re-weighing whose loss was settled.
        """
        found = self._store.find(key)
        if found is None:
            raise refuse("reference-missing", kind="record", key=key)
        kind, old = found
        if not kind.record:
            raise refuse("not-correctable", name=describe(old))
        fresh: dict[str, Any] = {"key": None}
        if kind.replaces:
            if any(True for _ in self._store.select(kind, kind.table.c.replaces == key)):
                raise refuse("record", name=describe(old))
            fresh["replaces"] = key
        else:
            fresh |= {"at": self.now(), "reason": "correction"}
        if isinstance(old, Move):
            self.bottles.check_correctable(old)
            if "mass_g" in fields:
                # the gross figure it was reckoned from does not belong to another mass; one that is given does
                fresh["read_g"] = None
        if isinstance(old, Reading):
            fresh["entered_at"] = self.now()
        elif isinstance(old, Note):
            fresh["at"] = self.now()
        new = replace(old, **(fresh | fields))
        also: tuple[Value, ...] = ()
        if isinstance(old, Move):
            new = replace(new, key=self.new_key())
            also = self.weighings.restated(old, new)
        return self.put(new, *also, what=what)[0]

    def retire(self, key: int) -> Any:
        """Takes a material, version, project or balance off the lists, or marks a bottle as gone; it stays in the book."""
        found = self._store.find(key)
        for field in ("retired_on", "gone_on"):
            if found is not None and hasattr(found[1], field):
                return self.put(replace(found[1], **{field: self.now().date()}), what=f"retire {describe(found[1])}")[0]
        raise refuse("reference-missing", kind="value that can be retired", key=key)

    @property
    def can_undo(self) -> str | None:
        """What undo would take back."""
        return self._steps.done[-1].what if self._steps.done else None

    @property
    def can_redo(self) -> str | None:
        """What redo would do again."""
        return self._steps.undone[-1].what if self._steps.undone else None

    def undo(self) -> str | None:
        """Takes the last step back on disk and returns its name; None where there is none.

        Raises Refused `undo-held` where later records refer to what the step made; that step is then let go, and with it
        every earlier one that holds the same values.
        """
        return self._travel(self._steps.done, self._steps.undone, lambda step: step.backwards())

    def redo(self) -> str | None:
        """Does the last undone step again and returns its name; None where there is none."""
        return self._travel(self._steps.undone, self._steps.done, lambda step: step)

    def _travel(self, here: list[Change], there: list[Change], way: Callable[[Change], Change]) -> str | None:
        if not here:
            return None
        step = here[-1]
        try:
            self._write(way(step), freeze=False)
        except Refused:
            self._steps.let_go(here)
            raise
        there.append(here.pop())
        self._tell(way(step))
        return step.what

    def on_change(self, listener: Callable[[Change], None]) -> None:
        """Calls a function with every Change after it stands on disk."""
        self._listeners.append(listener)

    def _write(self, change: Change, *, freeze: bool) -> tuple[tuple[Any, Any], ...]:
        if self.read_only:
            raise OnlyALook(self.path, "a look is for reading only")
        next_key = self._next_key
        extra: tuple[tuple[Version, Version], ...] = ()
        try:
            with self._file.write() as sql:
                self._store.apply(change.pairs)
                if freeze:
                    extra = freezing.freeze(self._store, sql, change)
                sql.execute(update(t.BOOK).values(next_key=next_key, changes=self._changes + 1))
        except IntegrityError as error:
            raise rules.refusal_of(str(error.orig), change, undoing=not freeze) from error
        except sqlite3.IntegrityError as error:
            # a reference is checked when the transaction is committed
            raise rules.refusal_of(str(error), change, undoing=not freeze) from error
        self._changes += 1
        self._written_key = next_key
        return extra

    def _tell(self, change: Change) -> None:
        self._queries.forget(change)
        self._seal.forget(change)
        told = self._seal.told(change)
        for listener in tuple(self._listeners):
            listener(told)

    # the ways of making that need more than one value -------------------------------------------------------------------

    def draft_of(self, version: int) -> Version:
        """A draft child of a version, not yet put: the next free code, the same lines, no reason yet."""
        parent = self._known(Version, version)
        project = self._known(Project, parent.project)
        return makings.draft_of(parent, self.next_code(Version, f"{project.code}-", project=parent.project))

    def start_trial(self, version: int, amount_g: float, what: str = "") -> tuple[Making, Bottle]:
        """A trial of a version made without weighing: a vial that holds what was intended. Freezes the version.

        Raises Refused `reason-missing` for a child version without its reason.
        """
        weighed = self._known(Version, version)
        composition = compose(weighed, self.shelf(weighed), amount_g)
        code, vial_code = self.next_code(Making, "T-"), self.next_code(Bottle, "V")
        made = makings.trial(weighed, composition, code, vial_code, self.now(), self.new_key)
        vial, making, _ = self.put(*made, what=what or f"trial {code} of {weighed.code}")
        return making, vial

    def smelling_dilution(self, bottle: int, strength: float, carrier: int) -> Bottle:
        """A smelling dilution of a trial vial made without weighing, at a strength of the vial's liquid in a carrier."""
        vial, _ = self._known(Bottle, bottle), self._known(Material, carrier)
        held = self._queries.contents(bottle, None)
        code = makings.smelling_code(vial, strength)
        if self.get(Bottle, code) is not None:
            code = self.next_code(Bottle, f"{code}-")
        made = makings.smelling_dilution(vial, held, strength, carrier, code, self.now(), self.new_key)
        diluted: Bottle = self.put(*made, what=f"smelling dilution {code}")[0]
        return diluted

    def _known(self, kind: type[V], key: int) -> V:
        """The value of a key that must stand. Raises Refused `reference-missing`."""
        value = self.get(kind, key)
        if value is None:
            raise refuse("reference-missing", kind=kind.__name__, key=key)
        return value

    def _header(self) -> tuple[str, str, str, int, int]:
        columns = t.BOOK.c
        query = select(columns.uid, columns.name, columns.currency, columns.next_key, columns.changes)
        row = self._file.sql.execute(query).first()
        if row is None:
            raise DamagedBook(self.path, "its head is missing")
        return row[0], row[1], row[2], row[3], row[4]


def _stored(kind: Kind, name: str, wanted: Any) -> Any:
    field = next(f for f in kind.fields if f.name == name) if name != "key" else None
    return wanted if field is None else field.write(wanted)[0]


def _merged(pairs: tuple[tuple[Any, Any], ...], extra: tuple[tuple[Any, Any], ...]) -> tuple[tuple[Any, Any], ...]:
    """The pairs, those of versions that were frozen on the way replaced or added."""
    if not extra:
        return pairs
    # of a value that stands twice, what was is told by the first
    first = {new.key: old for old, new in reversed(pairs) if new is not None}
    frozen = {new.key for _, new in extra}
    kept = tuple((old, new) for old, new in pairs if new is None or new.key not in frozen)
    return kept + tuple((first.get(new.key, old), new) for old, new in extra)


