# SPDX-License-Identifier: MIT
"""Where a material or an accord was used, and what happened when it was moved. `Book.uses` is the door."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sqlalchemy import select

from db import tables as t
from db.kinds import KINDS
from db.queries import VersionHead, head_of
from perfumery import Version, accord_within
from perfumery.compose import compose
from perfumery.moved import Moved, moved
from perfumery.side_by_side import per_thousand

if TYPE_CHECKING:
    from db.book import Book
    from db.queries import Queries
    from db.store import Store


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
        return tuple(Use(head, share) for head, share in self._queries.where_used(material))

    def of_accord(self, version: int) -> tuple[Use, ...]:
        """Every version that holds an accord, in whatever version of it, newest first."""
        family = {head.key for head in self.family(version)}
        users = select(t.LINE.c.version).where(t.LINE.c.accord.in_(sorted(family))).cte("users", recursive=True)
        users = users.union(select(t.LINE.c.version).join(users, t.LINE.c.accord == users.c.version))
        keys = [row[0] for row in self._store.rows(select(users.c.version))]
        versions: dict[int, Version] = self._store.many(KINDS[Version], keys)
        accords = self._queries.accords_of(versions.values())
        found = []
        for one in versions.values():
            held = next((line.accord for line in one.lines if line.accord in family), None)
            found.append(Use(head_of(one), accord_within(family, one, accords) * 1000, held))
        return tuple(sorted(found, key=lambda use: (use.head.made_at, use.head.key), reverse=True))

    def holders(self, version: int) -> tuple[str, ...]:
        """The codes of the versions that hold just this version as an accord, newest first; drafts are marked."""
        own = select(t.LINE.c.version).where(t.LINE.c.accord == version)
        columns = t.VERSION.c
        newest = (columns.made_at.desc(), columns.key.desc())
        found = select(columns.code, columns.frozen_at).where(columns.key.in_(own)).order_by(*newest)
        return tuple(code if frozen_at is not None else f"{code} (draft)" for code, frozen_at in self._store.rows(found))

    def accords(self) -> tuple[VersionHead, ...]:
        """The newest version of every accord that some version holds."""
        held = select(t.LINE.c.accord).where(t.LINE.c.accord.is_not(None)).distinct()
        keys = [row[0] for row in self._store.rows(held)]
        families = {tuple(head.key for head in family): family for key in keys if (family := self.family(key))}
        return tuple(family[-1] for family in families.values())

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
        after: set[int] = {accord}
        newest = None
        for head in self.family(accord):
            if head.parent in after:
                after.add(head.key)
                newest = newest if head.retired else head
        return newest

    def steps(self, uses: Iterable[Use]) -> tuple[UseStep, ...]:
        """Every step from a version to one that came from it in which the share of what is used changed, newest first."""
        shares = {use.head.key: use.per_thousand for use in uses}
        projects = {use.head.project for use in uses}
        found = []
        for project in sorted(projects):
            heads = {head.key: head for head in self._queries.version_heads(project)}
            for head in heads.values():
                if head.parent not in heads:
                    continue
                before, after = shares.get(head.parent, 0.0), shares.get(head.key, 0.0)
                if abs(after - before) > 1e-9 * max(before, after, 1.0):
                    found.append(UseStep(heads[head.parent], head, before, after))
        return tuple(sorted(found, key=lambda step: (step.child.made_at, step.child.key), reverse=True))

    def moved(self, step: UseStep, material: int | None = None) -> Moved:
        """What else moved in a step, all materials for an accord. Raises what `compose` raises."""
        versions = self._store.many(KINDS[Version], (step.parent.key, step.child.key))
        shelf = self._queries.shelf(*versions.values())
        first, second = (per_thousand(compose(versions[head.key], shelf)) for head in (step.parent, step.child))
        return moved(first, second, step.before, step.after, material)
