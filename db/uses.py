# SPDX-License-Identifier: MIT
"""Where a material or an accord was used, and what happened when it was moved. `Book.uses` is the door.

A carrier may stand in every version of a book, so what is long is worked out in pieces of some ms, the newest first.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass
from itertools import chain, islice
from typing import TYPE_CHECKING

from sqlalchemy import ColumnElement, case, func, or_, select

from db import tables as t
from db.kinds import KINDS, LINE
from db.queries import VersionHead, head_of
from perfumery import Line, Material, Shelf, Version, accord_within, share_within
from perfumery.compose import compose
from perfumery.moved import Moved, moved
from perfumery.side_by_side import per_thousand

if TYPE_CHECKING:
    from db.book import Book
    from db.queries import Queries
    from db.store import Store

# So many lines are looked at in one piece, so many versions looked up, so many worked out.
_LINES, _LOOKED_UP, _AT_ONCE = 8_000, 900, 25


@dataclass(frozen=True, slots=True)
class Use:
    """A version that holds something over any route, parts per thousand of it; of an accord, `held` is which version of it."""

    head: VersionHead
    per_thousand: float
    held: int | None = None


@dataclass(frozen=True, slots=True)
class UseStep:
    """From a version to one that came from it, with another share of the thing: parts per thousand, 0 where it lacks it."""

    parent: VersionHead
    child: VersionHead
    before: float
    after: float


class Uses:
    """The uses of one book."""

    def __init__(self, book: Book, queries: Queries, store: Store) -> None:
        self._book, self._queries, self._store = book, queries, store

    def of_material(self, material: int) -> tuple[Use, ...]:
        """Every version that holds a material, newest first."""
        return tuple(chain.from_iterable(some for some, _ in self.finding_material(material)))

    def of_accord(self, version: int) -> tuple[Use, ...]:
        """Every version that holds an accord, in whatever version of it, newest first."""
        return tuple(chain.from_iterable(some for some, _ in self.finding_accord(version)))

    def finding_material(self, material: int, most: int | None = None) -> Iterator[tuple[tuple[Use, ...], int | None]]:
        """The versions that hold a material, all or the newest ones, in pieces of some ms: each with those that it adds, newest
        first, and how many hold it, None while that is not known."""
        named = t.LINE.c.material == material, t.LINE.c.carrier == material
        apart = or_(t.LINE.c.accord.is_not(None), *named)

        def use(one: Version, accords: dict[int, Version]) -> Use:
            return Use(head_of(one), share_within(material, one, accords) * 1000)

        return self._finding(named, apart, use, most)

    def finding_accord(self, version: int) -> Iterator[tuple[tuple[Use, ...], int | None]]:
        """The versions that hold an accord, in whatever version of it, as `finding_material` finds them."""
        family = {head.key for head in self.family(version)}

        def use(one: Version, accords: dict[int, Version]) -> Use:
            held = next((line.accord for line in one.lines if line.accord in family), None)
            return Use(head_of(one), accord_within(family, one, accords) * 1000, held)

        named = tuple(t.LINE.c.accord == key for key in sorted(family))
        return self._finding(named, t.LINE.c.accord.is_not(None), use, None)

    def _finding(
        self, named: Iterable[ColumnElement[bool]], apart: ColumnElement[bool],
        use: Callable[[Version, dict[int, Version]], Use], most: int | None,
    ) -> Iterator[tuple[tuple[Use, ...], int | None]]:  # fmt: skip
        """The versions of which any line is so named; `apart` are the lines that `use` needs to know one by one."""
        made: dict[int, int] = {}
        for _ in self._holding(named, made):
            yield (), None
        keys = sorted(made, key=lambda key: (made[key], key), reverse=True)
        yield (), len(keys)
        wanted = keys[:most]
        for start in range(0, len(wanted), _AT_ONCE):
            known = self._told(wanted[start : start + _AT_ONCE], made, apart)
            own = (known[key] for key in wanted[start : start + _AT_ONCE] if key in known)
            yield tuple(use(one, known) for one in own), len(keys)

    def _holding(self, named: Iterable[ColumnElement[bool]], made: dict[int, int]) -> Iterator[None]:
        """Fills in {version: when it was made} of those that have such a line or hold one that does."""
        line = t.LINE.c
        waiting: set[int] = set()
        for one in named:
            last: int | None = 0
            while last is not None:
                some = select(line.key, line.version).where(one, line.key > last).order_by(line.key).limit(_LINES).subquery()
                rows = self._store.rows(select(func.max(some.c.key), some.c.version).group_by(some.c.version))
                waiting |= {version for _, version in rows}
                last = max((key for key, _ in rows), default=None)
                yield
        while waiting:
            keys = list(islice(waiting, _LOOKED_UP))
            own = select(t.VERSION.c.key, t.VERSION.c.made_at).where(t.VERSION.c.key.in_(keys))
            made |= dict(iter(self._store.rows(own)))
            waiting.difference_update(keys)
            around = self._store.scalars(select(line.version).where(line.accord.in_(keys)).distinct())
            waiting.update(key for key in around if key not in made)
            yield

    def _told(self, keys: Iterable[int], holders: Collection[int], apart: ColumnElement[bool]) -> dict[int, Version]:
        """These versions and every accord in them, with the lines that count one by one and all others as one: thousands of
        lines were long to make. An accord that is no holder counts as nothing and has no lines."""
        found: dict[int, Version] = {}
        wanted = set(keys)
        while wanted:
            level = self._level({key for key in wanted if key in holders}, apart)
            found |= level | {key: Version(project=0, code="-", key=key) for key in wanted if key not in holders}
            wanted = {line.accord for one in level.values() for line in one.lines if line.accord is not None} - found.keys()
        return found

    def _level(self, keys: set[int], apart: ColumnElement[bool]) -> dict[int, Version]:
        kind, line = KINDS[Version], t.LINE.c
        summed = [func.sum(line.parts) if column is line.parts else column for column in LINE.columns()]
        # the rest is told by its first line: SQLite takes the other columns from the row of the lowest
        rows = select(line.version, func.min(line.position), *summed).where(line.version.in_(keys))
        rows = rows.group_by(line.version, line.fill_up, case((apart, line.key), else_=0)).order_by(func.min(line.position))
        lines: dict[int, list[Line]] = {}
        for version, _, *row in self._store.rows(rows):
            lines.setdefault(version, []).append(self._store.load(LINE, row))
        heads = self._store.rows(select(*kind.columns()).where(kind.table.c.key.in_(keys)))
        return {row[0]: self._store.load(kind, row, lines=tuple(lines.get(row[0], ()))) for row in heads}

    def holders(self, version: int) -> tuple[str, ...]:
        """The codes of the versions that hold just this version as an accord, newest first; drafts are marked."""
        own = select(t.LINE.c.version).where(t.LINE.c.accord == version)
        columns = t.VERSION.c
        newest = (columns.made_at.desc(), columns.key.desc())
        found = select(columns.code, columns.frozen_at).where(columns.key.in_(own)).order_by(*newest)
        return tuple(code if frozen_at is not None else f"{code} (draft)" for code, frozen_at in self._store.rows(found))

    def accords(self) -> tuple[VersionHead, ...]:
        """The newest version of every accord that some version holds."""
        known: set[int] = set()
        found = []
        for key in self._store.scalars(select(t.LINE.c.accord).where(t.LINE.c.accord.is_not(None)).distinct()):
            if key not in known:
                family = self.family(key)
                known.update(head.key for head in family)
                found.append(family[-1])
        return tuple(found)

    def family(self, version: int) -> tuple[VersionHead, ...]:
        """All versions of one accord: those it came from and all that came from those, oldest first."""
        standing = self._book.get(Version, version)
        if standing is None:
            return ()
        heads = {head.key: head for head in self._queries.version_heads(standing.project)}
        root = heads[version]
        while root.parent in heads:
            root = heads[root.parent]
        found, waiting = [root], [root.key]
        while waiting:
            key = waiting.pop(0)
            born = [head for head in heads.values() if head.parent == key]
            found += born
            waiting += [head.key for head in born]
        return tuple(sorted(found, key=lambda head: (head.made_at, head.key)))

    def newer(self, accord: int) -> VersionHead | None:
        """The newest version that came from an accord version, over whatever steps; None where there is none."""
        return _newer(accord, self.family(accord))

    def newer_each(self, accord: int) -> dict[int, VersionHead | None]:
        """{version: the newest that came from it, if any} of all versions of an accord."""
        family = self.family(accord)
        return {head.key: _newer(head.key, family) for head in family}

    def steps(self, uses: Collection[Use]) -> tuple[UseStep, ...]:
        """Every step from a version to one that came from it in which the share of what is used changed, newest first."""
        *_, found = self.finding_steps(uses)
        return found

    def finding_steps(self, uses: Collection[Use]) -> Iterator[tuple[UseStep, ...]]:
        """The steps in pieces of some ms: nothing but for the last, which is all of them."""
        found: list[UseStep] = []
        shares = {use.head.key: use.per_thousand for use in uses}
        for project in sorted({use.head.project for use in uses}):
            heads = {head.key: head for head in self._queries.version_heads(project)}
            for head in heads.values():
                if head.parent not in heads:
                    continue
                before, after = shares.get(head.parent, 0.0), shares.get(head.key, 0.0)
                if abs(after - before) > 1e-9 * max(before, after, 1.0):
                    found.append(UseStep(heads[head.parent], head, before, after))
            yield ()
        yield tuple(sorted(found, key=lambda step: (step.child.made_at.timestamp(), step.child.key), reverse=True))

    def moved(self, step: UseStep, material: int | None = None) -> Moved:
        """What else moved in a step, all materials for an accord. Raises what `compose` raises."""
        versions = self._store.many(KINDS[Version], (step.parent.key, step.child.key))
        accords = self._queries.accords_of(versions.values())
        lines = [line for one in (*versions.values(), *accords.values()) for line in one.lines]
        keys = {key for line in lines for key in (line.material, line.carrier) if key is not None}
        # no price and no constituent is asked for
        shelf = Shelf(self._store.many(KINDS[Material], keys), accords)
        first, second = (per_thousand(compose(versions[head.key], shelf)) for head in (step.parent, step.child))
        return moved(first, second, step.before, step.after, material)


def _newer(accord: int, family: Iterable[VersionHead]) -> VersionHead | None:
    """The newest of a family, oldest first, that came from one of it."""
    after: set[int | None] = {accord}
    newest = None
    for head in family:
        if head.parent in after:
            after.add(head.key)
            newest = newest if head.retired else head
    return newest
